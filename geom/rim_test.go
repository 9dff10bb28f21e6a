package geom_test

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"rimcast/geom"
)

type object = map[string]any

// outline is a GeoJSON feature.
func outline(id string, g orb.Geometry, props object) object {
	return object{"type": "Feature", "id": id, "properties": props,
		"geometry": object{"type": g.GeoJSONType(), "coordinates": g}}
}

// overlay writes features as this program's overlay does.
func overlay(b geom.Body, features ...object) string {
	fc := object{"type": "FeatureCollection", "features": features, geom.ReferenceMember: geom.NewReferenceBody(b)}
	if m, ok := geom.NewCRSMember(b); ok {
		fc["crs"] = m
	}
	text, err := json.Marshal(fc)
	if err != nil {
		panic(err)
	}
	return string(text)
}

func rimText(b geom.Body, mp orb.MultiPolygon, props object) string {
	return overlay(b, outline("rim", mp, props))
}

// TestRimRoundTrip: a circle drawn anywhere, split and capped, and read back is
// the circle, to what its chords cut off.
func TestRimRoundTrip(t *testing.T) {
	for _, b := range testBodies {
		t.Run(b.Name, rapid.MakeCheck(func(t *rapid.T) {
			f := geom.NewFrame(b, places(t, "centre"))
			r := math.Pow(10, rapid.Float64Range(2, math.Log10(b.SemiMajor/5)).Draw(t, "log10 radius"))
			mp := geom.CircleOutline(f, r, r*1e-4)
			cat, err := read(rimText(b, mp, nil), geom.CatalogueOptions{Body: b, FitEllipse: true})
			if err != nil {
				t.Fatal(err)
			}
			c := cat.Craters[0]
			// On an ellipsoid the equal-area plane is that of the mean sphere:
			// good to the flattening times the square of the size.
			tol := 2e-4*r + b.Flattening()*r*math.Pow(r/b.SemiMajor, 2)
			if miss, _ := b.Inverse(c.Centre, f.Centre()); miss > tol || math.Abs(c.Radius-r) > tol {
				t.Fatalf("centre %g m away, radius %g of %g m", miss, c.Radius, r)
			}
			if c.RimResidual > 2*tol/r {
				t.Fatalf("residual %g of a circle", c.RimResidual)
			}
			if c.SemiMajor/c.SemiMinor > 1+4*tol/r {
				t.Fatalf("ellipse %g x %g of a circle", c.SemiMajor, c.SemiMinor)
			}
		}))
	}
}

// TestRimEllipse: the second moments give the axes back, up to the curvature of
// the sphere, (a/R)^2/6.
func TestRimEllipse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := geom.NewFrame(moon, places(t, "centre"))
		a := math.Pow(10, rapid.Float64Range(2, 4.7).Draw(t, "log10 a"))
		b := a * rapid.Float64Range(0.4, 0.95).Draw(t, "b/a")
		az := rapid.Float64Range(0, 179.9).Draw(t, "azimuth")
		cat, err := read(rimText(moon, geom.EllipseOutline(f, a, b, az*deg, a*1e-4), nil), geom.CatalogueOptions{FitEllipse: true})
		if err != nil {
			t.Fatal(err)
		}
		c := cat.Craters[0]
		tol := 5e-4 + a*a/(3*moon.SemiMajor*moon.SemiMajor)
		if math.Abs(c.SemiMajor/a-1) > tol || math.Abs(c.SemiMinor/b-1) > tol {
			t.Fatalf("%g x %g, want %g x %g", c.SemiMajor, c.SemiMinor, a, b)
		}
		// Near a pole the centroid's meridian turns against the centre's.
		turn := math.Abs(c.Centre.Lat) > 89.99
		if miss := math.Abs(math.Remainder(c.RimAzimuth-az, 180)); !turn && miss > 0.1+2*tol/(1-b/a)/deg {
			t.Fatalf("azimuth %g, want %g", c.RimAzimuth, az)
		}
		// Along an ellipse in equal steps of the outline the departure is about
		// (a-b)/(a+b)/sqrt 2: half the difference, root mean square.
		if e := (a - b) / (a + b) / math.Sqrt2; c.RimResidual < e/2 || c.RimResidual > 3*e {
			t.Fatalf("residual %g, expected about %g", c.RimResidual, e)
		}
	})
}

// TestRimSquare: a square of 2 degrees at the equator, by hand: the area between
// two parallels and two meridians is R^2 dlon (sin(lat2)-sin(lat1)).
func TestRimSquare(t *testing.T) {
	square := orb.MultiPolygon{{{{359, -1}, {361 - 360, -1}, {361 - 360, 1}, {359, 1}, {359, -1}}}}
	area := 2 * deg * 2 * math.Sin(deg)
	want := 2 * moon.SemiMajor * math.Asin(math.Sqrt(area/(4*math.Pi)))
	for name, ring := range map[string]orb.Ring{"across 360": square[0][0],
		"clockwise": {{-1, -1}, {-1, 1}, {1, 1}, {1, -1}, {-1, -1}}} {
		cat, err := read(rimText(moon, orb.MultiPolygon{{ring}}, nil), geom.CatalogueOptions{})
		if err != nil {
			t.Fatal(name, err)
		}
		c := cat.Craters[0]
		if math.Abs(c.Radius/want-1) > 1e-6 || math.Abs(c.Centre.Lon) > 1e-9 || math.Abs(c.Centre.Lat) > 1e-9 {
			t.Errorf("%s: %+v, want radius %g", name, c, want)
		}
	}
}

