package ejecta

import (
	"math"
	"math/rand/v2"
	"reflect"
	"sync"
	"testing"
)

// orderWindows are windows of correlated noise with holes and levels of their own.
func orderWindows(side, n int, seed uint64) (list [][]float64) {
	rng := rand.New(rand.NewPCG(seed, 1))
	for range n {
		v, before := make([]float64, side*side), 0.0
		level := math.Exp(4 * rng.NormFloat64())
		for i := range v {
			before = 0.7*before + rng.NormFloat64()
			v[i] = 100 + level*before
			if rng.Float64() < 0.1 {
				v[i] = math.NaN()
			}
		}
		list = append(list, v)
	}
	return list
}

// addedIn is a survey to which windows are added in an order, by some goroutines.
func addedIn(side int, list [][]float64, order []int, workers int) *NoiseSurvey {
	s := NewNoiseSurvey(side, side-1)
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			for at := w; at < len(order); at += workers {
				k := order[at]
				s.Add(s.Window(append([]float64(nil), list[k]...), float64(k%3), float64(k/3)))
			}
		})
	}
	wg.Wait()
	return s
}

// The noise does not depend on the order in which windows are added, nor on who
// does: no bit of it.
func TestNoiseDoesNotDependOnOrder(t *testing.T) {
	for _, side := range []int{16, 32, 100} {
		list := orderWindows(side, 12, uint64(side))
		var want *Noise
		for round := range 6 {
			n, err := addedIn(side, list, rand.New(rand.NewPCG(2, uint64(round))).Perm(len(list)), 1+round%3).Finish()
			if err != nil {
				t.Fatal(err)
			}
			if want == nil {
				want = n
			}
			if !reflect.DeepEqual(n, want) {
				t.Errorf("side %d, round %d: %+v, first %+v", side, round, n, want)
			}
		}
	}
}

// plainSpectra are |F(values)|^2 + i |F(mask)|^2 of a window, from a transform of each,
// rows 0 to pad/2.
func plainSpectra(s *NoiseSurvey, w *NoiseWindow) []complex128 {
	values, mask := newField(s.pad), newField(s.pad)
	scale := 1 / math.Sqrt(w.level.variance)
	for i, v := range w.values {
		if v == v {
			values.row(i / s.Side)[i%s.Side] = complex(v*scale, 0)
			mask.row(i / s.Side)[i%s.Side] = 1
		}
	}
	values.transform(s.pad)
	mask.transform(s.pad)
	out := make([]complex128, len(s.sums))
	for i := range out {
		a, b := values.row(i / s.pad)[i%s.pad], mask.row(i / s.pad)[i%s.pad]
		out[i] = complex(real(a)*real(a)+imag(a)*imag(a), real(b)*real(b)+imag(b)*imag(b))
	}
	return out
}

// The sums in whole steps are those of the spectra, to a thousand millionth of the
// mean power; a full window of one value reaches the largest power there is.
func TestPowersHoldSpectra(t *testing.T) {
	for _, side := range []int{16, 100, 512} {
		list := orderWindows(side, 3, 5)
		for i := range list[0] { // no holes, and all of the power in one frequency
			list[0][i] = float64(i & 1)
		}
		s := addedIn(side, list, []int{0, 1, 2}, 1)
		want := make([]complex128, len(s.sums))
		for _, v := range list {
			for i, power := range plainSpectra(s, s.Window(v, 0, 0)) {
				want[i] += power
			}
		}
		for i, v := range s.summedPowers() {
			if d := v - want[i]; math.Abs(real(d)) > 1e-9*float64(side*side)+1e-12*real(want[i]) || math.Abs(imag(d)) > 1e-9*float64(side*side)+1e-12*imag(want[i]) {
				t.Fatalf("side %d: power %v, want %v", side, v, want[i])
			}
		}
	}
}
