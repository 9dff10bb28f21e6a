package raster

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/geom"

	"pgregory.net/rapid"
)

// numbered returns a grid and values that tell column and row.
func numbered(t testing.TB, g Grid) []float32 {
	t.Helper()
	v := make([]float32, g.Width*g.Height)
	for i := range v {
		v[i] = float32(i%g.Width*1000 + i/g.Width)
	}
	return v
}

func smallGrid(t testing.TB, w, h int, west float64) Grid {
	return mustGrid(t, w, h, [6]float64{west, 10, 0, 90, 0, -10}, LonLatCRS(moon), moon)
}

// wantPixel is the rule of Read, spelled out for one pixel.
func wantPixel(g *Grid, x, y int) float64 {
	if g.period() > 0 {
		x = floorMod(x, g.period())
	}
	if x < 0 || x >= g.Width || y < 0 || y >= g.Height {
		return math.NaN()
	}
	return float64(x*1000 + y)
}

func checkWindow(t fataler, l *Layer, x0, y0, w, h int) {
	dst := make([]float32, w*h+1)
	dst[w*h] = 42
	if err := l.Read(x0, y0, w, h, dst); err != nil {
		t.Fatalf("%v", err)
	}
	for i := 0; i < w*h; i++ {
		want := wantPixel(&l.grid, x0+i%w, y0+i/w)
		if got := float64(dst[i]); got != want && (got == got || want == want) {
			t.Fatalf("window %d,%d %dx%d of %d columns: pixel %d is %g, want %g", x0, y0, w, h, l.grid.Width, i, got, want)
		}
	}
	if dst[w*h] != 42 {
		t.Fatalf("wrote beyond the window")
	}
}

func TestWindows(t *testing.T) {
	var layers []*Layer
	for _, g := range []Grid{smallGrid(t, 36, 18, -180), smallGrid(t, 36, 18, 0), smallGrid(t, 37, 18, -180), smallGrid(t, 7, 5, 150),
		mustGrid(t, 9, 7, [6]float64{-45, 10, 0, 35, 0, -10}, StereographicCRS(moon, false, 0), moon)} {
		v := numbered(t, g)
		path := filepath.Join(t.TempDir(), "map.tif")
		if err := WriteGeoTIFF(path, &g, []Band{{Values: v}}, WriteOptions{BlockSize: 16}); err != nil {
			t.Fatal(err)
		}
		layers = append(layers, NewMemory("numbers", "1", g, v), mustOpen(t, Spec{Path: path, Body: moon}))
	}
	rapid.Check(t, func(rt *rapid.T) {
		l := layers[rapid.IntRange(0, len(layers)-1).Draw(rt, "layer")]
		checkWindow(rt, l, rapid.IntRange(-90, 90).Draw(rt, "x"), rapid.IntRange(-30, 30).Draw(rt, "y"),
			rapid.IntRange(1, 100).Draw(rt, "w"), rapid.IntRange(1, 40).Draw(rt, "h"))
	})
}

func FuzzWindow(f *testing.F) {
	f.Add(35, 0, 3, 2)
	f.Add(-1, -1, 40, 20)
	f.Add(1<<40, 5, 2, 2)
	var layers []*Layer
	for _, g := range []Grid{smallGrid(f, 36, 18, -180), smallGrid(f, 7, 5, 150)} {
		layers = append(layers, NewMemory("numbers", "1", g, numbered(f, g)))
	}
	f.Fuzz(func(t *testing.T, x, y, w, h int) {
		if w <= 0 || h <= 0 || w > 200 || h > 200 || x > 1<<50 || x < -1<<50 || y > 1<<50 || y < -1<<50 {
			return
		}
		for _, l := range layers {
			checkWindow(t, l, x, y, w, h)
		}
	})
}

