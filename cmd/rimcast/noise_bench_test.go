//go:build unix

package main

import (
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"rimcast/geom"
	"rimcast/raster"
)

// BenchmarkNoise measures the noise of a survey, whole, and marking the craters
// alone in all of its windows; -screen.survey takes another survey.
func BenchmarkNoise(b *testing.B) {
	p := benchPipeline(b)
	jobs := p.allNoiseJobs(p.neededLevels())
	benchEach(b, "whole", func() {
		if err := p.measureNoise(context.Background()); err != nil {
			b.Fatal(err)
		}
	})
	for _, craters := range []int{len(p.cat.Craters), 100000} {
		p.cat.Craters = drawnCraters(p.body, p.cat.Craters, craters)
		p.findNeighbours()
		d := raster.NewDiscs(p.groups[0].set.Layers[0].Grid(), p.body)
		benchEach(b, fmt.Sprintf("mark-%d", craters), func() {
			for _, j := range jobs {
				p.markCraters(d, j)
			}
		})
	}
}

// benchPipeline is a survey whose maps are open.
func benchPipeline(b *testing.B) *pipeline {
	dir := *screenSurvey
	if dir == "" {
		dir = b.TempDir()
		big := bigSurvey{width: 2000, height: 1000, craters: 2000, seed: 1}
		if _, err := big.write(dir, &silentProgress{newMessages(io.Discard)}); err != nil {
			b.Fatal(err)
		}
	}
	sv, err := readSurvey(filepath.Join(dir, "survey.toml"), nil)
	if err != nil {
		b.Fatal(err)
	}
	p := &pipeline{sv: sv, prog: &silentProgress{newMessages(io.Discard)}}
	b.Cleanup(p.close)
	if err := p.open(); err != nil {
		b.Fatal(err)
	}
	return p
}

// drawnCraters are those of a catalogue when they are as many as wanted, else
// small ones drawn all over the body.
func drawnCraters(body geom.Body, own []geom.Crater, n int) []geom.Crater {
	if len(own) == n {
		return own
	}
	rng, list := rand.New(rand.NewPCG(1, 9)), make([]geom.Crater, n)
	for i := range list {
		at := geom.LonLat{Lon: 360*rng.Float64() - 180, Lat: math.Asin(2*rng.Float64()-1) * 180 / math.Pi}
		list[i] = geom.Crater{Centre: at, Radius: body.SemiMajor / 400 / math.Sqrt(1-rng.Float64()*(1-1e-4))}
	}
	return list
}
