package study

import (
	"math"
	"math/rand/v2"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// decays are the exponents of the planted blankets.
var decays = []float64{2.5, 2.75, 3, 3.25, 3.5}

// amplitudeResult is what one world says about A and b at one signal to noise.
type amplitudeResult struct {
	world               string
	snr                 float64
	n, withDecay        int
	bias                float64 // median of A fitted over A planted, less 1
	cover68, cover95    int
	decayBias           float64
	decaySD             float64 // 1.4826 times the median deviation
	known, knownCover95 int     // with an interval of b, and those that hold it
	decayCover95        int     // of those with b itself
}

// radialOnly skips the directional tests of a measurement.
func radialOnly(e *ejecta.Evidence) *ejecta.Evidence {
	c := *e
	c.Status = ejecta.StatusRadialOnly
	return &c
}

// amplitudeOf plants symmetric blankets of random exponent on every site.
func (w *world) amplitudeOf(snr float64) amplitudeResult {
	r := amplitudeResult{world: w.name, snr: snr}
	banks := make([]*bank, len(decays))
	for i, b := range decays {
		banks[i] = w.bank(testblanket.Blanket{Pattern: "symmetric", Amplitude: 1, Decay: b})
	}
	rng := rand.New(rand.NewPCG(w.seed, uint64(snr)))
	pick, a := make([]int, len(w.sites)), make([]float64, len(w.sites))
	for i := range pick {
		pick[i] = rng.IntN(len(decays))
	}
	found := make([]ejecta.Finding, len(w.sites))
	each(len(found), func(i int) {
		s := &w.sites[i]
		m := radialOnly(s.evidence).Measure(ejecta.Settings{}, s.scale, 1)
		a[i] = snr * m.Blanket.Sigma
		found[i] = radialOnly(w.with(s, banks[pick[i]], a[i])).Measure(ejecta.Settings{}, s.scale, 1).Finding
	})
	var ratio, decay []float64
	for i, f := range found {
		if math.IsNaN(f.RimExcess) {
			continue
		}
		r.n++
		ratio = append(ratio, f.RimExcess/a[i])
		r.cover68 += hit(f.RimExcess68, a[i])
		r.cover95 += hit(f.RimExcess95, a[i])
		b := decays[pick[i]]
		if !math.IsNaN(f.Decay95[0]) {
			r.known++
			r.knownCover95 += hit(f.Decay95, b)
		}
		if !math.IsNaN(f.Decay) {
			r.withDecay++
			decay = append(decay, f.Decay-b)
			r.decayCover95 += hit(f.Decay95, b)
		}
	}
	r.bias = ejecta.Median(ratio) - 1
	r.decayBias, r.decaySD = ejecta.MAD(decay)
	return r
}

func hit(interval [2]float64, v float64) int {
	if interval[0] <= v && v <= interval[1] {
		return 1
	}
	return 0
}

// catalogueResult is the false-discovery control of one world.
type catalogueResult struct {
	world      string
	catalogues int
	bhFalse    float64 // mean false share of BH at q = 0.1
	bhFound    float64 // mean found share of the true
	localFalse float64 // of the local rate, mean <= 0.1
	localFound float64
	falseSites int // different sites that BH called falsely
}

// catalogueOf takes half of the sites at random, enriches 5 % of them, z
// uniform over 2..8, and does so many times.
func (w *world) catalogueOf(catalogues int) catalogueResult {
	r := catalogueResult{world: w.name, catalogues: catalogues}
	painted := w.bank(testblanket.Blanket{Pattern: "symmetric", Amplitude: 1})
	null := make([]ejecta.Measurement, len(w.sites))
	each(len(null), func(i int) {
		s := &w.sites[i]
		null[i] = radialOnly(s.evidence).Measure(ejecta.Settings{}, s.scale, 1)
	})
	wrong := map[int]bool{} // sites that were called falsely
	rng := rand.New(rand.NewPCG(w.seed, 5))
	for range catalogues {
		chosen := rng.Perm(len(null))[:(len(null)+1)/2]
		truth, z := make([]bool, len(chosen)), make([]float64, len(chosen))
		for i := range truth {
			truth[i] = rng.Float64() < 0.05
			z[i] = 2 + 6*rng.Float64()
		}
		p := make([]float64, len(chosen))
		each(len(p), func(i int) {
			s, m := &w.sites[chosen[i]], null[chosen[i]].Blanket
			p[i] = m.P
			if truth[i] {
				e := radialOnly(w.with(s, painted, z[i]*m.Sigma))
				p[i] = e.Measure(ejecta.Settings{}, s.scale, 1).Blanket.P
			}
		})
		q := ejecta.QValues(p)
		for i, v := range q {
			if v <= 0.1 && !truth[i] {
				wrong[chosen[i]] = true
			}
		}
		f, t := falseShare(q, truth)
		r.bhFalse += f / float64(catalogues)
		r.bhFound += t / float64(catalogues)
		local, _ := ejecta.TailRates(p)
		f, t = falseShare(local, truth)
		r.localFalse += f / float64(catalogues)
		r.localFound += t / float64(catalogues)
	}
	r.falseSites = len(wrong)
	return r
}

// falseShare is the share of false among values <= 0.1 and of those among the
// true.
func falseShare(value []float64, truth []bool) (fdp, found float64) {
	var n, wrong, right, all float64
	for i, v := range value {
		if truth[i] {
			all++
		}
		if !(v <= 0.1) {
			continue
		}
		n++
		if truth[i] {
			right++
		} else {
			wrong++
		}
	}
	return wrong / math.Max(n, 1), right / math.Max(all, 1)
}
