package study

import (
	"math"
	"math/rand/v2"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// contrastResult is the test that two species share one shape.
type contrastResult struct {
	world, truth string
	z            float64
	n            int
	tested       int // p of the contrast below 0.05
	claimed      int // and the harmonics of the second species below 0.05
	naive        int // harmonics of the second below 0.05, of the first above: no evidence
}

// contrastCase is a pair of blankets: of the first and the second species, the
// first scaled by ratio.
type contrastCase struct {
	truth         string
	first, second testblanket.Blanket
	ratio         float64
}

func contrastCases() []contrastCase {
	one := testblanket.Blanket{Pattern: "one-sided", Amplitude: 1, Axis: 31}
	two := testblanket.Blanket{Pattern: "bilateral", Amplitude: 1, Axis: 31, Kappa: 8}
	flat := testblanket.Blanket{Pattern: "symmetric", Amplitude: 1}
	return []contrastCase{
		{"same one-sided", one, one, 1},
		{"same one-sided, first half as strong", one, one, 0.5},
		{"same bilateral", two, two, 1},
		{"both symmetric", flat, flat, 1},
		{"second one-sided, first symmetric", flat, one, 1},
		{"second bilateral, first symmetric", flat, two, 1},
	}
}

// contrastOf plants one case at directional signal to noise z of the second
// species, whose noise is independent of the first's.
func (w *world) contrastOf(c contrastCase, z float64, pairs int) contrastResult {
	r := contrastResult{world: w.name, truth: c.truth, z: z}
	first, second := w.bank(c.first), w.bank(c.second)
	unit := w.unitOf(c, second)
	rng := rand.New(rand.NewPCG(w.seed, uint64(10*z)+1))
	type pair struct{ a, b *site }
	list := make([]pair, pairs)
	for i := range list {
		a := &w.sites[rng.IntN(len(w.sites))]
		b := w.siteOf(a.m, a.frame, rng)
		for b == a {
			b = w.siteOf(a.m, a.frame, rng)
		}
		list[i] = pair{a, b}
	}
	type outcome struct{ test, dirA, dirB float64 }
	found := make([]outcome, pairs)
	each(pairs, func(i int) {
		p := list[i]
		amp := z / unit
		a := species(w.with(p.a, first, amp*c.ratio), p.a.scale)
		b := species(w.with(p.b, second, amp), p.b.scale)
		_, t, _, ok := ejecta.ContrastTest(a, b, 0)
		if !ok {
			t = 1
		}
		found[i] = outcome{t, harmonicsP(a), harmonicsP(b)}
	})
	for _, f := range found {
		r.n++
		if f.test < 0.05 {
			r.tested++
			if f.dirB < 0.05 {
				r.claimed++
			}
		}
		if f.dirB < 0.05 && f.dirA >= 0.05 {
			r.naive++
		}
	}
	return r
}

// unitOf is the directional signal to noise of the second species per unit
// amplitude; where it has none, that of a one-sided blanket.
func (w *world) unitOf(c contrastCase, second *bank) float64 {
	if c.second.Pattern == "symmetric" {
		second = w.bank(testblanket.Blanket{Pattern: "one-sided", Amplitude: 1})
	}
	sum := 0.0
	for k := range w.frames {
		d := second.evidence[0][k].Directions(1)
		sum += signal(d, orders, d.Score[:])
	}
	return math.Sqrt(sum / float64(len(w.frames)))
}

// species is what the contrast needs of one species; the directional tests of
// the whole bank, which it does not, are left out.
func species(e *ejecta.Evidence, scale float64) ejecta.SpeciesEvidence {
	bl := radialOnly(e).Measure(ejecta.Settings{}, scale, 1).Blanket
	return ejecta.SpeciesEvidence{Direction: e.Directions(scale), Amplitude: bl.Z * bl.Sigma, SE: bl.Sigma}
}

// harmonicsP is the p of the harmonics to order 6, standing for the directional
// test.
func harmonicsP(s ejecta.SpeciesEvidence) float64 {
	return ejecta.ChiSquareP(chiSquare(s.Direction, 6), 12)
}
