package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// Benjamini & Hochberg (1995) section 4.1, Benjamini & Yekutieli (2001); the
// adjusted values agree between two statistics packages.
func TestPublishedQValues(t *testing.T) {
	var file struct {
		Cases []struct {
			Name     string
			P        []float64
			Adjusted struct {
				BH []float64 `json:"fdr_bh"`
				BY []float64 `json:"fdr_by"`
			}
			RejectedBH int `json:"rejected_bh_005"`
			RejectedBY int `json:"rejected_by_005"`
		}
	}
	reference(t, "multiple_testing.json", &file)
	if len(file.Cases) < 3 {
		t.Fatalf("only %d cases", len(file.Cases))
	}
	for _, c := range file.Cases {
		bh, by := QValues(c.P), QValuesAnyDependence(c.P)
		nBH, nBY := 0, 0
		for i := range c.P {
			within(t, fmt.Sprintf("%s: BH %d", c.Name, i), bh[i], c.Adjusted.BH[i], 1e-11)
			within(t, fmt.Sprintf("%s: BY %d", c.Name, i), by[i], c.Adjusted.BY[i], 1e-11)
			if bh[i] <= 0.05 {
				nBH++
			}
			if by[i] <= 0.05 {
				nBY++
			}
		}
		if nBH != c.RejectedBH || nBY != c.RejectedBY {
			t.Errorf("%s: %d and %d rejected at 0.05, published %d and %d", c.Name, nBH, nBY, c.RejectedBH, c.RejectedBY)
		}
	}
}

func TestQValuesLeaveOutNaN(t *testing.T) {
	q := QValues([]float64{0.04, math.NaN(), 0.01})
	if q[0] != 0.04 || q[2] != 0.02 || !math.IsNaN(q[1]) {
		t.Errorf("q = %v, want [0.04 NaN 0.02]", q)
	}
	if q := QValues(nil); len(q) != 0 {
		t.Errorf("no tests gave %v", q)
	}
}

func TestQValueProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 40).Draw(rt, "p")
		q, by := QValues(p), QValuesAnyDependence(p)
		a, share := QValuesAdaptive(p)
		for i := range p {
			if q[i] < p[i] || q[i] > 1 || by[i] < q[i] || a[i] > q[i] || share > 1 {
				rt.Fatalf("p %g: BH %g, BY %g, adaptive %g of share %g", p[i], q[i], by[i], a[i], share)
			}
			for j := range p {
				if p[i] < p[j] && q[i] > q[j] {
					rt.Fatalf("q falls from %g to %g while p rises", q[i], q[j])
				}
			}
		}
	})
}

// drawScores makes m tests, a share of them shifted by 2 to 8, with null
// scores of the given sigma.
func drawScores(rng *rand.Rand, m int, share, sigma float64) (p []float64, truth []bool) {
	p, truth = make([]float64, m), make([]bool, m)
	for i := range p {
		z := sigma * rng.NormFloat64()
		if rng.Float64() < share {
			truth[i] = true
			z += 2 + 6*rng.Float64()
		}
		p[i] = upperTail(z)
	}
	return p, truth
}

// falseShare returns the share of false among the selected and of selected
// among the true.
func falseShare(value []float64, limit float64, truth []bool) (fdp, tpr float64) {
	var n, wrong, hit, all float64
	for i, v := range value {
		if truth[i] {
			all++
		}
		if v <= limit {
			n++
			if truth[i] {
				hit++
			} else {
				wrong++
			}
		}
	}
	return wrong / math.Max(n, 1), hit / math.Max(all, 1)
}

// meanRates is the mean local rate of all craters at least as sure as each.
func meanRates(p []float64) []float64 {
	rates, _ := LocalFDR(p)
	mean := make([]float64, len(p))
	sum := 0.0
	for k, i := range testOrder(p) {
		sum += rates[i]
		mean[i] = sum / float64(k+1)
	}
	return mean
}

