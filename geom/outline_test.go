package geom_test

import (
	"fmt"
	"math"
	"testing"

	"github.com/paulmach/orb"
	"pgregory.net/rapid"

	"rimcast/geom"
)

// mapArea is the area on the unit sphere of polygons whose edges are straight in
// longitude and latitude: the integral of sin(lat) d(lon) along an edge has a
// closed form. The sine of the first latitude is taken off everywhere, which
// changes nothing round a closed ring and keeps the digits of small ones.
func mapArea(mp orb.MultiPolygon) float64 {
	sum := 0.0
	for _, p := range mp {
		for _, ring := range p {
			s0 := ring[0][1] * deg
			for i := 0; i+1 < len(ring); i++ {
				a, b := ring[i], ring[i+1]
				dlon, mid, half := (b[0]-a[0])*deg, (a[1]+b[1])/2*deg, (b[1]-a[1])/2*deg
				mean := 2 * math.Cos((mid+s0)/2) * math.Sin((mid-s0)/2)
				if math.Abs(half) > 1e-3 {
					mean += math.Sin(mid) * (math.Sin(half)/half - 1)
				} else {
					mean -= math.Sin(mid) * half * half / 6
				}
				sum -= dlon * mean
			}
		}
	}
	return sum
}

// inside is the even-odd rule over all rings of all polygons; places on the
// border of the map are moved inward by a hair.
func inside(mp orb.MultiPolygon, p geom.LonLat) bool {
	p.Lon = max(-180+1e-10, min(p.Lon, 180-1e-10))
	p.Lat = max(-90+1e-10, min(p.Lat, 90-1e-10))
	in := false
	for _, poly := range mp {
		for _, ring := range poly {
			for i := 0; i+1 < len(ring); i++ {
				a, b := ring[i], ring[i+1]
				if (a[1] > p.Lat) != (b[1] > p.Lat) && p.Lon < a[0]+(b[0]-a[0])*(p.Lat-a[1])/(b[1]-a[1]) {
					in = !in
				}
			}
		}
	}
	return in
}

// checkMap fails unless the polygons are closed, within the map, wound as RFC
// 7946 wants and simple.
func checkMap(t *rapid.T, mp orb.MultiPolygon) {
	for _, poly := range mp {
		for k, ring := range poly {
			n := len(ring)
			if n < 4 || ring[0] != ring[n-1] {
				t.Fatalf("ring of %d points, first %v, last %v", n, ring[0], ring[n-1])
			}
			area := 0.0
			for i := 0; i+1 < n; i++ {
				a, b := ring[i], ring[i+1]
				if math.Abs(a[0]) > 180 || math.Abs(a[1]) > 90 || math.IsNaN(a[0]+a[1]) {
					t.Fatalf("point %v off the map", a)
				}
				if a == b {
					t.Fatalf("point %v twice", a)
				}
				area += (a[0]-ring[0][0])*(b[1]-ring[0][1]) - (b[0]-ring[0][0])*(a[1]-ring[0][1])
			}
			if (area > 0) != (k == 0) {
				t.Fatalf("ring %d has area %g square degrees", k, area/2)
			}
			if a, b, bad := crossing(ring); bad {
				t.Fatalf("ring %d crosses itself at segments %d and %d of %d: %v", k, a, b, n, ring[a:a+2])
			}
		}
	}
}

// crossing finds two segments that cross properly.
func crossing(r orb.Ring) (i, j int, bad bool) {
	side := func(a, b, c orb.Point) float64 { return (b[0]-a[0])*(c[1]-a[1]) - (c[0]-a[0])*(b[1]-a[1]) }
	for i = 0; i+1 < len(r); i++ {
		for j = i + 2; j+1 < len(r); j++ {
			if i == 0 && j+2 == len(r) {
				continue
			}
			a, b, c, d := r[i], r[i+1], r[j], r[j+1]
			if max(a[0], b[0]) < min(c[0], d[0]) || max(c[0], d[0]) < min(a[0], b[0]) || max(a[1], b[1]) < min(c[1], d[1]) || max(c[1], d[1]) < min(a[1], b[1]) {
				continue
			}
			// A crossing by rounding alone leaves a side of about 1e-13.
			const eps = 1e-11
			if p, q := side(a, b, c), side(a, b, d); p*q < 0 && min(math.Abs(p), math.Abs(q)) > eps {
				if p, q := side(c, d, a), side(c, d, b); p*q < 0 && min(math.Abs(p), math.Abs(q)) > eps {
					return i, j, true
				}
			}
		}
	}
	return 0, 0, false
}

