package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// Abramowitz & Stegun (1972) tables 26.1, 26.2 (normal) and 26.8 (chi-square);
// far tails by the asymptotic series 26.2.12.
func TestTailTables(t *testing.T) {
	for _, c := range []struct{ z, p float64 }{
		{0, 0.5}, {1, 0.158655253931457}, {2, 0.022750131948179}, {5, 2.8665157187919e-7},
		{10, 7.61985302416053e-24}, {30, 4.90671392714819e-198},
	} {
		near(t, fmt.Sprintf("upper tail of %g", c.z), upperTail(c.z), c.p, 1e-12)
		within(t, fmt.Sprintf("score of %g", c.p), ScoreOf(c.p), c.z, 1e-10)
	}
	for _, c := range []struct{ x, dof, p float64 }{
		{3.84145882069412, 1, 0.05}, {9.21034037197618, 2, 0.01}, {21.0260698174830, 12, 0.05}, {32.9094904073602, 12, 0.001},
	} {
		near(t, fmt.Sprintf("chi-square %g on %g", c.x, c.dof), ChiSquareP(c.x, c.dof), c.p, 1e-10)
	}
	near(t, "chi-square 300 on 2", ChiSquareP(300, 2), math.Exp(-150), 1e-11)
}

func TestScoreUndoesTail(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		z := rapid.Float64Range(-5, 35).Draw(rt, "z")
		if got := ScoreOf(upperTail(z)); math.Abs(got-z) > 1e-9 {
			rt.Fatalf("ScoreOf(tail(%g)) = %g", z, got)
		}
	})
	for _, p := range []float64{0, 1} {
		if z := ScoreOf(p); math.Abs(z) != scoreLimit {
			t.Errorf("score of %g is %g", p, z)
		}
	}
}

// The order-1 family has Lambda = 2 pi, for which the tube formula is exact:
// the largest score over the turn is Rayleigh distributed, p = exp(-z^2/2).
func TestTubeOfTheFirstHarmonic(t *testing.T) {
	near(t, "tube", TubeP(2*math.Pi, 3), ChiSquareP(9, 2), 1e-12)
	if TubeP(12, -1) != 1 || TubeP(12, 0.1) != 1 || !math.IsNaN(TubeP(12, math.NaN())) {
		t.Error("tube formula outside its range")
	}
}

func TestCauchyHoldsItsSize(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 9))
	for _, rho := range []float64{0, 0.5, 0.99} {
		const draws = 100000
		var hits [2]int
		p := make([]float64, 6)
		for range draws {
			common := rng.NormFloat64()
			for i := range p {
				p[i] = upperTail(math.Sqrt(rho)*common + math.Sqrt(1-rho)*rng.NormFloat64())
			}
			c := CauchyP(p, nil)
			if c < 0.01 {
				hits[0]++
			}
			if BonferroniP(p...) < 0.01 {
				hits[1]++
			}
		}
		// Binomial sd is 0.0003; Liu & Xie: exact in the tail, a little above
		// for middling correlation.
		if got := float64(hits[0]) / draws; got < 0.0085 || got > 0.0135 {
			t.Errorf("correlation %g: Cauchy rejects %.4f at 0.01", rho, got)
		}
		if got := float64(hits[1]) / draws; got > 0.011 {
			t.Errorf("correlation %g: Bonferroni rejects %.4f at 0.01", rho, got)
		}
	}
}

func TestCombinationProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.Float64Range(1e-250, 0.98).Draw(rt, "p")
		if got := CauchyP([]float64{p, math.NaN(), p}, nil); math.Abs(got-p) > 1e-9*p {
			rt.Fatalf("two equal p values %g combine to %g", p, got)
		}
		q := rapid.Float64Range(0, 1).Draw(rt, "q")
		both := CauchyP([]float64{p, q}, []float64{3, 1})
		lo, hi := math.Min(p, q), math.Max(p, q)
		if both < math.Min(lo, cauchyCeiling)*(1-1e-9) || both > hi*(1+1e-9) {
			rt.Fatalf("%g and %g combine to %g", p, q, both)
		}
	})
	if !math.IsNaN(CauchyP(nil, nil)) || !math.IsNaN(BonferroniP(math.NaN())) {
		t.Error("no tests must combine to NaN")
	}
	if got := BonferroniP(0.5, math.NaN(), 0.01); got != 0.02 {
		t.Errorf("Bonferroni of two is %g", got)
	}
	near(t, "binomial", BinomialP(2, 3, 0.5), 0.5, 1e-12)
}
