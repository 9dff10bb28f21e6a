package ejecta

import (
	"math"
	"sort"
	"testing"

	"pgregory.net/rapid"
)

// chem and abbey: Venables & Ripley (2002), Modern Applied Statistics with S,
// section 5.5; the Huber location converged past the package's 1e-6.
func TestPublishedRobustSets(t *testing.T) {
	type set struct {
		Data              []float64
		Mean, Median, MAD float64
		Huber             float64 `json:"huber_mu"`
		HuberConverged    float64 `json:"huber_mu_numpy_converged"`
	}
	var file struct {
		Values struct{ Chem, Abbey set }
	}
	reference(t, "robust.json", &file)
	for name, c := range map[string]set{"chem": file.Values.Chem, "abbey": file.Values.Abbey} {
		if len(c.Data) < 24 {
			t.Fatalf("%s: %d values", name, len(c.Data))
		}
		mid, sigma := MAD(c.Data)
		near(t, name+" median", mid, c.Median, 1e-12)
		near(t, name+" MAD", sigma, c.MAD, 1e-12)
		near(t, name+" Huber", HuberLocation(c.Data, 1.5), c.HuberConverged, 1e-12)
		near(t, name+" Huber, printed", HuberLocation(c.Data, 1.5), c.Huber, 1e-6)
	}
}

func TestMedianProperties(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		x := rapid.SliceOfN(rapid.Float64Range(-1e6, 1e6), 1, 30).Draw(rt, "x")
		m := Median(append(x, math.NaN()))
		s := append([]float64(nil), x...)
		sort.Float64s(s)
		below, above := sort.SearchFloat64s(s, m), 0
		for _, v := range s {
			if v > m {
				above++
			}
		}
		if 2*below > len(x) || 2*above > len(x) {
			rt.Fatalf("median %g of %v has %d below, %d above", m, x, below, above)
		}
		if q := Quantile(x, 0.5); math.Abs(q-m) > 1e-9*(1+math.Abs(m)) {
			rt.Fatalf("quantile 0.5 is %g, median %g", q, m)
		}
		ones := make([]float64, len(x))
		for i := range ones {
			ones[i] = 1
		}
		if w := WeightedMedian(x, ones); math.Abs(w-m) > 1e-9*(1+math.Abs(m)) {
			rt.Fatalf("equally weighted median %g, median %g", w, m)
		}
	})
}

func TestRobustEdges(t *testing.T) {
	if !math.IsNaN(Median(nil)) || !math.IsNaN(Quantile([]float64{math.NaN()}, 0.5)) {
		t.Error("nothing has a median")
	}
	if m := WeightedMedian([]float64{1, 2, 3}, []float64{1, 1, 5}); m != 3 {
		t.Errorf("weighted median %g, want 3", m)
	}
	if h := HuberLocation([]float64{5, 5, 5, 9}, 1.5); h != 5 {
		t.Errorf("Huber location without scale %g, want 5", h)
	}
	x := []float64{-1, 0, 1, 2, 3, math.NaN(), 100, -100}
	if n := Winsorise(x, 3); n != 2 || x[6] != 1+3*1.4826*2 || x[2] != 1 {
		t.Errorf("winsorised %d values: %v", n, x)
	}
}