// anyFrame draws frames all over, and ranges from a metre to nearly everything.
func anyFrame(t *rapid.T, b geom.Body) (f *geom.Frame, r, maxErr float64) {
	f = geom.NewFrame(b, places(t, "centre"))
	r = math.Pow(10, rapid.Float64Range(0, math.Log10(0.95*math.Pi*b.SemiMajor)).Draw(t, "log10 range"))
	maxErr = r * math.Pow(10, rapid.Float64Range(-3.5, -1.5).Draw(t, "log10 error"))
	return f, r, maxErr
}

// TestCircleOutline: wherever the disc lies, its polygons are valid, have the area
// of the cap 2 pi (1 - cos(r/R)), and hold the places that are in the disc.
func TestCircleOutline(t *testing.T) {
	b := testBodies[0]
	rapid.Check(t, func(t *rapid.T) {
		f, r, maxErr := anyFrame(t, b)
		mp := geom.CircleOutline(f, r, maxErr)
		checkMap(t, mp)
		want := 4 * math.Pi * math.Pow(math.Sin(r/b.SemiMajor/2), 2)
		// The outline is within maxErr of the circle all along its length.
		slack := 2 * math.Pi * math.Sin(r/b.SemiMajor) * maxErr / b.SemiMajor * 1.1
		if got := mapArea(mp); math.Abs(got-want) > slack+1e-14 {
			t.Fatalf("area %.6g, want %.6g, allowed %.2g", got, want, slack)
		}
		for range 20 {
			p := f.LonLat(r*math.Sqrt(rapid.Float64Range(0, 2).Draw(t, "rho")), rapid.Float64Range(0, 6.28).Draw(t, "azimuth"))
			d, _ := f.Polar(p)
			if math.Abs(d-r) > 1.5*maxErr+1e-6 && inside(mp, p) != (d < r) {
				t.Fatalf("%v at %g of %g m: inside %t", p, d, r, inside(mp, p))
			}
		}
	})
}

// TestChordError samples the drawn segments: none strays from the circle by more
// than asked, but for the border of the map.
func TestChordError(t *testing.T) {
	for _, b := range testBodies {
		t.Run(b.Name, rapid.MakeCheck(func(t *rapid.T) {
			f, r, maxErr := anyFrame(t, b)
			r = min(r, 0.5*math.Pi*b.SemiMinor())
			worst := 0.0
			for _, poly := range geom.CircleOutline(f, r, maxErr) {
				for _, ring := range poly {
					for i := 0; i+1 < len(ring); i++ {
						a, c := ring[i], ring[i+1]
						if math.Abs(a[0]) == 180 && a[0] == c[0] || math.Abs(a[1]) == 90 || math.Abs(c[1]) == 90 {
							continue
						}
						for k := range 8 {
							u := float64(k) / 8
							d, _ := f.Polar(geom.LonLat{Lon: a[0] + u*(c[0]-a[0]), Lat: a[1] + u*(c[1]-a[1])})
							worst = max(worst, math.Abs(d-r))
						}
					}
				}
			}
			if worst > 1.1*maxErr+1e-6 { // tested at three points of a chord, so a little more between them
				t.Fatalf("chord strays %g m, allowed %g", worst, maxErr)
			}
		}))
	}
}