// The closed form: E(FDP) of BH is (share of nulls) times the rate, whatever
// the alternatives. Nulls too wide break it; the local rate must survive them.
func TestFalseShareOfCatalogues(t *testing.T) {
	rng := rand.New(rand.NewPCG(11, 3))
	const runs = 40
	var bh, wide, local, localWide [2]float64
	add := func(s *[2]float64, f, p float64) { s[0] += f / runs; s[1] += p / runs }
	for range runs {
		p, truth := drawScores(rng, 2000, 0.05, 1)
		f, w := falseShare(QValues(p), 0.1, truth)
		add(&bh, f, w)
		f, w = falseShare(meanRates(p), 0.1, truth)
		add(&local, f, w)
		p, truth = drawScores(rng, 2000, 0.05, 1.25)
		f, w = falseShare(QValues(p), 0.1, truth)
		add(&wide, f, w)
		f, w = falseShare(meanRates(p), 0.1, truth)
		add(&localWide, f, w)
	}
	within(t, "BH false share", bh[0], 0.095, 0.02) // sd of one run about 0.03
	if bh[1] < 0.85 {
		t.Errorf("BH finds %.2f of the true, want 0.85", bh[1])
	}
	if wide[0] < 0.15 {
		t.Errorf("nulls 25 %% too wide leave BH at %.3f: the case tests nothing", wide[0])
	}
	for name, v := range map[string][2]float64{"right nulls": local, "wide nulls": localWide} {
		if v[0] > 0.115 || v[1] < 0.75 { // nominal 0.1, three sd of 40 runs
			t.Errorf("%s: mean local rate <= 0.1 selects a false share of %.3f, %.2f of the true", name, v[0], v[1])
		}
	}
}

func TestEmpiricalNullFindsItsParameters(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	for _, c := range []struct{ mean, sigma, share float64 }{{0, 1, 0}, {0, 1.3, 0.05}, {0.3, 0.8, 0.1}} {
		p := make([]float64, 20000)
		for i := range p {
			z := c.mean + c.sigma*rng.NormFloat64()
			if rng.Float64() < c.share {
				z += 4
			}
			p[i] = upperTail(z)
		}
		_, null := LocalFDR(p)
		within(t, "null mean", null.Mean, c.mean, 0.06)
		within(t, "null sigma", null.Sigma, c.sigma, 0.05)
		within(t, "null share", null.Share, 1-c.share, 0.02)
		if !null.Fitted || null.Tests != len(p) {
			t.Errorf("null %+v", null)
		}
	}
}

// Scores narrower than the theoretical null must not make anything surer.
func TestLocalFDRIsNeverBolderThanTheTheoreticalNull(t *testing.T) {
	rng := rand.New(rand.NewPCG(8, 8))
	p := make([]float64, 2000)
	for i := range p {
		p[i] = upperTail(-0.4 + 0.7*rng.NormFloat64())
	}
	p[0] = upperTail(3)
	rates, null := LocalFDR(p)
	if !(null.Sigma < 0.8) {
		t.Fatalf("the case tests nothing: %+v", null)
	}
	// One score of 3 among 2000 is expected 2.7 times.
	if rates[0] < 0.5 {
		t.Errorf("a score of 3 among 2000 has a local rate of %.2g", rates[0])
	}
}

func TestLocalFDREdges(t *testing.T) {
	got, null := LocalFDR([]float64{0, 1, math.NaN(), 0.5})
	if null.Fitted || null.Sigma != 1 {
		t.Errorf("four tests fitted a null: %+v", null)
	}
	if !(got[0] < 1e-6) || got[1] != 1 || !math.IsNaN(got[2]) || got[3] > 1 {
		t.Errorf("local rates %v", got)
	}
	same := make([]float64, 500)
	for i := range same {
		same[i] = 1
	}
	if got, _ := LocalFDR(same); got[0] != 1 {
		t.Errorf("500 tests of p = 1: local rate %g", got[0])
	}
}

// One crater alone cannot tell how many craters are rich: its p is no
// probability that it is not.
func TestOneTestIsNoSurerThanEvenOdds(t *testing.T) {
	for _, c := range []struct{ p, least, most float64 }{
		{0.05, 0.28, 0.30}, // 0.289, Sellke, Bayarri & Berger (2001), table 1
		{0.01, 0.11, 0.12}, // 0.111, as above
		{0.001, 0.018, 0.019},
		{1e-12, 0, 1e-9},
		{0.9, 0.89, 1},
	} {
		if got, _ := LocalFDR([]float64{c.p}); !(got[0] >= c.least && got[0] <= c.most) {
			t.Errorf("p %g alone: local rate %g, want %g..%g", c.p, got[0], c.least, c.most)
		}
	}
}

func ExampleQValues() {
	// The first five of the fifteen p values of Benjamini & Hochberg (1995).
	fmt.Printf("%.4f\n", QValues([]float64{0.0001, 0.0004, 0.0019, 0.0095, 0.0201}))
	// Output: [0.0005 0.0010 0.0032 0.0119 0.0201]
}

func BenchmarkLocalFDR(b *testing.B) {
	p, _ := drawScores(rand.New(rand.NewPCG(1, 1)), 10000, 0.05, 1)
	for b.Loop() {
		LocalFDR(p)
	}
}
