package main

import (
	"context"
	"errors"
	"fmt"
	"math"

	"rimcast/ejecta"
	"rimcast/raster"
)

// maxNoiseWindows is the number of windows that measure the noise of one
// species at one level.
const maxNoiseWindows = 48

// sieveWindows is about the least number of windows that measure the noise of the
// map as it is, for the looks of a sieve, whose scale is that of the craters.
const sieveWindows = 16

// blanketReaches are the ranges, in radii, out to which craters are kept out of
// the noise windows: the first that leaves enough ground is used.
var blanketReaches = []float64{4, 3, 2, 1.5, 1}

// noiseJob is one window of one group at one level.
type noiseJob struct {
	g     *group
	level int
	side  int
	x, y  int  // first column and row at this level
	asIs  bool // serves the noise of the map as it is too, where a sieve wants that
}

// measureNoise measures the two-dimensional covariance of every species at
// every level that a crater needs.
func (p *pipeline) measureNoise(ctx context.Context) error {
	levels := p.neededLevels()
	jobs := p.allNoiseJobs(levels)
	p.prog.Stage("noise", len(jobs))
	surveys, err := p.noiseWindows(ctx, jobs)
	if err != nil {
		return err
	}
	return p.finishNoise(levels, surveys)
}

// neededLevels are the levels that a crater needs, with the largest radius in pixels.
func (p *pipeline) neededLevels() map[int]float64 {
	levels := map[int]float64{}
	for _, c := range p.sites {
		if c.status == ejecta.StatusOK {
			levels[c.level] = math.Max(levels[c.level], c.pixels)
		}
	}
	return levels
}

// allNoiseJobs are the windows of all groups at some levels.
func (p *pipeline) allNoiseJobs(levels map[int]float64) (jobs []noiseJob) {
	for _, g := range p.groups {
		for level := range raster.MaxLevel + 1 {
			if radius, ok := levels[level]; ok {
				jobs = append(jobs, p.noiseJobs(g, level, radius)...)
			}
		}
	}
	return jobs
}

// noisesOf is the number of noise models of a group at a level: one for each
// species of what covariates and strips leave, and where a sieve looks, which
// knows no covariates, one more for each of the map as it is.
func (p *pipeline) noisesOf(g *group) int {
	n := len(g.species)
	if p.sv.Tests.Sieve < 1 && (len(g.covariates) > 0 || len(g.beside) > 0) {
		n *= 2
	}
	return n
}

type noiseKey struct {
	g     *group
	level int
}

// noiseSide is the window that holds the lags of a crater of the given radius
// in pixels, as far as the map allows. It is rounded up generously: the plane
// taken out of a window takes slow changes of the ground with it, which then
// would pass for signal on the scale of a crater.
func (p *pipeline) noiseSide(g *group, level int, radius float64) int {
	grid := g.set.Layers[0].Grid()
	want := 2*p.set.Outer*radius*1.2 + 16
	side := 128
	for float64(side) < want && side < 512 {
		side *= 2
	}
	for side > 32 && (side > grid.Width>>level || side > grid.Height>>level) {
		side /= 2
	}
	return side
}

// noiseJobs spreads windows evenly over the map.
func (p *pipeline) noiseJobs(g *group, level int, radius float64) []noiseJob {
	grid := g.set.Layers[0].Grid()
	side := p.noiseSide(g, level, radius)
	xs, ys := windowStarts(grid.Width>>level, side), windowStarts(grid.Height>>level, side)
	total := len(xs) * len(ys)
	take := min(total, maxNoiseWindows)
	var jobs []noiseJob
	for k := range take {
		at := (2*k + 1) * total / (2 * take)
		jobs = append(jobs, noiseJob{g, level, side, xs[at%len(xs)], ys[at/len(xs)], k%max(1, take/sieveWindows) == 0})
	}
	return jobs
}