// TestSectorsTile: the cells of a polar grid have together the area of the annulus,
// each has the area of its share, and holds its own middle.
func TestSectorsTile(t *testing.T) {
	b := testBodies[0]
	rapid.Check(t, func(t *rapid.T) {
		f, r1, _ := anyFrame(t, b)
		maxErr := r1 * 1e-4
		r0 := r1 * rapid.SampledFrom([]float64{0, 0.3, 0.8}).Draw(t, "inner")
		n := rapid.SampledFrom([]int{1, 2, 3, 4, 8}).Draw(t, "sectors")
		want := 4 * math.Pi * (math.Pow(math.Sin(r1/b.SemiMajor/2), 2) - math.Pow(math.Sin(r0/b.SemiMajor/2), 2))
		for s := range n {
			az0, az1 := 2*math.Pi*float64(s)/float64(n), 2*math.Pi*float64(s+1)/float64(n)
			mp := geom.AnnulusSector(f, r0, r1, az0, az1, maxErr)
			checkMap(t, mp)
			if got := mapArea(mp); math.Abs(got-want/float64(n)) > 8*r1*maxErr/(b.SemiMajor*b.SemiMajor) {
				t.Fatalf("sector %d has area %.6g, want %.6g", s, got, want/float64(n))
			}
			if p := f.LonLat((r0+r1)/2, (az0+az1)/2); !inside(mp, p) && math.Abs(p.Lon) < 179.999 {
				t.Fatalf("sector %d does not hold %v", s, p)
			}
		}
	})
}

func TestEllipseOutline(t *testing.T) {
	b := testBodies[0]
	rapid.Check(t, func(t *rapid.T) {
		f := geom.NewFrame(b, places(t, "centre"))
		a := math.Pow(10, rapid.Float64Range(2, 5).Draw(t, "log10 a"))
		c := a * rapid.Float64Range(0.2, 1).Draw(t, "b/a")
		az := rapid.Float64Range(0, math.Pi).Draw(t, "azimuth")
		mp := geom.EllipseOutline(f, a, c, az, a*1e-4)
		checkMap(t, mp)
		// On a plane pi a b; a sphere takes away up to (a/R)^2/6 of it.
		want := math.Pi * a * c / (b.SemiMajor * b.SemiMajor)
		if got := mapArea(mp); math.Abs(got/want-1) > 1e-3+a*a/(6*b.SemiMajor*b.SemiMajor) {
			t.Fatalf("area %.6g, want %.6g", got, want)
		}
		for _, p := range []struct{ r, az float64 }{{a, az}, {c, az + math.Pi/2}} {
			in, out := f.LonLat(0.99*p.r, p.az), f.LonLat(1.01*p.r, p.az)
			if !inside(mp, in) || inside(mp, out) {
				t.Fatalf("axis of %g m at %g: inside %t, beyond %t", p.r, p.az, inside(mp, in), inside(mp, out))
			}
		}
	})
}

