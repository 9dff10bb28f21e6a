package raster

import (
	"math"
	"testing"

	"rimcast/geom"
)

// TestGeometryOnEllipsoids compares each pixel with the geodesic itself.
func TestGeometryOnEllipsoids(t *testing.T) {
	// Figures of Mars and of a strongly flattened small body.
	for _, b := range []geom.Body{
		{Name: "flat", SemiMajor: 3396190, InverseFlattening: 169.894447223612},
		{Name: "flatter", SemiMajor: 482000, InverseFlattening: 482.0 / 36},
	} {
		m := b.SemiMajor * math.Pi / 180
		for name, g := range map[string]Grid{
			"lonlat":          mustGrid(t, 720, 360, [6]float64{0, 0.5, 0, 90, 0, -0.5}, LonLatCRS(b), b),
			"equirectangular": mustGrid(t, 720, 360, [6]float64{-180 * m, m / 2, 0, 90 * m, 0, -m / 2}, EquirectangularCRS(b, 0, 0), b),
			"stereographic":   mustGrid(t, 300, 300, [6]float64{-75 * m, m / 2, 0, 75 * m, 0, -m / 2}, StereographicCRS(b, false, 0), b),
			"sphere CRS":      mustGrid(t, 720, 360, [6]float64{-180, 0.5, 0, 90, 0, -0.5}, LonLatCRS(geom.Body{SemiMajor: b.SemiMajor}), b),
		} {
			for _, c := range []geom.LonLat{{Lon: -0.1, Lat: 40}, {Lon: 179.9, Lat: 70}, {Lon: 20, Lat: 88}, {Lon: 20, Lat: 90}, {Lon: 3, Lat: -10}} {
				checkEllipsoid(t, b.Name+" "+name, &g, c, 7*m)
			}
		}
	}
}

func checkEllipsoid(t *testing.T, name string, g *Grid, c geom.LonLat, reach float64) {
	t.Helper()
	var p Patch
	if err := g.Geometry(g.Body, c, reach, 0, &p); err != nil {
		t.Fatal(err)
	}
	if x, y, _ := g.Pixel(c); !g.Inside(x, y) {
		if p.Len() != 0 {
			t.Errorf("%s at %v: %d pixels of a crater off the map", name, c, p.Len())
		}
		return
	}
	f := geom.NewFrame(g.Body, c)
	px := g.Body.SemiMajor * math.Pi / 360
	seen, sum := make(map[[2]int]bool), 0.0
	for i := range p.R {
		col, row := p.Column(i), p.Row(i)
		if n := g.period(); n > 0 {
			col = floorMod(col, n)
		}
		if seen[[2]int{col, row}] {
			t.Fatalf("%s at %v: pixel %d, %d comes twice", name, c, col, row)
		}
		seen[[2]int{col, row}] = true
		q, _ := g.LonLat(float64(col)+0.5, float64(row)+0.5)
		r, az := f.Polar(q)
		if math.Abs(p.R[i]-r) > 0.01*px || angleDiff(p.Az[i], az)*r > 0.01*px {
			t.Fatalf("%s at %v: pixel %v is at %.3f, %.6f; geodesic %.3f, %.6f", name, c, q, p.R[i], p.Az[i], r, az)
		}
		sum += p.Area[i]
	}
	for row := 0; row < g.Height; row++ {
		for col := 0; col < g.Width; col++ {
			q, ok := g.LonLat(float64(col)+0.5, float64(row)+0.5)
			if !ok || math.Abs(q.Lat-c.Lat) > 9 || seen[[2]int{col, row}] {
				continue
			}
			if r, _ := f.Polar(q); r < reach-0.01*px {
				t.Fatalf("%s at %v: pixel %v at %g is not there", name, c, q, r)
			}
		}
	}
	// The area of a geodesic disc is pi r^2 (1 - K r^2/12), K at the centre.
	e := newEllipsoidFrame(g.Body, c)
	want := math.Pi * reach * reach * (1 - e.curv*reach*reach/12)
	tol := math.Max(0.012, 1.2*p.RowMetres/reach*poleShare(c))
	if math.Abs(sum/want-1) > tol {
		t.Errorf("%s at %v: area %.5g, want %.5g", name, c, sum, want)
	}
}

// poleShare is 1 where the edge of a cap runs along rows.
func poleShare(c geom.LonLat) float64 {
	if c.Lat > 87 {
		return 1
	}
	return 0
}

func TestLocalStepsOnEllipsoid(t *testing.T) {
	b := geom.Body{Name: "flatter", SemiMajor: 482000, InverseFlattening: 482.0 / 36}
	for _, crs := range []string{LonLatCRS(b), LonLatCRS(geom.Body{SemiMajor: b.SemiMajor})} {
		g := mustGrid(t, 3600, 1800, [6]float64{-180, 0.1, 0, 90, 0, -0.1}, crs, b)
		for _, lat := range []float64{0, 33, -70} {
			at := geom.LonLat{Lon: 12, Lat: lat}
			x, y, _ := g.Pixel(at)
			f := geom.NewFrame(b, at)
			l := g.local(b, at)
			for _, c := range []struct {
				dx, dy, want float64
			}{{0.5, 0, l.col / 2}, {0, 0.5, l.row / 2}, {0, -0.5, l.row / 2}} {
				q, _ := g.LonLat(x+c.dx, y+c.dy)
				if r, _ := f.Polar(q); math.Abs(r/c.want-1) > 2e-3 {
					t.Errorf("lat %g step %g,%g: %g, want %g", lat, c.dx, c.dy, c.want, r)
				}
			}
		}
	}
}