// windowStarts spreads as few windows over a length as cover it, from end to
// end. They overlap where the length is no multiple of the side: on a small map
// what is left over would be half of the ground.
func windowStarts(length, side int) []int {
	starts := make([]int, max(1, (length+side-1)/side))
	for i := 1; i < len(starts); i++ {
		starts[i] = (length - side) * i / (len(starts) - 1)
	}
	return starts
}

// markCraters marks, for every pixel of a window, which of blanketReaches of a crater
// it is nearer than. A crater that would swallow the window is the ground itself and
// does not count; of one that nearly would, only the near part does.
func (p *pipeline) markCraters(d *raster.Discs, j noiseJob) []uint8 {
	d.Begin(j.window())
	g, b, half := j.g.set.Layers[0].Grid(), float64(int(1)<<j.level), float64(j.side)/2
	mid, ok := g.LonLat((float64(j.x)+half)*b, (float64(j.y)+half)*b)
	if !ok {
		return d.Marks
	}
	radius := 0.75 * float64(j.side) * b * pixelSide(g, mid)
	radii := make([]float64, len(blanketReaches))
	p.near.Each(mid, radius, blanketReaches[0], func(i int) {
		c := &p.cat.Craters[i]
		if radius < c.Radius {
			return
		}
		for k, reach := range blanketReaches {
			radii[k] = math.Min(reach*c.Radius, radius)
		}
		d.Add(c.Centre, radii)
	})
	return d.Marks
}

// window is the window of a job.
func (j *noiseJob) window() raster.LevelWindow {
	return raster.LevelWindow{Level: j.level, X: j.x, Y: j.y, Width: j.side, Height: j.side}
}

// finished is the noise model of one species at one level.
type finished struct {
	g     *group
	level int
	k     int // of the group's species
	noise *ejecta.Noise
	err   error
}

// finishNoise closes the surveys. A species without noise at a level leaves its
// craters unmeasured; that is said once.
func (p *pipeline) finishNoise(levels map[int]float64, surveys map[noiseKey][]*ejecta.NoiseSurvey) error {
	var list []finished
	for _, g := range p.groups {
		for level := 0; level <= raster.MaxLevel; level++ {
			if _, ok := levels[level]; !ok {
				continue
			}
			g.noise[level] = make([]*ejecta.Noise, p.noisesOf(g))
			for k := range g.noise[level] {
				list = append(list, finished{g: g, level: level, k: k})
			}
		}
	}
	if err := parallel(p.workers(), len(list), func(i int) {
		f := &list[i]
		f.noise, f.err = surveys[noiseKey{f.g, f.level}][f.k].Finish()
	}); err != nil {
		return err
	}
	for _, f := range list {
		if f.k >= len(f.g.species) {
			f.g.noise[f.level][f.k] = f.noise
			continue
		}
		name := p.sv.Species[f.g.species[f.k]].shownName()
		if f.err != nil {
			p.note("%s: the noise could not be measured%s: %s", name, blockText(f.level), noiseFault(f.err))
			continue
		}
		f.g.noise[f.level][f.k] = f.noise
		p.prog.Note("%s: noise correlation length %.0f pixels of %d map pixels, anisotropy %.2f, level spread %.2f", name, f.noise.Length, 1<<f.level, f.noise.Anisotropy, f.noise.Spread)
	}
	return nil
}

// blockText says on which pixels a level stands, after a verb.
func blockText(level int) string {
	if level == 0 {
		return ""
	}
	return fmt.Sprintf(" in block means of %d x %d pixels", 1<<level, 1<<level)
}

// noiseFault is why the noise is not known, in words for the reader.
func noiseFault(err error) string {
	if errors.Is(err, ejecta.ErrNoNoise) {
		return "the map has no windows with values that are free of craters"
	}
	return err.Error()
}

// note records what the reader of the report must know.
func (p *pipeline) note(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	p.notes = append(p.notes, text)
	p.prog.Warn("%s", text)
}
