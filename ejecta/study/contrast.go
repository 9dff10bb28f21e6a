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
	claimed      int // and the direction of the second species below 0.05
	naive        int // second below 0.05, first above: no evidence
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
		ma := w.with(p.a, first, amp*c.ratio).Measure(ejecta.Settings{}, p.a.scale, uint64(i))
		mb := w.with(p.b, second, amp).Measure(ejecta.Settings{}, p.b.scale, uint64(i))
		_, t, _, ok := ejecta.ContrastTest(species(ma), species(mb), 0)
		if !ok {
			t = 1
		}
		found[i] = outcome{t, ma.Finding.AsymmetryP, mb.Finding.AsymmetryP}
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

func species(m ejecta.Measurement) ejecta.SpeciesEvidence {
	return ejecta.SpeciesEvidence{Direction: m.Direction, Amplitude: m.Blanket.Z * m.Blanket.Sigma, SE: m.Blanket.Sigma}
}
