package raster

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/geom"
)

// discRadii are radii of a crater, the widest first.
func discRadii(rng *rand.Rand, pixel float64) []float64 {
	r := pixel * math.Exp(4*rng.Float64()-2)
	return []float64{4 * r, 3 * r, 3 * r, 1.5 * r, r}
}

// rangeMarks are the marks of a window from the range of every pixel, and whether a
// pixel is too near to a radius to be told.
func rangeMarks(t *testing.T, g *Grid, w LevelWindow, centre geom.LonLat, radii []float64) (marks []uint8, near []bool) {
	t.Helper()
	marks, near = make([]uint8, w.Width*w.Height), make([]bool, w.Width*w.Height)
	var p Patch
	if err := g.Geometry(moon, centre, radii[0]*1.001, w.Level, &p); err != nil {
		return nil, nil
	}
	turn := (g.period() + p.Block - 1) / p.Block
	for i, r := range p.R {
		x, y := p.Column(i)-w.X, p.Row(i)-w.Y
		if turn > 0 {
			x = floorMod(x, turn)
		}
		if y < 0 || y >= w.Height {
			continue
		}
		for ; x >= 0 && x < w.Width; x += max(turn, w.Width) {
			for k, limit := range radii {
				if r < limit {
					marks[y*w.Width+x] |= 1 << k
				}
				near[y*w.Width+x] = near[y*w.Width+x] || math.Abs(r/limit-1) < 1e-9
			}
		}
	}
	leaveOut(g, w, near)
	return marks, near
}

// leaveOut marks the pixels beyond the edge of a map, of which a patch may have none.
func leaveOut(g *Grid, w LevelWindow, pixels []bool) {
	b := 1 << w.Level
	for i := range pixels {
		x, y := w.X+i%w.Width, w.Y+i/w.Width
		if turn := (g.period() + b - 1) / b; turn > 0 {
			x = floorMod(x, turn)
		}
		pixels[i] = pixels[i] || x*b < 0 || x*b >= g.Width || y*b < 0 || y*b >= g.Height
	}
}

// discWindow is a window somewhere on a map, or beside it.
func discWindow(g *Grid, rng *rand.Rand, level int) LevelWindow {
	wide, high := g.Width>>level, g.Height>>level
	return LevelWindow{Level: level, X: rng.IntN(wide) - wide/8, Y: rng.IntN(high) - high/8, Width: 8 + rng.IntN(40), Height: 8 + rng.IntN(40)}
}

// TestDiscsEqualRanges: on maps of all kinds and at all levels the discs are the
// pixels whose range is below the radii, also round a pole, across the edge of the
// map and where columns repeat.
func TestDiscsEqualRanges(t *testing.T) {
	for n, tg := range testGrids(t) {
		t.Run(tg.name, func(t *testing.T) {
			g, rng := &tg.g, rand.New(rand.NewPCG(uint64(n), 8))
			d := NewDiscs(g, moon).Another()
			pixel, marked := math.Sqrt(math.Abs(g.Geo[1]*g.Geo[5])), 0
			if g.cylinder() != nil {
				pixel = g.PixelSize(geom.LonLat{})
			}
			rounds := 40
			if g.cylinder() == nil {
				rounds = 16 // far patches without a closed form take long
			}
			for i := range rounds {
				w := discWindow(g, rng, i%4)
				x, y := float64(w.X)+(1.5*rng.Float64()-0.25)*float64(w.Width), float64(w.Y)+(1.5*rng.Float64()-0.25)*float64(w.Height)
				b := float64(int(1) << w.Level)
				centre, ok := g.LonLat(x*b, y*b)
				if i%10 == 0 && g.cylinder() != nil {
					centre, ok = geom.LonLat{Lon: 360*rng.Float64() - 180, Lat: math.Copysign(90-0.3*float64(i%4), rng.Float64()-0.5)}, true
				}
				if !ok {
					continue
				}
				d.Begin(w)
				radii := discRadii(rng, pixel*b)
				marked += checkDiscs(t, g, d, centre, radii)
			}
			if marked == 0 {
				t.Error("no pixel was marked")
			}
		})
	}
}

// checkDiscs adds a crater and returns the number of pixels marked.
func checkDiscs(t *testing.T, g *Grid, d *Discs, centre geom.LonLat, radii []float64) (marked int) {
	t.Helper()
	want, near := rangeMarks(t, g, d.w, centre, radii)
	if want == nil {
		return 0
	}
	d.Add(centre, radii)
	for i, m := range d.Marks {
		if m != 0 {
			marked++
		}
		if m != want[i] && !near[i] {
			t.Fatalf("%+v, crater at %v, radii %v: column %d, row %d has %b, want %b", d.w, centre, radii, i%d.w.Width, i/d.w.Width, m, want[i])
		}
	}
	return marked
}

// Marks of several craters join, and a new window begins without any.
func TestDiscsJoin(t *testing.T) {
	g, err := GlobalGrid(moon, 360, 0)
	if err != nil {
		t.Fatal(err)
	}
	d, w := NewDiscs(&g, moon), LevelWindow{X: 170, Y: 80, Width: 20, Height: 20}
	alone := make([]uint8, 400)
	at := [2]geom.LonLat{{Lon: -1, Lat: 3}, {Lon: 2, Lat: 0}}
	for _, c := range at {
		d.Begin(w)
		d.Add(c, []float64{2e5, 1e5})
		for i, m := range d.Marks {
			alone[i] |= m
		}
	}
	d.Begin(w)
	for _, c := range at {
		d.Add(c, []float64{2e5, 1e5})
	}
	d.Add(geom.LonLat{Lat: math.NaN()}, []float64{1e5})
	d.Add(geom.LonLat{}, nil)
	for i, m := range d.Marks {
		if m != alone[i] {
			t.Fatalf("pixel %d: %b, alone %b", i, m, alone[i])
		}
	}
}

// BenchmarkDiscs marks five discs round craters of some radii in pixels, and finds
// the ranges of as many pixels.
func BenchmarkDiscs(b *testing.B) {
	g, err := GlobalGrid(moon, 4096, 0)
	if err != nil {
		b.Fatal(err)
	}
	for name, radius := range map[string]float64{"R=0.5": 0.5, "R=3": 3, "R=30": 30} {
		r, at := radius*g.PixelSize(geom.LonLat{}), geom.LonLat{Lon: 3, Lat: 40}
		w := LevelWindow{X: 1850, Y: 320, Width: 512, Height: 512}
		b.Run(name+"/discs", func(b *testing.B) {
			d := NewDiscs(&g, moon)
			d.Begin(w)
			for b.Loop() {
				d.Add(at, []float64{4 * r, 3 * r, 2 * r, 1.5 * r, r})
			}
		})
		b.Run(name+"/ranges", func(b *testing.B) {
			var p Patch
			for b.Loop() {
				if err := g.Ranges(moon, at, 4*r, 0, &p, Window{w.X, w.Y, w.Width, w.Height}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
