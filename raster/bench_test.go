package raster

import (
	"fmt"
	"math"
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

func (noRows) row(*Patch, int, int, int) error { return nil }

type givenRows [][]float32

func (s givenRows) row(p *Patch, x, y, n int) error {
	p.Values = sized(p.Values, len(s))
	for l, v := range s {
		at := (x&1023 + 131*y) & 0xffff
		p.Values[l] = v[at : at+n]
	}
	return nil
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
		for _, radius := range []float64{3, 10, 30, 100, 300} {
			job := Job{Centre: geom.LonLat{Lon: 12.0123, Lat: -65.0321}, Reach: 8 * radius * 546 * g.Body.SemiMajor / moon.SemiMajor}
			b.Run(fmt.Sprintf("%s/R=%gpx/cells", name, radius), func(b *testing.B) { benchmarkCells(b, &g, job, 0, noRows{}) })
			b.Run(fmt.Sprintf("%s/R=%gpx/sums", name, radius), func(b *testing.B) { benchmarkCells(b, &g, job, 3, values) })
		}
	}
}

func benchmarkCells(b *testing.B, g *Grid, job Job, layers int, from rowSource) {
	k, pixels := newCellKernel(testLayout(), layers), 0
	if err := k.cellsOf(g, job, func(_, _ int, cells []uint16) { pixels += len(cells) }); err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	start := cpuTime()
	for b.Loop() {
		if err := k.crater(g, job, from); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(cpuTime()-start)/float64(b.N)/float64(pixels), "cpu-ns/px")
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
