//go:build unix

package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"syscall"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// benchMap is a map of white noise at one pixel per 100 m, in memory.
func benchMap(b *testing.B, side int) *raster.Layer {
	body := geom.Sphere("Bench", 1e6)
	proj, err := raster.NewProjection(equirectangular(body))
	if err != nil {
		b.Fatal(err)
	}
	half := 50 * float64(side)
	grid, err := raster.NewGrid(side, side, [6]float64{-half, 100, 0, half, 0, -100}, proj, body)
	if err != nil {
		b.Fatal(err)
	}
	values, rng := make([]float32, side*side), rand.New(rand.NewPCG(1, 2))
	for i := range values {
		values[i] = float32(rng.NormFloat64())
	}
	return raster.NewMemory("noise", "", grid, values)
}

// BenchmarkCrater sets sampling one whole crater without neighbours against its
// reduction to evidence and its tests: what a crater costs beside its pixels.
func BenchmarkCrater(b *testing.B) {
	set := &raster.LayerSet{Layers: []*raster.Layer{benchMap(b, 512)}}
	for _, radius := range []float64{4, 8, 16, 24} {
		b.Run(fmt.Sprintf("R%g", radius), func(b *testing.B) { benchCrater(b, set, radius) })
	}
}

func benchCrater(b *testing.B, set *raster.LayerSet, radius float64) {
	grid, at := set.Layers[0].Grid(), place{crater: -1, radius: 100 * radius, outer: 8}
	builder, patch := &siteBuilder{p: &pipeline{}}, raster.Patch{}
	sample := func() {
		if grid.Geometry(grid.Body, at.centre, at.outer*at.radius, 0, &patch) != nil || set.Fill(&patch) != nil {
			b.Fatal("the map cannot be sampled")
		}
	}
	sample()
	builder.fillSamples(at, &patch)
	noise := ejecta.KnownNoise(func(dx, dy float64) float64 { return math.Exp(-math.Hypot(dx, dy) / 5) }, int(16*radius)+8)
	site := ejecta.Site{Samples: &builder.samples, Values: patch.Values[0], Masked: builder.masked, Noise: noise, Variance: 1}
	e := ejecta.Collect(site, ejecta.Settings{})
	benchEach(b, "sample", sample)
	benchEach(b, "collect", func() { ejecta.Collect(site, ejecta.Settings{}) })
	benchEach(b, "measure", func() { e.Measure(ejecta.Settings{}, 1, 1) })
}

func benchEach(b *testing.B, name string, f func()) {
	b.Run(name, func(b *testing.B) {
		before := processorTime()
		for b.Loop() {
			f()
		}
		b.ReportMetric((processorTime()-before)*1e3/float64(b.N), "cpu-ms/op")
	})
}

// processorTime is what this process has used, seconds: on a busy machine the
// clock says little.
func processorTime() float64 {
	var r syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &r) != nil {
		return math.NaN()
	}
	return float64(r.Utime.Nano()+r.Stime.Nano()) / 1e9
}