func TestWriteAndRead(t *testing.T) {
	g, err := GlobalGrid(moon, 64, 0)
	if err != nil {
		t.Fatal(err)
	}
	v := make([]float32, g.Width*g.Height)
	for i := range v {
		v[i] = float32(i%50) * 0.5
	}
	v[5] = float32(math.NaN())
	for _, c := range []struct {
		name string
		opt  WriteOptions
		tol  float64
	}{
		{name: "float32"},
		{name: "float32, tag", opt: WriteOptions{NoData: ptr(-9999.0)}},
		{name: "int16", opt: WriteOptions{Int16: true, Scale: 0.01, Offset: 3}, tol: 0.006},
		{name: "COG", opt: WriteOptions{COG: true}},
		{name: "DEFLATE, small tiles", opt: WriteOptions{Compress: "DEFLATE", BlockSize: 16}},
		{name: "no compression", opt: WriteOptions{Compress: "NONE"}},
		{name: "point", opt: WriteOptions{PixelIsPoint: true, Metadata: map[string]string{"SOURCE": "a test"}}},
	} {
		path := filepath.Join(t.TempDir(), "map.tif")
		err := WriteGeoTIFF(path, &g, []Band{{"water", "ppm & <wt%>", v}, {"hydroxyl", "", v}}, c.opt)
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*")); len(left) != 1 {
			t.Errorf("%s: files %v", c.name, left)
		}
		l := mustOpen(t, Spec{Path: path, BandName: "water", Body: moon})
		info := l.Info()
		if info.Unit != "ppm & <wt%>" || info.UnitSource != "file" || info.PixelIsPoint != c.opt.PixelIsPoint || !l.Grid().Same(&g) {
			t.Errorf("%s: %+v", c.name, info)
		}
		if c.opt.BlockSize == 0 && info.BlockWidth != 512 && info.BlockWidth != 64 {
			t.Errorf("%s: blocks of %d", c.name, info.BlockWidth)
		}
		for i, got := range readAll(t, l) {
			if want := v[i]; !(math.Abs(float64(got-want)) <= c.tol) && (got == got || want == want) {
				t.Fatalf("%s: pixel %d is %g, want %g", c.name, i, got, want)
			}
		}
		second := mustOpen(t, Spec{Path: path, Band: 2, Body: moon})
		if u := second.Info(); u.Unit != "" || u.UnitSource != "none" {
			t.Errorf("%s: second band has unit %q", c.name, u.Unit)
		}
	}
}

func TestWriteRefusesWhatDoesNotFit(t *testing.T) {
	g := smallGrid(t, 36, 18, -180)
	v := make([]float32, 36*18)
	v[40] = 50000
	path := filepath.Join(t.TempDir(), "map.tif")
	err := WriteGeoTIFF(path, &g, []Band{{Values: v}}, WriteOptions{Int16: true})
	refusal(t, err, Output, "pixel 4, 1", "16 bits")
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*")); len(left) != 0 {
		t.Errorf("files %v", left)
	}
	err = WriteGeoTIFF(filepath.Join(t.TempDir(), "absent", "map.tif"), &g, []Band{{Values: v}}, WriteOptions{})
	refusal(t, err, Output, "absent")
}

// TestFill compares the values of a patch with single reads, and block means
// with plain sums.
func TestFill(t *testing.T) {
	for _, g := range []Grid{smallGrid(t, 36, 18, -180), mustGrid(t, 721, 361, [6]float64{-180.25, 0.5, 0, 90.25, 0, -0.5}, LonLatCRS(moon), moon),
		mustGrid(t, 300, 200, [6]float64{-1.2e6, 8e3, 0, 8e5, 0, -8e3}, StereographicCRS(moon, true, 0), moon),
		mustGrid(t, 300, 200, [6]float64{-1.2e6, 8e3, 0, 8e5, 0, -8e3}, "+proj=sinu +R=1737400 +no_defs", moon)} {
		v := numbered(t, g)
		for i := range v {
			if i%7 == 0 || i%5 == 0 && i%2 == 0 {
				v[i] = float32(math.NaN())
			}
		}
		s := &LayerSet{Layers: []*Layer{NewMemory("a", "1", g, v)}}
		for _, c := range []geom.LonLat{{Lon: 179, Lat: 5}, {Lon: 30, Lat: -87}, {Lon: 0, Lat: 0}} {
			for level := 0; level <= 3; level++ {
				var p Patch
				if err := g.Geometry(moon, c, 6e5, level, &p); err != nil {
					t.Fatal(err)
				}
				if err := s.Fill(&p); err != nil {
					t.Fatal(err)
				}
				checkFill(t, &g, v, &p)
			}
		}
	}
}

