package geom_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"rimcast/geom"
)

type geodesicCase struct {
	Lat1, Lon1, Lat2, Lon2, Azi1, Azi2 float64
	S12                                float64 `json:"s12_m"`
	Note                               string
}

type geodesicFile struct {
	Bodies map[string]struct {
		A     float64 `json:"a_m"`
		F     float64
		Cases []geodesicCase
	}
}

// Tolerances in metres by body: series and exact solutions differ by 2e-9 m on
// the first two and 1.2e-6 m on the third, f = 0.0747 (GeodSolve of
// GeographicLib 2.1.2 in both modes; Karney 2013).
var geodesicBodies = []struct {
	name string
	tol  float64
}{{"moon_sphere", 1e-8}, {"mars_like", 1e-8}, {"ceres_like", 1e-5}}

// TestInverseReference compares with GeodSolve in exact mode, which was checked
// by integrating the geodesic equation.
func TestInverseReference(t *testing.T) {
	var file geodesicFile
	reference(t, "geodesic_cases.json", &file)
	if len(file.Bodies) != len(geodesicBodies) {
		t.Fatalf("%d bodies in the file, want %d", len(file.Bodies), len(geodesicBodies))
	}
	for _, gb := range geodesicBodies {
		ref, ok := file.Bodies[gb.name]
		if !ok || len(ref.Cases) != 25 {
			t.Fatalf("body %s: %d cases, want 25", gb.name, len(ref.Cases))
		}
		b := geom.Sphere(gb.name, ref.A)
		if ref.F != 0 {
			b = geom.Ellipsoid(gb.name, ref.A, 1/ref.F)
		}
		for i, c := range ref.Cases {
			t.Run(fmt.Sprintf("%s/%d %s", gb.name, i, c.Note), func(t *testing.T) { checkGeodesic(t, b, c, gb.tol) })
		}
	}
}

// checkGeodesic takes the latitudes of the case as planetographic.
func checkGeodesic(t *testing.T, b geom.Body, c geodesicCase, tol float64) {
	p := geom.LonLat{Lon: c.Lon1, Lat: geom.Planetocentric(b, c.Lat1)}
	q := geom.LonLat{Lon: c.Lon2, Lat: geom.Planetocentric(b, c.Lat2)}
	d, az := b.Inverse(p, q)
	if math.Abs(d-c.S12) > tol {
		t.Errorf("distance %.10f, want %.10f", d, c.S12)
	}
	if fd, faz := geom.NewFrame(b, p).Polar(q); fd != d || faz != az {
		t.Errorf("frame says %v, %v, body says %v, %v", fd, faz, d, az)
	}
	if c.S12 == 0 || antipodal(c) {
		return // the azimuth is a convention
	}
	// An error of tol metres across the line is this angle at the start; the
	// lever is the reduced length, short for near-antipodal points.
	lever := math.Abs(b.SemiMajor * math.Sin(c.S12/b.SemiMajor))
	if miss := angleMiss(az, c.Azi1*deg); miss*lever > 10*tol+lever*1e-12 {
		t.Errorf("azimuth %.12f, want %.12f degrees", az/deg, c.Azi1)
	}
	end := b.Direct(p, c.Azi1*deg, c.S12)
	if miss, _ := b.Inverse(end, q); miss > 10*tol {
		t.Errorf("direct ends %.3g m away at %v, want %v", miss, end, q)
	}
}

func antipodal(c geodesicCase) bool {
	return c.Lat1 == -c.Lat2 && math.Abs(math.Remainder(c.Lon1-c.Lon2, 360)) == 180
}

var testBodies = []geom.Body{
	geom.Sphere("moon", 1737400),
	geom.Ellipsoid("mars", 3396190, 169.894447223612),
	geom.Ellipsoid("ceres-like", 482000, 482./36),
}

// places draws ordinary places, and often the poles, the cut and the equator.
func places(t *rapid.T, label string) geom.LonLat {
	lon := rapid.OneOf(rapid.Float64Range(-180, 180), rapid.SampledFrom([]float64{-180, 180, 0, 179.9999999, -179.9999999, 90}))
	lat := rapid.OneOf(rapid.Float64Range(-90, 90), rapid.SampledFrom([]float64{-90, 90, 0, 89.9999999, -89.99999, 1e-9}))
	return geom.LonLat{Lon: lon.Draw(t, label+" lon"), Lat: lat.Draw(t, label+" lat")}
}

// TestFrameRoundTrip: the place at the range and azimuth of p is p, everywhere.
func TestFrameRoundTrip(t *testing.T) {
	for _, b := range testBodies {
		t.Run(b.Name, rapid.MakeCheck(func(t *rapid.T) {
			f := geom.NewFrame(b, places(t, "centre"))
			p := places(t, "place")
			r, az := f.Polar(p)
			if !(az >= 0 && az < 2*math.Pi) {
				t.Fatalf("azimuth %v", az)
			}
			if miss, _ := b.Inverse(p, f.LonLat(r, az)); miss > 1e-7 { // rounding: 1e-14 degree, twice round
				t.Fatalf("round trip ends %g m away", miss)
			}
		}))
	}
}

