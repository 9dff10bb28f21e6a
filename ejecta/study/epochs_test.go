package study

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// daySize is the outcome of a study of two times of day: how often a change is
// claimed at 0.05 where the blanket stays, and where it halves, and what the
// null positions say of the shared noise.
type daySize struct {
	craters, stays, halves int
	correlation, variance  float64
}

// twoTimes draws two maps that share a part of the variance of their noise, and
// reads half of the positions as null positions and half as craters with a
// blanket of eight sigma; the null scale comes from the null positions too.
func twoTimes(t *testing.T, name string, shared float64, perMap int, seed uint64) daySize {
	t.Helper()
	w, err := newWorld(name, 6, 2, 0, seed)
	if err != nil {
		t.Fatal(err)
	}
	common := testblanket.NewGenerator(w.recipe, mapSide, mapSide, true, true).Draw(rand.New(rand.NewPCG(seed, 2)))
	lag := min(int(2*outerRange*w.radius)+8, windowSide-1)
	for m, f := range w.maps {
		for i := range f.Values {
			f.Values[i] = math.Sqrt(shared)*common.Values[i] + math.Sqrt(1-shared)*f.Values[i]
		}
		if w.noise[m], err = surveyNoise(f, lag); err != nil {
			t.Fatal(err)
		}
	}
	w.chooseSites(perMap, rand.New(rand.NewPCG(seed, 3)))
	return w.compareTimes(w.sites[:perMap])
}

// compareTimes measures the positions of the first map on both.
func (w *world) compareTimes(sites []site) (d daySize) {
	blankets := make([][]float32, len(w.frames))
	for i, f := range w.frames {
		blankets[i] = f.paint(testblanket.Blanket{Pattern: "symmetric", Amplitude: 1, Decay: 2.6})
	}
	half := len(sites) / 2
	nulls := make([][][]float64, half)
	omnibus := make([][2]float64, half)
	set := ejecta.Settings{Outer: outerRange}
	each(half, func(i int) {
		for m := range 2 {
			s := sites[i]
			s.m = m
			q := w.collect(&s, w.noise[m], nil, 0).Probe(set)
			nulls[i] = append(nulls[i], q.EpochScores())
			omnibus[i][m] = q.Omnibus / 12
		}
	})
	var scale [2]float64
	for m := range scale {
		sum := 30.0
		for i := range omnibus {
			sum += omnibus[i][m]
		}
		scale[m] = sum / float64(30+half)
	}
	for i := range nulls {
		for m := range nulls[i] {
			for k := range nulls[i][m] {
				nulls[i][m][k] /= math.Sqrt(scale[m])
			}
		}
	}
	noise, _ := ejecta.NewEpochNoise(2, nulls, nulls)
	d.correlation = noise.Blanket[1] / math.Sqrt(noise.Blanket[0]*noise.Blanket[3])
	d.variance = (noise.Blanket[0] + noise.Blanket[3]) / 2
	stays, halves := make([]bool, half), make([]bool, half)
	each(half, func(i int) {
		stays[i] = w.changes(sites[half+i], blankets, scale, noise, 1)
		halves[i] = w.changes(sites[half+i], blankets, scale, noise, 0.5)
	})
	for i := range stays {
		d.craters++
		if stays[i] {
			d.stays++
		}
		if halves[i] {
			d.halves++
		}
	}
	return d
}

// changes reports whether a crater's blanket is claimed to change at 0.05 when
// the second time of day has a share of it.
func (w *world) changes(s site, blankets [][]float32, scale [2]float64, noise ejecta.EpochNoise, share float64) bool {
	set := ejecta.Settings{Outer: outerRange}
	var list []*ejecta.EpochFinding
	first := s
	first.m = 0
	sigma := w.collect(&first, w.noise[0], nil, 0).Measure(set, scale[0], 1).Blanket.Sigma
	for m, part := range []float64{1, share} {
		s.m = m
		e := w.collect(&s, w.noise[m], blankets[s.frame], 8*sigma*part)
		r := e.Measure(set, scale[m], 1)
		f := ejecta.NewEpochFinding(&r.Finding, e, &r, set, scale[m])
		list = append(list, &f)
	}
	return ejecta.NewPersistence(list, noise, 0.05).P < 0.05
}

// TestDayStudy holds the test of persistence to its level on maps, where noise
// model, null scale and shared noise are all measured, and prints its power.
// With -study it draws enough to tell 0.05 from 0.06.
func TestDayStudy(t *testing.T) {
	maps, perMap := 1, 160
	if *whole {
		maps, perMap = max(1, int(8**part)), 700
	}
	for _, c := range []struct {
		noise  string
		shared float64
	}{{"white", 0}, {"exp5", 0}, {"exp5", 0.6}} {
		if testing.Short() && c.shared == 0 {
			continue
		}
		var d daySize
		for m := range maps {
			one := twoTimes(t, c.noise, c.shared, perMap, *seed+uint64(7*m))
			d.craters, d.stays, d.halves = d.craters+one.craters, d.stays+one.stays, d.halves+one.halves
			d.correlation += one.correlation / float64(maps)
			d.variance += one.variance / float64(maps)
		}
		n := float64(d.craters)
		// The craters of a map share the error of its null positions, about as
		// large as their own.
		size, se := float64(d.stays)/n, math.Sqrt(2*0.05*0.95/n)
		t.Logf("%s, shared %.1f: %d craters, size %.3f (s.e. %.3f), a blanket of 8 sigma that halves %.3f, correlation %.2f, variance %.2f", c.noise, c.shared, d.craters, size, se, float64(d.halves)/n, d.correlation, d.variance)
		if math.Abs(size-0.05) > 3*se || math.Abs(d.correlation-c.shared) > 0.3 || float64(d.halves)/n < 0.6 {
			t.Errorf("%s, shared %.1f: size %.3f, power %.3f, correlation %.2f", c.noise, c.shared, size, float64(d.halves)/n, d.correlation)
		}
	}
}