// TestOutlineKnown pins the shapes at the hard places.
func TestOutlineKnown(t *testing.T) {
	moon := geom.Sphere("moon", 1737400)
	km := func(lon, lat float64) *geom.Frame { return geom.NewFrame(moon, geom.LonLat{Lon: lon, Lat: lat}) }
	for _, c := range []struct {
		name         string
		mp           orb.MultiPolygon
		parts, holes int
		touchesPole  bool
	}{
		{"ordinary", geom.CircleOutline(km(10, 20), 3e4, 50), 1, 0, false},
		{"across the cut", geom.CircleOutline(km(179.9, 10), 3e4, 50), 2, 0, false},
		{"on the cut", geom.CircleOutline(km(-180, 10), 3e4, 50), 2, 0, false},
		{"round the north pole", geom.CircleOutline(km(0, 89.9), 3e4, 50), 1, 0, true},
		{"at the south pole", geom.CircleOutline(km(0, -90), 3e4, 50), 1, 0, true},
		{"pole on the rim", geom.CircleOutline(km(40, 89), 1737400*deg, 50), 1, 0, true},
		{"both poles", geom.CircleOutline(km(0, 0), 1737400*100*deg, 50), 1, 0, true},
		{"both poles, the rest in the middle of the map", geom.CircleOutline(km(180, 0), 1737400*100*deg, 50), 1, 1, true},
		{"all but a disc on the cut", geom.CircleOutline(km(0, 0), 1737400*175*deg, 50), 1, 0, true},
		{"everything", geom.CircleOutline(km(3, 4), 1e9, 50), 1, 0, true},
		{"nothing", geom.CircleOutline(km(3, 4), 0, 50), 0, 0, false},
		{"ring", geom.AnnulusSector(km(10, 20), 1e4, 3e4, 0, 2*math.Pi, 50), 1, 1, false},
		{"ring across the cut", geom.AnnulusSector(km(180, 20), 1e4, 3e4, 0, 2*math.Pi, 50), 2, 0, false},
		{"ring round the pole", geom.AnnulusSector(km(0, 89.99), 1e4, 3e4, 0, 2*math.Pi, 50), 1, 0, false},
		{"edge along the cut", geom.AnnulusSector(km(180, 20), 1e4, 3e4, 0, math.Pi/2, 50), 1, 0, false},
		{"wedge from the pole", geom.AnnulusSector(km(0, 90), 0, 3e4, 0.5, 1, 50), 1, 0, true},
		{"empty sector", geom.AnnulusSector(km(0, 0), 3e4, 3e4, 0, 1, 50), 0, 0, false},
	} {
		holes, pole := 0, false
		for _, p := range c.mp {
			holes += len(p) - 1
			for _, v := range p[0] {
				pole = pole || math.Abs(v[1]) == 90
			}
		}
		if len(c.mp) != c.parts || holes != c.holes || pole != c.touchesPole {
			t.Errorf("%s: %d parts, %d holes, pole %t, want %d, %d, %t", c.name, len(c.mp), holes, pole, c.parts, c.holes, c.touchesPole)
		}
	}
}

// TestRayLine: all vertices lie on the geodesic, in order, and only a pole or the
// cut parts it.
func TestRayLine(t *testing.T) {
	b := testBodies[0]
	rapid.Check(t, func(t *rapid.T) {
		f, r, maxErr := anyFrame(t, b)
		az := rapid.OneOf(rapid.Float64Range(0, 6.283), rapid.SampledFrom([]float64{0, math.Pi / 2, math.Pi})).Draw(t, "azimuth")
		mls := geom.RayLine(f, r/3, r, az, maxErr)
		last := 0.0
		for i, ls := range mls {
			for _, v := range ls {
				d, a := f.Polar(geom.LonLat{Lon: v[0], Lat: v[1]})
				// A pole vertex may stand for one within maxErr of it.
				if across := b.SemiMajor * math.Abs(math.Sin(d/b.SemiMajor)*math.Sin(a-az)); across > 1.1*maxErr+1e-5 {
					t.Fatalf("vertex %v is %g m off the line, allowed %g", v, across, maxErr)
				}
				if d < last-2*maxErr-1e-6 {
					t.Fatalf("range falls from %g to %g m", last, d)
				}
				last = max(last, d)
			}
			if i == 0 {
				continue
			}
			p, q := mls[i-1][len(mls[i-1])-1], ls[0]
			if !(p[1] == q[1] && (p[0] == -q[0] && math.Abs(p[0]) == 180 || math.Abs(p[1]) == 90)) {
				t.Fatalf("parted between %v and %v", p, q)
			}
		}
		if last < r*(1-1e-9)-1e-6 && len(mls) > 0 && r < 0.9*math.Pi*b.SemiMajor {
			t.Fatalf("ends at %g of %g m", last, r)
		}
	})
}

func ExampleCircleOutline() {
	moon, _ := geom.BodyByName("Moon")
	f := geom.NewFrame(moon, geom.LonLat{Lon: 179.9, Lat: 10})
	for _, p := range geom.CircleOutline(f, 30e3, 100) {
		b := p.Bound()
		fmt.Printf("%.2f..%.2f E\n", b.Min[0], b.Max[0])
	}
	// Output:
	// 178.90..180.00 E
	// -180.00..-179.10 E
}

func BenchmarkCircleOutline(b *testing.B) {
	f := geom.NewFrame(testBodies[0], geom.LonLat{Lon: 179.9, Lat: 10})
	b.ReportAllocs()
	for b.Loop() {
		geom.CircleOutline(f, 30e3, 14)
	}
}