// TestDirectRoundTrip goes out and looks back, down to a millimetre. The farthest
// range stays short of the conjugate points of the flattest body.
func TestDirectRoundTrip(t *testing.T) {
	for _, b := range testBodies {
		t.Run(b.Name, rapid.MakeCheck(func(t *rapid.T) {
			p := places(t, "from")
			az := rapid.Float64Range(0, 2*math.Pi*(1-1e-12)).Draw(t, "azimuth")
			s := math.Pow(10, rapid.Float64Range(-3, math.Log10(0.8*math.Pi*b.SemiMinor())).Draw(t, "log10 distance"))
			f := geom.NewFrame(b, p)
			r, a := f.Polar(f.LonLat(s, az))
			// A coordinate of 180 degrees has a last bit of 2.8e-14 degree; a
			// place is known to twice that along and across.
			eps := 1e-13*deg*b.SemiMajor + 1e-14*s
			if b.InverseFlattening != 0 {
				eps += 2e-8 // Karney (2013): 15 nm on the Earth, more when flatter
			}
			if math.Abs(r-s) > eps {
				t.Fatalf("range %.12g, want %.12g, allowed %.3g", r, s, eps)
			}
			if across := angleMiss(a, az) * b.SemiMinor() * math.Sin(min(s/b.SemiMajor, math.Pi/2)); across > eps {
				t.Fatalf("azimuth %v, want %v: %.3g m across, allowed %.3g", a, az, across, eps)
			}
		}))
	}
}

// TestCentimetre: steps of 1 cm north and east of centres that are hard. In
// degrees the step is known to the last bit of the coordinate, hence the
// tolerance; acos-based formulas give NaN or 0 here.
func TestCentimetre(t *testing.T) {
	const radius, step = 1737400.0, 0.01
	b := geom.Sphere("moon", radius)
	d := step / radius / deg
	for _, c := range []geom.LonLat{{Lon: 0, Lat: 0}, {Lon: 12.5, Lat: 44.9}, {Lon: 179.99999999, Lat: -60}, {Lon: -180, Lat: 30}, {Lon: 77, Lat: 89.9}, {Lon: 5, Lat: 90}, {Lon: 5, Lat: -90}} {
		f, east := geom.NewFrame(b, c), d/math.Cos(c.Lat*deg)
		for _, q := range []struct {
			p  geom.LonLat
			az float64
		}{
			{geom.LonLat{Lon: c.Lon, Lat: c.Lat - d}, math.Pi},
			{geom.LonLat{Lon: c.Lon, Lat: c.Lat + d}, 0},
			// A parallel bends away from the great circle by half the turn of
			// its meridians.
			{geom.LonLat{Lon: c.Lon + east, Lat: c.Lat}, math.Pi/2 - east*deg/2*math.Sin(c.Lat*deg)},
		} {
			if math.Abs(q.p.Lat) > 90 || math.Abs(c.Lat) == 90 && q.p.Lat == c.Lat {
				continue
			}
			r, az := f.Polar(q.p)
			if math.Abs(r-step) > 1e-9 || angleMiss(az, q.az) > 1e-7 { // 1 nm across
				t.Errorf("from %v to %v: %.12f m at %.9f, want %.12f at %.9f", c, q.p, r, az, step, q.az)
			}
		}
	}
}

// TestSphereIsLimit compares the closed form with Karney's algorithm on a body
// flattened by 1e-12, by hand below the noise of both.
func TestSphereIsLimit(t *testing.T) {
	s, e := geom.Sphere("s", 1737400), geom.Ellipsoid("e", 1737400, 1e12)
	rapid.Check(t, func(t *rapid.T) {
		p, q := places(t, "from"), places(t, "to")
		d1, _ := s.Inverse(p, q)
		d2, _ := e.Inverse(p, q)
		if math.Abs(d1-d2) > 2e-5 { // f*a*pi = 5e-6 m, and the two latitudes
			t.Fatalf("sphere %.9f, limit %.9f", d1, d2)
		}
	})
}

// TestSnyder is the worked example of the azimuthal equidistant projection:
// Snyder (1987), USGS Professional Paper 1395, p. 337-338.
func TestSnyder(t *testing.T) {
	f := geom.NewFrame(geom.Sphere("globe", 3), geom.LonLat{Lon: -100, Lat: 40})
	r, az := f.Polar(geom.LonLat{Lon: 100, Lat: -20})
	x, y := r*math.Sin(az), r*math.Cos(az)
	if math.Abs(x+5.8311398) > 5e-8 || math.Abs(y-5.5444634) > 5e-8 {
		t.Errorf("x, y = %.7f, %.7f, want -5.8311398, 5.5444634", x, y)
	}
}

