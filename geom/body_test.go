package geom_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rimcast/geom"
)

// TestIAUBodies compares codes and radii with the registry (authority IAU_2015 of
// PROJ 9.1.1, from Archinal et al. 2018).
func TestIAUBodies(t *testing.T) {
	var file struct {
		Bodies []struct {
			Body       string
			Geographic []struct{ Code, Name string } `json:"geographic_crs"`
			Ellipsoids []struct {
				Code string
				A    float64 `json:"a_m"`
				B    float64 `json:"b_m"`
			}
		}
		Projected []struct{ Code, Name string } `json:"moon_projected_crs"`
	}
	reference(t, "iau_bodies.json", &file)
	seen := 0
	for _, ref := range file.Bodies {
		for _, crs := range ref.Geographic {
			seen++
			c, err := geom.ParseCRS(crs.Code)
			if err != nil || c.Projected {
				t.Errorf("%s: %v, projected %t", crs.Code, err, c.Projected)
				continue
			}
			graphic := c.Latitude == geom.PlanetographicLatitude
			if graphic != strings.HasSuffix(crs.Name, "Ographic") {
				t.Errorf("%s %s: latitude %q", crs.Code, crs.Name, c.Latitude)
			}
			a, b := 0.0, 0.0 // an ocentric system shares the ellipsoid of the ographic one
			for _, e := range ref.Ellipsoids {
				if e.Code == crs.Code || strings.HasSuffix(crs.Code, "2") && e.Code == crs.Code[:len(crs.Code)-1]+"1" {
					a, b = e.A, e.B
				}
			}
			if c.Body.SemiMajor != a || math.Abs(c.Body.SemiMinor()-b) > 1e-6 {
				t.Errorf("%s: %g x %g, want %g x %g", crs.Code, c.Body.SemiMajor, c.Body.SemiMinor(), a, b)
			}
		}
	}
	if seen < 40 {
		t.Errorf("only %d codes in the file", seen)
	}
	for _, crs := range file.Projected {
		if c, err := geom.ParseCRS(crs.Code); err != nil || !c.Projected || c.Body.Name != "Moon" {
			t.Errorf("%s: %v, %+v", crs.Code, err, c)
		}
	}
}

