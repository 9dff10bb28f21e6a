package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestYorkLine uses the data of Pearson (1901) with the weights of York (1966);
// the line is that of York et al. (2004), Am. J. Phys. 72, 367 (from memory).
func TestYorkLine(t *testing.T) {
	x := []float64{0, 0.9, 1.8, 2.6, 3.3, 4.4, 5.2, 6.1, 6.5, 7.4}
	y := []float64{5.9, 5.4, 4.4, 4.6, 3.5, 3.7, 2.8, 2.8, 2.4, 1.5}
	wx := []float64{1000, 1000, 500, 800, 200, 80, 60, 20, 1.8, 1}
	wy := []float64{1, 1.8, 4, 8, 20, 20, 70, 70, 100, 500}
	var pairs []Pair
	for i := range x {
		pairs = append(pairs, Pair{x[i], 1 / math.Sqrt(wx[i]), y[i], 1 / math.Sqrt(wy[i])})
	}
	l := YorkLine(pairs, 0)
	for _, c := range []struct {
		name           string
		got, want, tol float64
	}{
		{"slope", l.Slope, -0.480533407, 1e-8},
		{"intercept", l.Intercept, 5.47991022, 1e-7},
		{"slope error", l.SlopeSE, 0.0579850090, 1e-6},
		{"intercept error", l.InterceptSE, 0.294970735, 1e-5},
		{"chi-square", l.Chi2, 11.8663532, 1e-6},
	} {
		if !(math.Abs(c.got-c.want) <= c.tol) {
			t.Errorf("%s %.9g, want %.9g", c.name, c.got, c.want)
		}
	}
}

// inventedPairs draws B = 5 + 1.2 A with independent errors 2 and 3.
func inventedPairs(n int) []Pair {
	rng := rand.New(rand.NewPCG(3, 4))
	out := make([]Pair, n)
	for i := range out {
		truth := 40 * rng.Float64()
		out[i] = Pair{truth + 2*rng.NormFloat64(), 2, 5 + 1.2*truth + 3*rng.NormFloat64(), 3}
	}
	return out
}

func TestAgreementFindsSlopeAndSharedNoise(t *testing.T) {
	g := NewAgreement(inventedPairs(4000), 0)
	if math.Abs(g.Line.Slope-1.2) > 4*g.Line.SlopeSE || math.Abs(g.Line.Intercept-5) > 4*g.Line.InterceptSE || g.Line.SlopeSE > 0.02 {
		t.Errorf("line %+v, want 5 + 1.2 A", g.Line)
	}
	shared := inventedPairs(400)
	for i := range shared {
		shared[i].B = shared[i].A + 1 // differences without scatter
	}
	if g := NewAgreement(shared, 0); g.P < 0.99 || math.Abs(g.Bias-1) > 1e-9 || !(g.Implied > 0.9) {
		t.Errorf("equal noise: %+v", g)
	}
	if g := NewAgreement(shared[:3], 0); g.Pairs != 3 || !math.IsNaN(g.Bias) {
		t.Errorf("three pairs: %+v", g)
	}
}

func TestChangeComparesAxesTheShortWay(t *testing.T) {
	one := func(p Pattern, axis float64) *Finding {
		return &Finding{Status: StatusOK, Pattern: p, Axis: axis, AxisSE: 3, Excess: 10, ExcessSE: 3, ExcessQ: 1, AsymmetryQ: 1}
	}
	for _, c := range []struct {
		a, b *Finding
		want float64
	}{
		{one(PatternBilateral, 175), one(PatternBilateral, 5), 10},
		{one(PatternOneSided, 350), one(PatternOneSided, 10), 20},
		{one(PatternOneSided, 190), one(PatternBilateral, 5), -5},
	} {
		if got := NewChange(c.a, c.b, 0.1, 0.1, 0).AxisChange; math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%v to %v: %g, want %g", c.a.Axis, c.b.Axis, got, c.want)
		}
	}
	b := one(PatternNone, 0)
	b.Excess, b.ExcessSE = 25, 4
	if c := NewChange(one(PatternNone, 0), b, 0.1, 0.1, 0); c.Sigma != 3 || c.Importance != 3 || !c.Changed() {
		t.Errorf("change %+v, want 3 sigma and nothing else", c)
	}
}

func TestVerdictWord(t *testing.T) {
	for _, c := range []struct {
		f    Finding
		want string
	}{
		{Finding{Status: StatusTooSmall}, VerdictNotMeasurable},
		{Finding{Status: StatusOK, Claimed: true, ExcessQ: 0.05}, VerdictEnriched},
		{Finding{Status: StatusOK, Claimed: true, ExcessQ: 0.2}, VerdictCandidate},
		{Finding{Status: StatusOK, Claimed: true, ExcessQ: 0.05, Alarms: []Alarm{{Name: "x", Raised: true}}}, VerdictCandidate},
		{Finding{Status: StatusOK, ExcessQ: 0.05, UpperLimit95: 4}, VerdictUpperLimit},
		{Finding{Status: StatusOK, ExcessQ: 1, Pattern: PatternGap, AsymmetryQ: 0.5}, VerdictCandidate},
		{Finding{Status: StatusOK, ExcessQ: 1, UpperLimit95: math.NaN()}, VerdictNothing},
	} {
		if got := c.f.VerdictWord(0.1); got != c.want {
			t.Errorf("%+v: %s, want %s", c.f, got, c.want)
		}
	}
}