func checkFill(t *testing.T, g *Grid, v []float32, p *Patch) {
	t.Helper()
	period := g.period()
	for i := range p.R {
		sum, n, all := 0.0, 0, 0
		for dy := 0; dy < p.Block; dy++ {
			for dx := 0; dx < p.Block; dx++ {
				x, y := p.Column(i)*p.Block+dx, p.Row(i)*p.Block+dy
				if period > 0 {
					x = floorMod(p.Column(i), (period+p.Block-1)/p.Block)*p.Block + dx
					if x >= period {
						continue // the next block starts at the edge of the map
					}
				}
				if c := g.cylinder(); c != nil {
					if _, _, ok := g.blockLatitudes(c, y, 1); ok == 0 {
						continue
					}
				}
				all++
				if x >= 0 && y >= 0 && x < g.Width && y < g.Height && v[y*g.Width+x] == v[y*g.Width+x] {
					sum += float64(v[y*g.Width+x])
					n++
				}
			}
		}
		got, want := float64(p.Values[0][i]), math.NaN()
		if n > 0 && float64(n) >= minValid*float64(all) {
			want = sum / float64(n)
		}
		if !(math.Abs(got-want) <= 1e-4*math.Abs(want)) && (got == got || want == want) {
			t.Fatalf("level %d pixel %d,%d: %g, want %g (%d of %d)", p.Level, p.Column(i), p.Row(i), got, want, n, all)
		}
		if p.Level > 0 && math.Abs(float64(p.Fraction[0][i])-float64(n)/float64(all)) > 1e-6 {
			t.Fatalf("level %d pixel %d,%d: share %g, want %d of %d", p.Level, p.Column(i), p.Row(i), p.Fraction[0][i], n, all)
		}
	}
}

func TestSteadyStateAllocatesNothing(t *testing.T) {
	g, err := GlobalGrid(moon, 1024, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := &LayerSet{Layers: []*Layer{NewMemory("a", "1", g, make([]float32, g.Width*g.Height))}}
	var p Patch
	for _, level := range []int{0, 2} {
		n := testing.AllocsPerRun(20, func() {
			if err := g.Geometry(moon, geom.LonLat{Lon: 179, Lat: 40}, 3e5, level, &p); err != nil {
				t.Fatal(err)
			}
			if err := s.Fill(&p); err != nil {
				t.Fatal(err)
			}
		})
		if n > 0 {
			t.Errorf("level %d: %g allocations for each crater", level, n)
		}
	}
}

func TestCutout(t *testing.T) {
	g, err := GlobalGrid(moon, 720, 0)
	if err != nil {
		t.Fatal(err)
	}
	// Latitude as value: a picture must be symmetric and rise to the north.
	v := make([]float32, g.Width*g.Height)
	for i := range v {
		v[i] = 90 - (float32(i/g.Width)+0.5)/2
	}
	l := NewMemory("latitude", "deg", g, v)
	for _, c := range []geom.LonLat{{Lon: 180, Lat: 10}, {Lon: -20, Lat: -60}, {Lon: 5, Lat: 88}} {
		f := geom.NewFrame(moon, c)
		dst := make([]float32, 41*41)
		if err := Cutout(l, f, 2e5, 41, dst); err != nil {
			t.Fatal(err)
		}
		for i, got := range dst {
			e, n := (float64(i%41)-20)/20.5*2e5, (20-float64(i/41))/20.5*2e5
			want := f.LonLat(math.Hypot(e, n), positive(math.Atan2(e, n))).Lat
			if math.Abs(float64(got)-want) > 0.3 {
				t.Fatalf("at %v: pixel %d shows %g, want %g", c, i, got, want)
			}
		}
	}
}

func TestSame(t *testing.T) {
	g := smallGrid(t, 36, 18, -180)
	shifted := smallGrid(t, 36, 18, -179.98)
	other := mustGrid(t, 36, 18, g.Geo, LonLatCRS(geom.Body{Name: "x", SemiMajor: 1738000}), moon)
	renamed := mustGrid(t, 36, 18, g.Geo, strings.ReplaceAll(LonLatCRS(moon), "Test sphere", "renamed"), moon)
	if !g.Same(&renamed) || g.Same(&shifted) || g.Same(&other) {
		t.Errorf("renamed %v, shifted %v, other radius %v", g.Same(&renamed), g.Same(&shifted), g.Same(&other))
	}
}
