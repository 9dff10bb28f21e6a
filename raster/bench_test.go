package raster

import (
	"fmt"
	"math"
	"slices"
	"syscall"
	"testing"

	"rimcast/geom"
)

// benchGrid is a map with pixels of about 546 m.
func benchGrids(b *testing.B) map[string]Grid {
	g, err := GlobalGrid(moon, 20000, 0)
	if err != nil {
		b.Fatal(err)
	}
	s, err := PolarCapGrid(moon, true, 4000, 546)
	if err != nil {
		b.Fatal(err)
	}
	mars := geom.Body{Name: "Test ellipsoid", SemiMajor: 3396190, InverseFlattening: 169.894447223612}
	e, err := GlobalGrid(mars, 20000, 0)
	if err != nil {
		b.Fatal(err)
	}
	sinu := mustGrid(b, 20000, 10000, [6]float64{-5458203, 545.8203, 0, 2729101, 0, -545.8203}, "+proj=sinu +R=1737400 +no_defs", moon)
	return map[string]Grid{"equirectangular": g, "stereographic": s, "sinusoidal": sinu, "ellipsoid": e}
}

// cpuTime is the processor time of this process in nanoseconds.
func cpuTime() int64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return u.Utime.Nano() + u.Stime.Nano()
}

// peakMemory is the most bytes that this process has had in memory.
func peakMemory() float64 {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return 1024 * float64(u.Maxrss)
}

// BenchmarkKernel is the time for each pixel of finding range, azimuth and area,
// from which ring and sector follow.
func BenchmarkKernel(b *testing.B) {
	grids := benchGrids(b)
	// Wall time says little on a machine that others use too: report the
	// processor time.
	for _, name := range []string{"equirectangular", "stereographic", "sinusoidal", "ellipsoid"} {
		g := grids[name]
		for _, radius := range []float64{3, 30, 100} {
			b.Run(fmt.Sprintf("%s/R=%gpx", name, radius), func(b *testing.B) {
				var p Patch
				c := geom.LonLat{Lon: 12, Lat: -65}
				reach := 8 * radius * 546 * g.Body.SemiMajor / moon.SemiMajor
				if err := g.Geometry(g.Body, c, reach, 0, &p); err != nil {
					b.Fatal(err) // the buffers grow here
				}
				b.ReportAllocs()
				start := cpuTime()
				for b.Loop() {
					if err := g.Geometry(g.Body, c, reach, 0, &p); err != nil {
						b.Fatal(err)
					}
				}
				b.ReportMetric(float64(cpuTime()-start)/float64(b.N)/float64(p.Len()), "cpu-ns/px")
			})
		}
	}
}

// noRows and givenRows are sources of a kernel alone: without layers, so that
// ring and sector are found and nothing is summed, and of values at hand.
type noRows struct{}

func (noRows) row(_ *Patch, _ *rowValues, _, _, n int) (int, error) { return n, nil }

// placeRows collects the places of pixels, up to a number.
type placeRows struct {
	g      *Grid
	pixels int
	places []geom.LonLat
	r, az  float64
}

func (s *placeRows) row(_ *Patch, _ *rowValues, x, y, n int) (int, error) {
	s.pixels += n
	for i := 0; i < n && len(s.places) < 20000; i++ {
		q, _ := s.g.LonLat(float64(x+i)+0.5, float64(y)+0.5)
		s.places = append(s.places, q)
	}
	return n, nil
}

// formula is the processor time for each place of the plain formula.
func (s *placeRows) formula(radius float64, centre geom.LonLat) float64 {
	start := cpuTime()
	for _, q := range s.places {
		s.r, s.az = plainFormula(radius, centre, q)
	}
	return float64(cpuTime()-start) / float64(len(s.places))
}

type givenRows [][]float32

func (s givenRows) row(_ *Patch, r *rowValues, x, y, n int) (int, error) {
	r.values = sized(r.values, len(s))
	for l, v := range s {
		at := (x&1023 + 131*y) & 0xffff
		r.values[l] = v[at : at+n]
	}
	return n, nil
}

