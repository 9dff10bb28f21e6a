package study

import (
	"math"
	"math/rand/v2"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// classes are rows and columns of the confusion matrix.
var classes = []ejecta.Pattern{ejecta.PatternNone, ejecta.PatternSymmetric, ejecta.PatternOneSided,
	ejecta.PatternBilateral, ejecta.PatternRays, ejecta.PatternGap}

// confusion counts what was planted (rows) against what was reported.
type confusion struct {
	world string
	z     float64
	count [6][6]int
	vague [6]int // called ambiguous
}

func (c confusion) share(row, col int) float64 {
	n := 0
	for _, v := range c.count[row] {
		n += v
	}
	return float64(c.count[row][col]) / float64(max(n, 1))
}

// randomBlanket draws a shape of a class: cosine or von Mises lobes, opposite
// lobes, 3 to 5 irregular rays, gaps of 70 to 140 degrees; the directional
// share is 0.6 to 1.
func randomBlanket(p ejecta.Pattern, rng *rand.Rand) testblanket.Blanket {
	b := testblanket.Blanket{Pattern: string(p), Amplitude: 1, Axis: 360 * rng.Float64(), Share: 0.6 + 0.4*rng.Float64()}
	switch p {
	case ejecta.PatternOneSided:
		if rng.IntN(2) > 0 {
			b.Kappa = 2 + 6*rng.Float64()
		}
	case ejecta.PatternBilateral:
		b.Kappa = 4 + 8*rng.Float64()
	case ejecta.PatternRays:
		b.Kappa = 25 + 20*rng.Float64()
		b.Rays = spacedRays(3+rng.IntN(3), rng)
	case ejecta.PatternGap:
		b.GapWidth = 70 + 70*rng.Float64()
	}
	return b
}

// spacedRays draws directions at least 35 degrees apart.
func spacedRays(n int, rng *rand.Rand) []float64 {
	for {
		rays := make([]float64, n)
		ok := true
		for i := range rays {
			rays[i] = 360 * rng.Float64()
			for _, o := range rays[:i] {
				ok = ok && math.Abs(math.Remainder(rays[i]-o, 360)) >= 35
			}
		}
		if ok {
			return rays
		}
	}
}

// planted is one random shape under the noise of one map.
type planted struct {
	row, m, frame int
	evidence      *ejecta.Evidence
	unit          float64 // directional signal to noise per unit amplitude
}

// shapes draws blankets of each class with a direction.
func (w *world) shapes(perClass int) []planted {
	rng := rand.New(rand.NewPCG(w.seed, 31))
	var out []planted
	var values [][]float32
	for row := 1; row < len(classes); row++ {
		for i := range perClass {
			p := planted{row: row, m: i % len(w.maps), frame: i % len(w.frames)}
			out = append(out, p)
			values = append(values, w.frames[p.frame].paint(randomBlanket(classes[row], rng)))
		}
	}
	each(len(out), func(i int) {
		p := &out[i]
		p.evidence = w.reduce(&site{m: p.m, frame: p.frame}, w.noise[p.m], values[i])
		d := p.evidence.Directions(1)
		p.unit = math.Sqrt(signal(d, orders, d.Score[:]))
		if classes[p.row] == ejecta.PatternSymmetric {
			p.unit = 1 / radialOnly(p.evidence).Measure(ejecta.Settings{}, 1, 1).Blanket.Sigma
		}
	})
	return out
}

// confuse plants random shapes at signal to noise z on random sites.
func (w *world) confuse(shapes []planted, z float64, perClass int) confusion {
	c := confusion{world: w.name, z: z}
	rng := rand.New(rand.NewPCG(w.seed, uint64(100*z)))
	type job struct {
		row   int
		shape *planted
		s     *site
	}
	var jobs []job
	for range perClass {
		jobs = append(jobs, job{0, nil, &w.sites[rng.IntN(len(w.sites))]})
	}
	for row := 1; row < len(classes); row++ {
		for range perClass {
			p := &shapes[(row-1)*len(shapes)/5+rng.IntN(len(shapes)/5)]
			jobs = append(jobs, job{row, p, w.siteOf(p.m, p.frame, rng)})
		}
	}
	found := make([]ejecta.Finding, len(jobs))
	each(len(jobs), func(i int) {
		e := jobs[i].s.evidence
		if p := jobs[i].shape; p != nil {
			e = e.Plus(p.evidence, z/p.unit)
		}
		found[i] = e.Measure(ejecta.Settings{}, jobs[i].s.scale, w.seed+uint64(i)).Finding
	})
	for i, f := range found {
		for col, p := range classes {
			if f.Pattern == p {
				c.count[jobs[i].row][col]++
			}
		}
		if f.Ambiguous {
			c.vague[jobs[i].row]++
		}
	}
	return c
}

// siteOf is a random site of a map and frame.
func (w *world) siteOf(m, frame int, rng *rand.Rand) *site {
	for {
		if s := &w.sites[rng.IntN(len(w.sites))]; s.m == m && s.frame == frame {
			return s
		}
	}
}