// TestRimWithHole: what is cut out of a crater, its peak or its floor, leaves
// centre and radius.
func TestRimWithHole(t *testing.T) {
	f := geom.NewFrame(moon, geom.LonLat{Lon: 20, Lat: 50})
	whole := geom.CircleOutline(f, 30e3, 10)
	off := geom.NewFrame(moon, f.LonLat(10e3, 1))
	pierced := orb.MultiPolygon{{whole[0][0], geom.CircleOutline(off, 15e3, 10)[0][0]}}
	for name, mp := range map[string]orb.MultiPolygon{"whole": whole, "with a hole": pierced} {
		cat, err := read(rimText(moon, mp, nil), geom.CatalogueOptions{})
		if err != nil {
			t.Fatal(name, err)
		}
		c := cat.Craters[0]
		if miss, _ := moon.Inverse(c.Centre, f.Centre()); miss > 20 || math.Abs(c.Radius-30e3) > 20 || c.RimResidual > 1e-3 {
			t.Errorf("%s: centre %g m away, radius %g, residual %g", name, miss, c.Radius, c.RimResidual)
		}
	}
}

// TestRimOfOverlay: of an overlay the rims are read, under the crater's id.
func TestRimOfOverlay(t *testing.T) {
	f := geom.NewFrame(moon, geom.LonLat{Lon: 179.9, Lat: -30})
	var features []object
	for i, kind := range []string{"rim", "ring", "axis"} {
		var g orb.Geometry = geom.CircleOutline(f, 10e3*float64(i+1), 10)
		if kind == "axis" {
			g = geom.RayLine(f, 0, 30e3, 1, 10)
		}
		features = append(features, outline(fmt.Sprintf("f%d", i), g, object{"kind": kind, "crater_id": "K-7", "radius_m": 10000}))
	}
	cat, err := read(overlay(moon, features...), geom.CatalogueOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if len(cat.Craters) != 1 || cat.Craters[0].ID != "K-7" || math.Abs(cat.Craters[0].Radius-1e4) > 20 || len(cat.Refused) != 0 {
		t.Errorf("%+v, %s", cat.Craters, told(cat))
	}
	if !strings.Contains(told(cat), "2 outlines of an overlay") || !strings.Contains(told(cat), "1 rims are polygons") {
		t.Error(told(cat))
	}
}

// TestRimAgainstRadius: a polygon that contradicts the radius beside it is told.
func TestRimAgainstRadius(t *testing.T) {
	mp := geom.CircleOutline(geom.NewFrame(moon, geom.LonLat{Lon: 5, Lat: 5}), 1e4, 10)
	for radius, want := range map[float64]bool{10.2: false, 20: true} {
		cat, err := read(rimText(moon, mp, object{"radius_km": radius}), geom.CatalogueOptions{})
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(told(cat), "differ by more than 10 %"); got != want {
			t.Errorf("radius %g: told %t\n%s", radius, got, told(cat))
		}
	}
}

// TestReferenceBody: what is written says how to read it.
func TestReferenceBody(t *testing.T) {
	mars, _ := geom.BodyByCode("IAU_2015:49902")
	for _, b := range []geom.Body{moon, mars, geom.Sphere("invented", 123456)} {
		ref := geom.NewReferenceBody(b)
		text, err := json.Marshal(ref)
		if err != nil {
			t.Fatal(err)
		}
		var back geom.ReferenceBody
		if err := json.Unmarshal(text, &back); err != nil || back != ref {
			t.Errorf("%s: %+v, %v", text, back, err)
		}
		got, err := back.Body()
		if err != nil || got.SemiMajor != b.SemiMajor || got.InverseFlattening != b.InverseFlattening {
			t.Errorf("%s: %+v, %v", text, got, err)
		}
		m, ok := geom.NewCRSMember(b)
		if ok != (b.Code() != "") {
			t.Errorf("%s: crs member %+v", b, m)
		}
		if ok {
			if c, err := geom.ParseCRS(m.Properties.Name); err != nil || c.Body.SemiMajor != b.SemiMajor {
				t.Errorf("%s: %+v, %v", m.Properties.Name, c, err)
			}
		}
	}
	for _, bad := range []geom.ReferenceBody{{}, {SemiMajorM: 1, LatitudeType: "up"}, {SemiMajorM: 1, LongitudeDirection: "left"}} {
		if _, err := bad.Body(); err == nil {
			t.Errorf("%+v is accepted", bad)
		}
	}
}

// TestRimInParts: parts that the cut divides are one rim, parts that lie apart are
// refused, whatever the number.
func TestRimInParts(t *testing.T) {
	circle := func(lon, km float64) orb.MultiPolygon {
		return geom.CircleOutline(geom.NewFrame(moon, geom.LonLat{Lon: lon, Lat: 10}), km*1e3, 10)
	}
	join := func(parts ...orb.MultiPolygon) (out orb.MultiPolygon) {
		for _, p := range parts {
			out = append(out, p...)
		}
		return out
	}
	for _, c := range []struct {
		name string
		rim  orb.MultiPolygon
		one  bool
	}{
		{"across the cut", circle(179.9, 30), true},
		{"a sliver beside", join(circle(20, 30), circle(21.02, 0.5)), true},
		{"two that touch", join(circle(20, 30), circle(22.02, 30)), false},
		{"two far apart", join(circle(20, 30), circle(60, 30)), false},
		{"three", join(circle(20, 30), circle(25, 10), circle(30, 20)), false},
	} {
		cat, err := read(rimText(moon, c.rim, nil), geom.CatalogueOptions{})
		if c.one != (err == nil && len(cat.Craters) == 1) {
			t.Errorf("%s: %d craters, %v", c.name, len(cat.Craters), err)
		}
		if !c.one && (err == nil || !strings.Contains(err.Error(), "lie apart")) {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}
