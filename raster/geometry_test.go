package raster

import (
	"fmt"
	"math"
	"testing"

	"rimcast/geom"

	"pgregory.net/rapid"
)

var moon = geom.Body{Name: "Test sphere", SemiMajor: 1737400}

func mustProjection(t testing.TB, text string) Projection {
	t.Helper()
	p, err := NewProjection(text)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func mustGrid(t testing.TB, w, h int, geo [6]float64, crs string, b geom.Body) Grid {
	t.Helper()
	g, err := NewGrid(w, h, geo, mustProjection(t, crs), b)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// naive is the textbook formula: haversine distance and initial bearing.
func naive(r float64, c, p geom.LonLat) (dist, az float64) {
	f1, f2 := c.Lat*math.Pi/180, p.Lat*math.Pi/180
	dl := (p.Lon - c.Lon) * math.Pi / 180
	s1, s2 := math.Sin((f2-f1)/2), math.Sin(dl/2)
	h := s1*s1 + math.Cos(f1)*math.Cos(f2)*s2*s2
	az = math.Atan2(math.Sin(dl)*math.Cos(f2), math.Cos(f1)*math.Sin(f2)-math.Sin(f1)*math.Cos(f2)*math.Cos(dl))
	return 2 * r * math.Asin(math.Min(1, math.Sqrt(h))), math.Mod(az+2*math.Pi, 2*math.Pi)
}

func angleDiff(a, b float64) float64 {
	d := math.Abs(a - b)
	return math.Min(d, 2*math.Pi-d)
}

type testGrid struct {
	name string
	g    Grid
	// wrap is the number of columns after which the map repeats.
	wrap int
	// tol is the error of range allowed in pixels; 0 = 1e-9 of the range.
	tol float64
	// place holds the places of all pixel centres of the map; NaN where there
	// is none.
	place []geom.LonLat
}

func (tg *testGrid) at(col, row int) (geom.LonLat, bool) {
	g := &tg.g
	if col < 0 || row < 0 || col >= g.Width || row >= g.Height {
		return g.LonLat(float64(col)+0.5, float64(row)+0.5)
	}
	q := tg.place[row*g.Width+col]
	return q, q.Lat == q.Lat
}

var cachedGrids []testGrid

func testGrids(t testing.TB) []testGrid {
	if cachedGrids == nil {
		cachedGrids = makeTestGrids(t)
	}
	for i := range cachedGrids {
		tg := &cachedGrids[i]
		g := &tg.g
		for n := len(tg.place); n < g.Width*g.Height; n++ {
			q, ok := g.LonLat(float64(n%g.Width)+0.5, float64(n/g.Width)+0.5)
			if !ok {
				q.Lat = math.NaN()
			}
			tg.place = append(tg.place, q)
		}
	}
	return cachedGrids
}

func makeTestGrids(t testing.TB) []testGrid {
	m := math.Pi / 180 * moon.SemiMajor
	lonlat, eqc := LonLatCRS(moon), EquirectangularCRS(moon, 0, 0)
	eqc180 := EquirectangularCRS(moon, 180, 30)
	k30 := math.Cos(math.Pi / 6)
	grids := []testGrid{
		{"lonlat -180", mustGrid(t, 720, 360, [6]float64{-180, 0.5, 0, 90, 0, -0.5}, lonlat, moon), 720, 0, nil},
		{"lonlat 0..360", mustGrid(t, 720, 360, [6]float64{0, 0.5, 0, 90, 0, -0.5}, lonlat, moon), 720, 0, nil},
		{"lonlat south up", mustGrid(t, 720, 360, [6]float64{-180, 0.5, 0, -90, 0, 0.5}, lonlat, moon), 720, 0, nil},
		{"lonlat odd", mustGrid(t, 719, 359, [6]float64{-180, 360. / 719, 0, 90, 0, -180. / 359}, lonlat, moon), 719, 0, nil},
		{"lonlat doubled column", mustGrid(t, 361, 181, [6]float64{-180.5, 1, 0, 90.5, 0, -1}, lonlat, moon), 360, 0, nil},
		{"regional over the cut", mustGrid(t, 160, 120, [6]float64{150, 0.5, 0, 30, 0, -0.5}, lonlat, moon), 720, 0, nil},
		{"equirectangular", mustGrid(t, 720, 360, [6]float64{-180 * m, m / 2, 0, 90 * m, 0, -m / 2}, eqc, moon), 720, 0, nil},
		{"equirectangular 180, lat_ts 30", mustGrid(t, 720, 360, [6]float64{-180 * m * k30, m / 2 * k30, 0, 90 * m, 0, -m / 2}, eqc180, moon), 720, 0, nil},
		{"stereographic north", mustGrid(t, 400, 400, [6]float64{-2e6, 1e4, 0, 2e6, 0, -1e4}, StereographicCRS(moon, false, 0), moon), 0, 0, nil},
		{"stereographic south", mustGrid(t, 400, 400, [6]float64{-2e6, 1e4, 0, 2e6, 0, -1e4}, StereographicCRS(moon, true, 30), moon), 0, 0, nil},
	}
	for _, proj := range []string{"sinu +lon_0=10", "laea +lat_0=30 +lon_0=-50", "ortho +lat_0=20 +lon_0=100", "moll", "merc", "lcc +lat_1=20 +lat_2=60"} {
		g := mustGrid(t, 550, 350, [6]float64{-5.5e6, 2e4, 0, 3.5e6, 0, -2e4}, "+proj="+proj+" +R=1737400 +no_defs", moon)
		grids = append(grids, testGrid{proj, g, 0, 0.01, nil})
	}
	rot := mustGrid(t, 400, 400, [6]float64{-2e6, 8e3, 6e3, 2e6, 6e3, -8e3}, StereographicCRS(moon, false, 0), moon)
	return append(grids, testGrid{"stereographic, rotated", rot, 0, 0.01, nil})
}

// checkPatch compares a patch with the naive formula over every pixel of the
// map, and over its own pixels beyond the map.
func checkPatch(t fataler, tg *testGrid, c geom.LonLat, reach float64, p *Patch) {
	g := &tg.g
	size := math.Sqrt(math.Abs(g.Geo[1] * g.Geo[5]))
	if g.cylinder() != nil {
		size /= g.cylinder().ky / (math.Pi / 180 * moon.SemiMajor)
	}
	tolR := func(r float64) float64 { return math.Max(tg.tol*size, 1e-9*r+1e-6) }
	seen := make(map[[2]int]bool, p.Len())
	for i := range p.R {
		col, row := p.Column(i), p.Row(i)
		if tg.wrap > 0 {
			col = floorMod(col, tg.wrap)
		}
		if seen[[2]int{col, row}] {
			t.Fatalf("%s: pixel %d, %d comes twice", tg.name, col, row)
		}
		seen[[2]int{col, row}] = true
		q, ok := tg.at(col, row)
		if !ok {
			t.Fatalf("%s: pixel %d, %d is no place", tg.name, col, row)
		}
		r, az := naive(moon.SemiMajor, c, q)
		if !(math.Abs(p.R[i]-r) <= tolR(r)) || p.R[i] > reach {
			t.Fatalf("%s: centre %v pixel %d,%d (%v): range %.9f, want %.9f", tg.name, c, col, row, q, p.R[i], r)
		}
		if math.Sin(r/moon.SemiMajor) > 1e-3 && angleDiff(p.Az[i], az)*moon.SemiMajor*math.Sin(r/moon.SemiMajor) > tolR(r)+1e-9*moon.SemiMajor {
			t.Fatalf("%s: centre %v pixel %d,%d (%v): azimuth %.12f, want %.12f at range %g", tg.name, c, col, row, q, p.Az[i], az, r)
		}
		if !(p.Area[i] > 0) {
			t.Fatalf("%s: pixel %d,%d has area %g", tg.name, col, row, p.Area[i])
		}
	}
	width := g.Width
	if tg.wrap > 0 {
		width = min(width, tg.wrap)
	}
	for row := 0; row < g.Height; row++ {
		for col := 0; col < width; col++ {
			q, ok := tg.at(col, row)
			if !ok || math.Abs(q.Lat-c.Lat) > reach/moon.SemiMajor*60 || seen[[2]int{col, row}] {
				continue
			}
			if r, _ := naive(moon.SemiMajor, c, q); r < reach-tolR(r) {
				t.Fatalf("%s: centre %v reach %g: pixel %d,%d at %v, range %g, is not there", tg.name, c, reach, col, row, q, r)
			}
		}
	}
}

type fataler interface{ Fatalf(string, ...any) }

func TestGeometryEqualsFormula(t *testing.T) {
	grids := testGrids(t)
	var p Patch
	rapid.Check(t, func(rt *rapid.T) {
		tg := grids[rapid.IntRange(0, len(grids)-1).Draw(rt, "grid")]
		c := drawPlace(rt)
		reach := rapid.Float64Range(1e3, 9e5).Draw(rt, "reach")
		if err := tg.g.Geometry(moon, c, reach, 0, &p); err != nil {
			rt.Fatalf("%s: %v", tg.name, err)
		}
		checkPatch(rt, &tg, c, reach, &p)
	})
}

// drawPlace prefers the places where things go wrong.
func drawPlace(rt *rapid.T) geom.LonLat {
	lon := rapid.OneOf(rapid.Float64Range(-180, 180), rapid.SampledFrom([]float64{-180, -179.99, 0, 0.01, 90, 179.75, 180})).Draw(rt, "lon")
	lat := rapid.OneOf(rapid.Float64Range(-90, 90), rapid.SampledFrom([]float64{-90, -89.9, -80, 0, 60, 89.5, 90})).Draw(rt, "lat")
	return geom.LonLat{Lon: lon, Lat: lat}
}

func TestGeometryAtEveryHardPlace(t *testing.T) {
	var p Patch
	for _, tg := range testGrids(t) {
		for _, lon := range []float64{-180, 10, 179.9} {
			for _, lat := range []float64{-90, -89.9, -45, 0, 20.25, 71, 90} {
				c, reach := geom.LonLat{Lon: lon, Lat: lat}, 9e4
				if lon == 179.9 {
					reach = 4e5
				}
				if err := tg.g.Geometry(moon, c, reach, 0, &p); err != nil {
					t.Fatalf("%s: %v", tg.name, err)
				}
				checkPatch(t, &tg, c, reach, &p)
			}
		}
	}
}

// TestAreaOfCap adds the pixel areas of caps that lie wholly on the map: they
// must give 2 pi R^2 (1 - cos(reach/R)) within the roughness of the edge.
func TestAreaOfCap(t *testing.T) {
	tested := 0
	for _, tg := range testGrids(t) {
		for _, c := range []geom.LonLat{{Lon: 100, Lat: 40}, {Lon: -179.5, Lat: 60}, {Lon: 100, Lat: 90}, {Lon: -60, Lat: 50},
			{Lon: -175, Lat: 0}, {Lon: -140, Lat: 3}, {Lon: 20, Lat: -75}} {
			var p Patch
			reach := 4e5
			if !shown(&tg.g, c, reach) {
				continue
			}
			tested++
			if err := tg.g.Geometry(moon, c, reach, 0, &p); err != nil {
				t.Fatal(err)
			}
			sum := 0.0
			for _, a := range p.Area {
				sum += a
			}
			want := 2 * math.Pi * moon.SemiMajor * moon.SemiMajor * (1 - math.Cos(reach/moon.SemiMajor))
			tol := math.Max(0.005, 3*math.Pow(float64(p.Len()), -0.75)) // a circle over a lattice
			switch {
			case math.Abs(c.Lat) == 90 && tg.wrap > 0:
				tol = p.RowMetres / reach // the edge runs along a row
			case math.Abs(c.Lat) == 90 && tg.name[:3] == "lcc":
				tol = 0.03 // a few pixels at the apex, where the scale is infinite
			case math.Abs(c.Lat) == 90 && (tg.name[:4] == "sinu" || tg.name == "moll"):
				tol = p.RowMetres / reach // the cap is a wedge between rows
			}
			if math.Abs(sum/want-1) > tol {
				t.Errorf("%s at %v: area %.6g, want %.6g (%d pixels)", tg.name, c, sum, want, p.Len())
			}
		}
	}
	if tested < 70 {
		t.Errorf("only %d caps compared", tested)
	}
}

// shown reports whether a projection has an image for a centre on the map and
// for the whole edge of a cap round it.
func shown(g *Grid, c geom.LonLat, reach float64) bool {
	x, y, ok := g.Pixel(c)
	if !ok || !g.Inside(x, y) {
		return false
	}
	f := geom.NewFrame(moon, c)
	for i := 0; i < 720; i++ {
		if x, y, ok := g.Pixel(f.LonLat(reach, float64(i)*math.Pi/360)); !ok || math.Hypot(x, y) > 5000 {
			return false
		}
	}
	return true
}

func TestLevelsAgreeWithBlocks(t *testing.T) {
	for _, tg := range testGrids(t) {
		if tg.wrap == 0 {
			continue
		}
		for level := 1; level <= 4; level++ {
			for _, c := range []geom.LonLat{{Lon: 179.9, Lat: 30}, {Lon: 3, Lat: -88}, {Lon: -100, Lat: 0}} {
				name := fmt.Sprintf("%s level %d at %v", tg.name, level, c)
				checkLevel(t, name, tg, c, level)
			}
		}
	}
}

func checkLevel(t *testing.T, name string, tg testGrid, c geom.LonLat, level int) {
	var p Patch
	if err := tg.g.Geometry(moon, c, 5e5, level, &p); err != nil {
		t.Fatal(err)
	}
	block := 1 << level
	n := (tg.wrap + block - 1) / block
	sum := 0.0
	for i := range p.R {
		col := floorMod(p.Column(i), n) * block
		width := min(block, tg.wrap-col)
		first, last := max(0, p.Row(i)*block), min(tg.g.Height, (p.Row(i)+1)*block)
		if !tg.g.Global {
			first, last = p.Row(i)*block, (p.Row(i)+1)*block
		}
		q, _ := tg.g.LonLat(float64(col)+float64(width)/2, float64(first+last)/2)
		r, _ := naive(moon.SemiMajor, c, q)
		if math.Abs(r-p.R[i]) > 1e-6+1e-9*r {
			t.Fatalf("%s: block %d,%d range %.6f, want %.6f", name, p.Column(i), p.Row(i), p.R[i], r)
		}
		sum += p.Area[i]
	}
	want := 2 * math.Pi * moon.SemiMajor * moon.SemiMajor * (1 - math.Cos(5e5/moon.SemiMajor))
	if x, y, _ := tg.g.Pixel(c); tg.g.Inside(x, y) && math.Abs(sum/want-1) > 1.5*p.RowMetres/5e5 {
		t.Errorf("%s: area %.4g, want %.4g", name, sum, want)
	}
}

func TestCentreOfPatch(t *testing.T) {
	for _, tg := range testGrids(t) {
		var p Patch
		c := geom.LonLat{Lon: 100.3, Lat: 41.2}
		if err := tg.g.Geometry(moon, c, 1e5, 0, &p); err != nil {
			t.Fatal(err)
		}
		// The pixel that holds the centre is X = 0, Y = 0, and a pixel north of
		// it lies where Rotation says.
		for i := range p.R {
			if p.X[i] == 0 && p.Y[i] == 0 && p.R[i] > p.PixelSize {
				t.Errorf("%s: centre pixel at %g m, pixel size %g", tg.name, p.R[i], p.PixelSize)
			}
			if p.X[i] == 0 && p.Y[i] == -5 && tg.name != "merc" {
				want := p.Rotation
				dx, dy := (0-p.CX)*p.ColMetres, (-5-p.CY)*p.RowMetres
				if r := math.Hypot(dx, dy); math.Abs(p.R[i]/r-1) > 0.25 {
					t.Errorf("%s: range %g, from the steps %g", tg.name, p.R[i], r)
				}
				if angleDiff(p.Az[i], want) > 0.4 {
					t.Errorf("%s: azimuth %g, rotation %g", tg.name, p.Az[i], want)
				}
			}
		}
	}
}

// TestSineNear: the quick sine is that of the library, but for a last place where
// the library has another way.
func TestSineNear(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := rapid.Float64Range(-1, 1).Draw(rt, "x")
		if got, want := sinNear(x), math.Sin(x); math.Abs(got-want) > 3e-16*math.Abs(want) {
			rt.Fatalf("sine of %g is %.17g, want %.17g", x, got, want)
		}
	})
}