// TestParseCRS: spellings met in files.
func TestParseCRS(t *testing.T) {
	const wkt = `GEOGCRS["Moon (2015) - Sphere / Ocentric",DATUM["Moon (2015) - Sphere",ELLIPSOID["Moon (2015) - Sphere",1737400,0,LENGTHUNIT["metre",1]]],CS[ellipsoidal,2]]`
	const wkt1 = `PROJCS["Equirect",GEOGCS["GCS_Mars",DATUM["D_Mars",SPHEROID["Mars_2000_IAU_IAG",3396190,169.894447223612]]]]`
	for _, c := range []struct {
		name             string
		code, body       string
		a                float64
		earth, projected bool
	}{
		{"IAU_2015:30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"IAU:30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"iau:2015:30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"urn:ogc:def:crs:IAU:2015:30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"urn:ogc:def:crs:IAU::30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"urn:ogc:def:crs:IAU_2015::30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"urn:x-ogc:def:crs:IAU:2015:30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"http://www.opengis.net/def/crs/IAU/2015/30100", "IAU_2015:30100", "Moon", 1737400, false, false},
		{"IAU_2015:30110", "IAU_2015:30110", "Moon", 1737400, false, true},
		{"IAU_2015:49902", "IAU_2015:49902", "Mars", 3396190, false, false},
		{"IAU_2015:200000100", "IAU_2015:200000100", "Ceres", 487300, false, false},
		{"EPSG:4326", "EPSG:4326", "Earth", 6378137, true, false},
		{"urn:ogc:def:crs:EPSG::4326", "EPSG:4326", "Earth", 6378137, true, false},
		{"urn:ogc:def:crs:OGC:1.3:CRS84", "OGC:CRS84", "Earth", 6378137, true, false},
		{"urn:ogc:def:crs:OGC::CRS84", "OGC:CRS84", "Earth", 6378137, true, false},
		{"CRS84", "OGC:CRS84", "Earth", 6378137, true, false},
		{"EPSG:32633", "EPSG:32633", "Earth", 6378137, true, true},
		{"IAU_2015:39900", "IAU_2015:39900", "Earth", 6378136.6, true, false},
		{"urn:ogc:def:crs:ESRI::104903", "ESRI:104903", "Moon", 1737400, false, false},
		{wkt, "", "Moon", 1737400, false, false},
		{wkt1, "", "Mars", 3396190, false, true},
		{strings.Replace(wkt, `1737400,0,LENGTHUNIT["metre",1]`, `1737.4,0,LENGTHUNIT["kilometre",1000]`, 1), "", "Moon", 1737400, false, false},
	} {
		got, err := geom.ParseCRS(c.name)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if got.Code != c.code || got.Body.Name != c.body || got.Body.SemiMajor != c.a || got.Earth != c.earth || got.Projected != c.projected {
			t.Errorf("%s: %+v", c.name, got)
		}
	}
	for _, name := range []string{"", "Moon", "IAU2000:30100", "IAU_2015:30101", "IAU_2015:12345", "IAU_2015:-1", "IAU_2015:30199999999999999999",
		"FOO:1", "EPSG:", "EPSG:banana", "a:b:c:d", "ESRI:1", "urn:ogc:def:crs:", `GEOGCRS["x"]`, `GEOGCRS["x",ELLIPSOID["y",1e999,0]]`, `GEOGCRS["x",ELLIPSOID["y",-5,0]]`} {
		c, err := geom.ParseCRS(name)
		if err == nil {
			t.Errorf("%q is taken for %+v", name, c)
		}
	}
}

func TestBodyLookups(t *testing.T) {
	moon, ok := geom.BodyByName(" moon")
	if !ok || moon.SemiMajor != 1737400 || !strings.Contains(moon.Source, "Archinal") {
		t.Errorf("moon: %+v, %t", moon, ok)
	}
	if _, ok := geom.BodyByName("Nibelheim"); ok {
		t.Error("an invented body is known")
	}
	for code, want := range map[string]string{
		"IAU_2015:30100": "IAU_2015:30100", "IAU_2015:49901": "IAU_2015:49902", "IAU_2015:49900": "IAU_2015:49900",
	} {
		b, ok := geom.BodyByCode(code)
		if !ok || b.Code() != want {
			t.Errorf("%s: %+v has code %s, want %s", code, b, b.Code(), want)
		}
	}
	if b := geom.Sphere("invented", 1e6); b.Code() != "" || b.URN() != "" {
		t.Errorf("invented body has code %q", b.Code())
	}
	if got := moon.URN(); got != "urn:ogc:def:crs:IAU:2015:30100" {
		t.Errorf("URN %s", got)
	}
	for _, n := range geom.BodyNames() {
		if b, ok := geom.BodyByName(n); !ok || b.Valid() != nil {
			t.Errorf("%s: %+v, %t, %v", n, b, ok, b.Valid())
		}
	}
}

func TestBodyValid(t *testing.T) {
	for _, b := range []geom.Body{{}, geom.Sphere("", -1), geom.Sphere("", math.NaN()), geom.Sphere("", math.Inf(1)),
		geom.Ellipsoid("", 1, 0.5), geom.Ellipsoid("", 1, -100), geom.Ellipsoid("", 1, math.NaN())} {
		if b.Valid() == nil {
			t.Errorf("%+v is valid", b)
		}
	}
}

// TestLatitudes: Snyder (1987), eq. 3-28; the largest difference on Ceres
// (487.3 x 446.0 km) is 5.07 degrees, asin of (a^2-b^2)/(a^2+b^2).
func TestLatitudes(t *testing.T) {
	ceres := geom.Ellipsoid("Ceres", 487300, 487.3/(487.3-446))
	const a2, b2 = 487.3 * 487.3, 446.0 * 446.0
	largest := math.Asin((a2-b2)/(a2+b2)) / deg
	lat := math.Atan(487.3/446) / deg // planetographic latitude of the largest difference
	if got := lat - geom.Planetocentric(ceres, lat); math.Abs(got-largest) > 1e-12 || math.Abs(largest-5.07) > 0.005 {
		t.Errorf("largest difference %v, want %v", got, largest)
	}
	rapid.Check(t, func(t *rapid.T) {
		b := rapid.SampledFrom(testBodies).Draw(t, "body")
		x := places(t, "place").Lat
		if got := geom.Planetographic(b, geom.Planetocentric(b, x)); math.Abs(got-x) > 3e-14 {
			t.Fatalf("%v comes back as %v", x, got)
		}
	})
	for _, pole := range []float64{90, -90, 0} {
		if got := geom.Planetocentric(ceres, pole); got != pole {
			t.Errorf("%v becomes %v", pole, got)
		}
	}
}

func TestWrapLon(t *testing.T) {
	for _, c := range []struct{ in, want float64 }{
		{0, 0}, {180, 180}, {-180, -180}, {190, -170}, {-190, 170}, {360, 0}, {540, -180}, {359.75, -0.25}, {-359.75, 0.25}, {7200.5, 0.5},
	} {
		if got := geom.WrapLon(c.in); got != c.want {
			t.Errorf("WrapLon(%v) = %v, want %v", c.in, got, c.want)
		}
	}
	if !math.IsNaN(geom.WrapLon(math.NaN())) || !math.IsNaN(geom.WrapLon(math.Inf(1))) {
		t.Error("NaN and infinity must give NaN")
	}
}

func TestQuote(t *testing.T) {
	for in, want := range map[string]string{
		"plain":                      `"plain"`,
		"a\x00b\n\u202Ec":            `"a\x00b\n\u202ec"`,
		strings.Repeat("x", 10<<20):  `"` + strings.Repeat("x", 60) + `"...`,
		strings.Repeat("\u00e9", 61): `"` + strings.Repeat("\u00e9", 60) + `"...`,
		strings.Repeat("y", 60):      `"` + strings.Repeat("y", 60) + `"`,
	} {
		if got := geom.Quote(in); got != want {
			t.Errorf("Quote of %d bytes: %s, want %s", len(in), got, want)
		}
	}
}

func ExampleBodyByCode() {
	for _, code := range []string{"IAU_2015:30100", "urn:ogc:def:crs:IAU::49902"} {
		b, _ := geom.BodyByCode(code)
		fmt.Println(b)
	}
	// Output:
	// Moon (sphere, 1737400 m)
	// Mars (ellipsoid, 3396190 x 3376200 m)
}
