//go:build unix

package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// BenchmarkSieve sets summing a whole crater over the cells of a sieve, among many
// so that the reading of the map does not count, against the look at it, with the
// engine of its class made before.
func BenchmarkSieve(b *testing.B) {
	for _, radius := range []float64{4, 8, 16, 24} {
		s, sums, job := sievedCrater(b, 100*radius)
		g := s.p.groups[0]
		b.Run(fmt.Sprintf("R%g", radius), func(b *testing.B) {
			b.Run("sum", func(b *testing.B) {
				before := processorTime()
				sumAgain(b, s, g, slices.Repeat([]raster.Job{job}, b.N)...)
				b.ReportMetric((processorTime()-before)*1e3/float64(b.N), "cpu-ms/op")
			})
			benchEach(b, "look", func() { s.lookAt(g, job, sums) })
		})
	}
}

// sievedCrater is a sieve of one crater of a radius in metres, summed once.
func sievedCrater(b *testing.B, radius float64) (*sieve, *raster.CellSums, raster.Job) {
	layer := benchMap(b, 512)
	noise := ejecta.KnownNoise(func(dx, dy float64) float64 { return math.Exp(-math.Hypot(dx, dy) / 5) }, 400)
	g := &group{set: &raster.LayerSet{Layers: []*raster.Layer{layer}}, species: []int{0}, noise: map[int][]*ejecta.Noise{0: {noise}}}
	p := &pipeline{sv: defaultSurvey(), prog: &silentProgress{newMessages(io.Discard)}, body: layer.Grid().Body, set: ejecta.Settings{}.WithDefaults(), groups: []*group{g}}
	p.sv.Species, p.sv.Run.Memory = make([]layerSection, 1), 1<<30
	p.cat.Craters = []geom.Crater{{Radius: radius}}
	p.near = geom.NewNeighbours(p.body, p.cat.Craters)
	p.settleSites()
	s := newSieve(p)
	job := s.jobs()[0]
	sums := sumAgain(b, s, g, job)
	if s.lookAt(g, job, sums); s.looks[0][0] == nil {
		b.Fatal("no look")
	}
	return s, sums, job
}

func sumAgain(b *testing.B, s *sieve, g *group, jobs ...raster.Job) (sums *raster.CellSums) {
	err := raster.VisitCells(context.Background(), g.set, jobs, s.layout(g), 1, func(_ int, _ raster.Job, c *raster.CellSums, fault error) error {
		sums = c
		return fault
	})
	if err != nil {
		b.Fatal(err)
	}
	return sums
}
