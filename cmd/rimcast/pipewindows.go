package main

import (
	"context"
	"math"
	"sync"

	"rimcast/ejecta"
	"rimcast/raster"
)

// noiseRun is the windows of the noise on their way: prepared by workers, a few
// ahead of the one that is added next, and added in their order. The spectra of
// all would not fit in memory, and a sum must not depend on who was first.
type noiseRun struct {
	p       *pipeline
	jobs    []noiseJob
	sets    map[*group]*raster.LayerSet // handles that all workers share
	surveys map[noiseKey][]*ejecta.NoiseSurvey

	mu    sync.Mutex
	moved sync.Cond
	ready [][]*ejecta.WindowSpectrum // by job, until they are added
	done  []bool
	next  int // the job that is added next
}

// noiseWindows measures the windows of all species.
func (p *pipeline) noiseWindows(ctx context.Context, jobs []noiseJob) (map[noiseKey][]*ejecta.NoiseSurvey, error) {
	r, err := p.newNoiseRun(jobs)
	if err != nil {
		return nil, err
	}
	defer r.close()
	err = parallel(p.workers(), len(jobs), func(i int) {
		r.waitFor(i - p.workers())
		var spectra []*ejecta.WindowSpectrum
		defer func() { r.add(i, spectra) }()
		if ctx.Err() == nil {
			spectra = r.window(jobs[i])
			p.prog.Add(1)
		}
	})
	if err == nil {
		err = ctx.Err()
	}
	return r.surveys, err
}

// newNoiseRun opens the maps once more, for all workers together: neighbouring
// windows need the same blocks of a file, and what one worker has decoded serves
// the next.
func (p *pipeline) newNoiseRun(jobs []noiseJob) (*noiseRun, error) {
	r := &noiseRun{p: p, jobs: jobs, sets: map[*group]*raster.LayerSet{}, surveys: map[noiseKey][]*ejecta.NoiseSurvey{}}
	r.moved.L = &r.mu
	r.ready, r.done = make([][]*ejecta.WindowSpectrum, len(jobs)), make([]bool, len(jobs))
	for _, j := range jobs {
		if err := r.open(j); err != nil {
			r.close()
			return nil, err
		}
	}
	return r, nil
}

// open makes room for the first window of a group, and of a level.
func (r *noiseRun) open(j noiseJob) error {
	if r.sets[j.g] == nil {
		c, err := j.g.set.Clone()
		if err != nil {
			return err
		}
		r.sets[j.g] = c
	}
	if key := (noiseKey{j.g, j.level}); r.surveys[key] == nil {
		for range j.g.species {
			r.surveys[key] = append(r.surveys[key], ejecta.NewNoiseSurvey(j.side, j.side*7/8))
		}
	}
	return nil
}

func (r *noiseRun) close() {
	for _, s := range r.sets {
		s.Close()
	}
}

// waitFor returns when a job has been added; there is none before the first.
func (r *noiseRun) waitFor(i int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for r.next <= i {
		r.moved.Wait()
	}
}

// add takes the spectra of a job, and adds those whose turn it is.
func (r *noiseRun) add(i int, spectra []*ejecta.WindowSpectrum) {
	r.mu.Lock()
	defer r.mu.Unlock()
	defer r.moved.Broadcast()
	r.ready[i], r.done[i] = spectra, true
	for r.next < len(r.jobs) && r.done[r.next] {
		j, ready := r.jobs[r.next], r.ready[r.next]
		r.ready[r.next] = nil
		r.next++
		for k, w := range ready {
			r.surveys[noiseKey{j.g, j.level}][k].Add(w)
		}
	}
}

// window reads one window of every species, without the craters. A window with a
// damaged tile is left out: the craters that need it will say so.
func (r *noiseRun) window(j noiseJob) []*ejecta.WindowSpectrum {
	values, ok := readWindow(r.sets[j.g], j)
	if !ok {
		return nil
	}
	rho := r.p.nearestRim(r.sets[j.g].Layers[0].Grid(), j)
	for _, reach := range blanketReaches {
		if out, ok := spectraBeyond(r.surveys[noiseKey{j.g, j.level}], j, values, rho, reach); ok || reach == blanketReaches[len(blanketReaches)-1] {
			return out
		}
	}
	return nil
}

// spectraBeyond are the spectra of a window beyond a range from all craters; false
// where a species has too little ground there.
func spectraBeyond(surveys []*ejecta.NoiseSurvey, j noiseJob, values [][]float64, rho []float64, reach float64) (out []*ejecta.WindowSpectrum, all bool) {
	half := float64(j.side) / 2
	v := make([]float64, j.side*j.side)
	all = true
	for _, own := range values {
		copy(v, own)
		for i, r := range rho {
			if r < reach {
				v[i] = math.NaN()
			}
		}
		w := surveys[len(out)].Window(v, float64(j.x)+half, float64(j.y)+half)
		out, all = append(out, w), all && w != nil
	}
	return out, all
}

// readWindow reads a window of every species of a group, NaN where a mask marks
// the pixel; false when a part cannot be read.
func readWindow(set *raster.LayerSet, j noiseJob) ([][]float64, bool) {
	values := make([][]float64, len(j.g.species))
	for k := range values {
		v, err := readBlocks(set.Layers[k], j)
		if err != nil {
			return nil, false
		}
		values[k] = v
	}
	for m, layer := range j.g.masks {
		v, err := readBlocks(set.Layers[layer], j)
		if err != nil {
			return nil, false
		}
		for i, x := range v {
			if j.g.maskLayers[m].badPixel(float32(x)) {
				dropPixel(values, i)
			}
		}
	}
	return values, true
}

func dropPixel(values [][]float64, i int) {
	for _, v := range values {
		v[i] = math.NaN()
	}
}

// stripPixels is about how many pixels of a window are read at a time.
const stripPixels = 1 << 16

// readBlocks reads a window as block means; NaN where under half of a block is
// valid.
func readBlocks(l *raster.Layer, j noiseJob) ([]float64, error) {
	b := 1 << j.level
	out := make([]float64, j.side*j.side)
	rows := max(1, stripPixels/(j.side*b*b))
	buf := make([]float32, j.side*b*b*rows)
	for y := 0; y < j.side; y += rows {
		n := min(rows, j.side-y)
		if err := l.Read(j.x*b, (j.y+y)*b, j.side*b, n*b, buf); err != nil {
			return nil, err
		}
		for r := range n {
			blockMeans(out[(y+r)*j.side:(y+r+1)*j.side], buf[r*j.side*b*b:], b)
		}
	}
	return out, nil
}

// blockMeans are the means of b x b pixels of a row of blocks.
func blockMeans(out []float64, buf []float32, b int) {
	if b == 1 {
		widen(out, buf)
		return
	}
	width := len(out) * b
	for x := range out {
		sum, n := 0.0, 0
		for r := range b {
			for _, v := range buf[r*width+x*b : r*width+(x+1)*b] {
				if v == v {
					sum += float64(v)
					n++
				}
			}
		}
		out[x] = math.NaN()
		if 2*n >= b*b && n > 0 {
			out[x] = sum / float64(n)
		}
	}
}

func widen(out []float64, v []float32) {
	for i := range out {
		out[i] = float64(v[i])
	}
}
