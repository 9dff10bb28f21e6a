package main

import (
	"context"
	"math"
	"slices"

	"rimcast/ejecta"
	"rimcast/raster"
)

// noiseRun is the windows of the noise on their way. The windows of all levels of a
// group are one sweep over its maps, which decodes what they need once; the sums
// over windows do not depend on who was first.
type noiseRun struct {
	p       *pipeline
	jobs    []noiseJob
	surveys map[noiseKey][]*ejecta.NoiseSurvey
	workers []noiseWorker
	beside  []windowLayer // of the group that is swept, on grids of their own
}

// noiseWorker is what one worker writes into, from window to window.
type noiseWorker struct {
	values [][]float64 // by species
	discs  *raster.Discs
}

// noiseWindows measures the windows of all species.
func (p *pipeline) noiseWindows(ctx context.Context, jobs []noiseJob) (map[noiseKey][]*ejecta.NoiseSurvey, error) {
	r := &noiseRun{p: p, jobs: jobs, surveys: map[noiseKey][]*ejecta.NoiseSurvey{}, workers: make([]noiseWorker, p.workers())}
	for _, j := range jobs {
		r.open(j)
	}
	for _, g := range p.groups {
		if err := r.sweep(ctx, g); err != nil {
			return nil, err
		}
	}
	return r.surveys, ctx.Err()
}

// open makes room for the first window of a group at a level.
func (r *noiseRun) open(j noiseJob) {
	key := noiseKey{j.g, j.level}
	for k := len(r.surveys[key]); k < r.p.noisesOf(j.g); k++ {
		r.surveys[key] = append(r.surveys[key], ejecta.NewNoiseSurvey(j.side, j.side*7/8))
	}
}

// sweep measures the windows of a group. A window with a damaged tile is left out:
// the craters that need it will say so.
func (r *noiseRun) sweep(ctx context.Context, g *group) error {
	windows := r.windowsOf(g)
	if len(windows) == 0 {
		return nil
	}
	beside, err := windowLayers(g)
	if err != nil {
		return err
	}
	defer closeWindowLayers(beside)
	r.beside = beside
	discs := raster.NewDiscs(g.set.Layers[0].Grid(), r.p.body)
	for w := range r.workers {
		r.workers[w].discs = discs.Another()
	}
	return raster.VisitWindows(ctx, g.noiseSet(), windows, len(r.workers), func(worker int, w raster.LevelWindow, values [][]float32, fault error) (failed error) {
		defer r.p.prog.Add(1)
		defer caught(&failed)
		if fault == nil {
			r.measure(&r.workers[worker], r.jobs[w.ID], values)
		}
		return nil
	})
}

// windowsOf are the windows of a group, numbered by their place among the jobs.
func (r *noiseRun) windowsOf(g *group) (windows []raster.LevelWindow) {
	for i, j := range r.jobs {
		if j.g == g {
			windows = append(windows, j.window())
			windows[len(windows)-1].ID = i
		}
	}
	return windows
}

// noiseSet is the layers whose windows are read: the species, then the masks, then
// the covariates.
func (g *group) noiseSet() *raster.LayerSet {
	set := &raster.LayerSet{Layers: append([]*raster.Layer(nil), g.set.Layers[:len(g.species)]...), Cache: g.set.Cache}
	for _, layer := range slices.Concat(g.masks, g.covariates) {
		set.Layers = append(set.Layers, g.set.Layers[layer])
	}
	return set
}

// measure adds one window of every species, without the craters: beyond the widest
// range that leaves all of them enough ground.
func (r *noiseRun) measure(k *noiseWorker, j noiseJob, values [][]float32) {
	columns, ok := r.columns(j, values)
	if !ok {
		return
	}
	if values = j.g.unmasked(values); j.asIs && r.p.noisesOf(j.g) > len(values) {
		values = append(values[:len(values):len(values)], values...)
	}
	marks := r.p.markCraters(k.discs, j)
	surveys := r.surveys[noiseKey{j.g, j.level}]
	for reach := range blanketReaches {
		windows, all := k.beyond(surveys, j, values, columns, marks, 1<<reach)
		if !all && reach != len(blanketReaches)-1 {
			continue
		}
		for i, w := range windows {
			surveys[i].Add(w)
		}
		return
	}
}

// beyond are the windows without the pixels that have a mark; false where a species
// has too little ground there.
func (k *noiseWorker) beyond(surveys []*ejecta.NoiseSurvey, j noiseJob, values [][]float32, columns [][]float64, marks []uint8, near uint8) (out []*ejecta.NoiseWindow, all bool) {
	half, all := float64(j.side)/2, true
	k.values = resized(k.values, len(values))
	for s, own := range values {
		v := resized(k.values[s], len(own))
		for i, m := range marks {
			v[i] = float64(own[i])
			if m&near != 0 {
				v[i] = math.NaN()
			}
		}
		if s < len(j.g.species) {
			ejecta.TakeLayers(v, j.side, columns)
		}
		w := surveys[s].Window(v, float64(j.x)+half, float64(j.y)+half)
		k.values[s], out, all = v, append(out, w), all && w != nil
	}
	return out, all
}

// unmasked are the values of the species of a group, NaN where a mask marks the
// pixel.
func (g *group) unmasked(values [][]float32) [][]float32 {
	species, masks := values[:len(g.species)], values[len(g.species):][:len(g.masks)]
	for m, mask := range masks {
		for i, x := range mask {
			if g.maskLayers[m].badPixel(x) {
				dropPixel(species, i)
			}
		}
	}
	return species
}

func dropPixel(values [][]float32, i int) {
	for _, v := range values {
		v[i] = float32(math.NaN())
	}
}