// TestEquidistantPROJ compares with aeqd of PROJ 9.1.1 on the lunar sphere.
func TestEquidistantPROJ(t *testing.T) {
	var file struct {
		Lunar struct {
			Cases []struct {
				Proj           string
				Lat, Lon, X, Y float64
			}
		} `json:"lunar_proj_values"`
	}
	reference(t, "projections.json", &file)
	n := 0
	for _, c := range file.Lunar.Cases {
		var lat0, lon0 float64
		if _, err := fmt.Sscanf(c.Proj, "+proj=aeqd +lat_0=%f +lon_0=%f +R=1737400", &lat0, &lon0); err != nil {
			continue
		}
		n++
		r, az := geom.NewFrame(geom.Sphere("moon", 1737400), geom.LonLat{Lon: lon0, Lat: lat0}).Polar(geom.LonLat{Lon: c.Lon, Lat: c.Lat})
		if x, y := r*math.Sin(az), r*math.Cos(az); math.Abs(x-c.X) > 2e-6 || math.Abs(y-c.Y) > 2e-6 { // printed to 1e-6
			t.Errorf("%s (%g, %g): %.6f, %.6f, want %.6f, %.6f", c.Proj, c.Lon, c.Lat, x, y, c.X, c.Y)
		}
	}
	if n == 0 {
		t.Error("no aeqd case in the file")
	}
}

// TestGridIsPolar: the prepared form gives the same bits, and the haversine form
// the same range and azimuth.
func TestGridIsPolar(t *testing.T) {
	for _, b := range testBodies {
		t.Run(b.Name, rapid.MakeCheck(func(t *rapid.T) {
			f := geom.NewFrame(b, places(t, "centre"))
			p := places(t, "place")
			r, az := f.Polar(p)
			row, col := f.Parallel(p.Lat), f.Meridian(p.Lon)
			if gr, gaz := f.Grid(row, col); gr != r || gaz != az {
				t.Fatalf("grid %v, %v, polar %v, %v", gr, gaz, r, az)
			}
			if !b.IsSphere() {
				return
			}
			h, e, n := f.HavPolar(row, col)
			if want := math.Pow(math.Sin(r/b.SemiMajor/2), 2); math.Abs(h-want) > 1e-15 { // half a dozen roundings near 1
				t.Fatalf("haversine %v, want %v", h, want)
			}
			if r > 1e-6 && r < b.SemiMajor*3.14 && angleMiss(math.Atan2(e, n), az) > 1e-15 { // 2*pi is rounded
				t.Fatalf("azimuth from %v, %v, want %v", e, n, az)
			}
		}))
	}
}

func TestInverseSpecial(t *testing.T) {
	for _, b := range testBodies {
		p := geom.LonLat{Lon: 10, Lat: 20}
		if d, az := b.Inverse(p, p); d != 0 || az != 0 {
			t.Errorf("%s: coincident points give %v, %v", b.Name, d, az)
		}
		if d, _ := b.Inverse(geom.LonLat{Lon: math.NaN()}, p); !math.IsNaN(d) {
			t.Errorf("%s: NaN gives %v", b.Name, d)
		}
		if d, _ := b.Inverse(p, geom.LonLat{Lat: math.NaN()}); !math.IsNaN(d) {
			t.Errorf("%s: NaN gives %v", b.Name, d)
		}
	}
}

func ExampleFrame_Polar() {
	moon, _ := geom.BodyByName("Moon")
	// A crater 2 km from the north pole: a place on the other side of it.
	f := geom.NewFrame(moon, geom.LonLat{Lon: 30, Lat: 89.934})
	r, az := f.Polar(geom.LonLat{Lon: -150, Lat: 89.934})
	fmt.Printf("%.3f km, azimuth %.1f degrees\n", r/1000, az*180/math.Pi)
	// Output: 4.003 km, azimuth 0.0 degrees
}

func BenchmarkFramePolar(b *testing.B) {
	for _, body := range testBodies {
		b.Run(body.Name, func(b *testing.B) {
			f := geom.NewFrame(body, geom.LonLat{Lon: 10, Lat: 40})
			p := geom.LonLat{Lon: 10.3, Lat: 40.2}
			b.ReportAllocs()
			for b.Loop() {
				p.Lon += 1e-9
				f.Polar(p)
			}
		})
	}
}

func BenchmarkFrameGrid(b *testing.B) {
	f := geom.NewFrame(testBodies[0], geom.LonLat{Lon: 10, Lat: 40})
	row, col := f.Parallel(40.2), f.Meridian(10.3)
	b.ReportAllocs()
	for b.Loop() {
		f.Grid(row, col)
	}
}