// plainFormula is haversine and bearing as one would write them.
func plainFormula(r float64, c, p geom.LonLat) (dist, az float64) {
	f1, f2 := c.Lat*math.Pi/180, p.Lat*math.Pi/180
	dl := (p.Lon - c.Lon) * math.Pi / 180
	s1, s2 := math.Sin((f2-f1)/2), math.Sin(dl/2)
	h := s1*s1 + math.Cos(f1)*math.Cos(f2)*s2*s2
	az = math.Atan2(math.Sin(dl)*math.Cos(f2), math.Cos(f1)*math.Sin(f2)-math.Sin(f1)*math.Cos(f2)*math.Cos(dl))
	return 2 * r * math.Asin(math.Sqrt(h)), az
}

// BenchmarkCells is the time for each pixel of finding ring and sector, and of
// that with ten sums over three layers: number, area, three first and second
// moments, three products.
func BenchmarkCells(b *testing.B) {
	grids := benchGrids(b)
	values := make(givenRows, 3)
	for l := range values {
		values[l] = make([]float32, 1<<18)
		for i := range values[l] {
			values[l][i] = float32((i*7919+l*31)%977) * 0.25
			if (i*104729+l)%97 == 0 {
				values[l][i] = float32(math.NaN())
			}
		}
	}
	for _, name := range []string{"equirectangular", "stereographic", "sinusoidal", "ellipsoid"} {
		g := grids[name]
		for _, radius := range []float64{3, 10, 30, 100} {
			job := Job{Centre: geom.LonLat{Lon: 12.0123, Lat: -65.0321}, Reach: 8 * radius * 546 * g.Body.SemiMajor / moon.SemiMajor}
			b.Run(fmt.Sprintf("%s/R=%gpx/cells", name, radius), func(b *testing.B) { benchmarkCells(b, &g, job, 0, noRows{}) })
			b.Run(fmt.Sprintf("%s/R=%gpx/sums", name, radius), func(b *testing.B) { benchmarkCells(b, &g, job, 3, values) })
			b.Run(fmt.Sprintf("%s/R=%gpx/sums of two", name, radius), func(b *testing.B) { benchmarkCells(b, &g, job, 2, values[:2]) })
		}
	}
}

// benchmarkCells reports processor time: of the kernel, and of haversine and
// atan2 for the same pixels, in turn with it, over that. Their ratio says more
// than the times on a machine that others use too.
func benchmarkCells(b *testing.B, g *Grid, job Job, layers int, from rowSource) {
	k, rows := newCellKernel(testLayout(), layers), &placeRows{g: g}
	if err := newCellKernel(testLayout(), 0).crater(g, job, rows); err != nil {
		b.Fatal(err)
	}
	times := 1 + 100000/rows.pixels
	var own, formula []float64
	for b.Loop() {
		start := cpuTime()
		for range times {
			if err := k.crater(g, job, from); err != nil {
				b.Fatal(err)
			}
		}
		own = append(own, float64(cpuTime()-start)/float64(rows.pixels*times))
		formula = append(formula, rows.formula(g.Body.SemiMajor, job.Centre))
	}
	b.ReportMetric(0, "ns/op")
	b.ReportMetric(middle(own), "cpu-ns/px")
	b.ReportMetric(slices.Min(own), "least-cpu-ns/px")
	b.ReportMetric(middle(formula)/middle(own), "formula/kernel")
}

func BenchmarkFill(b *testing.B) {
	g, err := GlobalGrid(moon, 4096, 0)
	if err != nil {
		b.Fatal(err)
	}
	values := make([]float32, g.Width*g.Height)
	for i := range values {
		values[i] = float32(i%977) * 0.25
	}
	path := b.TempDir() + "/map.tif"
	if err := WriteGeoTIFF(path, &g, []Band{{Name: "a", Values: values}}, WriteOptions{}); err != nil {
		b.Fatal(err)
	}
	l, err := Open(Spec{Path: path, Body: moon})
	if err != nil {
		b.Fatal(err)
	}
	defer l.Close()
	s := &LayerSet{Layers: []*Layer{l}}
	for _, level := range []int{0, 2} {
		b.Run(fmt.Sprintf("level=%d", level), func(b *testing.B) {
			var p Patch
			if err := g.Geometry(moon, geom.LonLat{Lon: 12, Lat: 40}, 4e5, level, &p); err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			start := cpuTime()
			for b.Loop() {
				if err := s.Fill(&p); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(cpuTime()-start)/float64(b.N)/float64(p.Len()), "cpu-ns/px")
		})
	}
}
