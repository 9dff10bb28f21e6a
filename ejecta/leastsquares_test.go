package ejecta

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

type nistLinear struct {
	Model string
	X     []json.RawMessage
	Y     []float64
	B     []float64 `json:"certified"`
	SE    []float64 `json:"certified_se"`
	SD    float64   `json:"certified_rsd"`
	RSS   float64   `json:"exact_rss_here"`
}

// design builds the columns that the certificate names.
func (s nistLinear) design(t *testing.T) *mat.Dense {
	t.Helper()
	x := mat.NewDense(len(s.Y), len(s.B), nil)
	for i, raw := range s.X {
		var row []float64
		var v float64
		if json.Unmarshal(raw, &v) != nil {
			if err := json.Unmarshal(raw, &row); err != nil {
				t.Fatal(err)
			}
			x.SetRow(i, append([]float64{1}, row...))
			continue
		}
		first := 0
		if strings.HasPrefix(s.Model, "y=b1*x") {
			first = 1
		}
		for j := range s.B {
			x.Set(i, j, math.Pow(v, float64(j+first)))
		}
	}
	return x
}

// NIST/ITL Statistical Reference Datasets, linear regression. The tolerances
// are what doubles can hold: the condition of the scaled columns times 1e-16,
// about 1e-11 for Longley and Wampler and, for the tenth-degree Filip whose
// raw powers no double represents exactly, 1e-7.
func TestNISTLinear(t *testing.T) {
	var file struct{ Datasets map[string]nistLinear }
	reference(t, "nist_linear.json", &file)
	for _, c := range []struct {
		name    string
		tol     float64 // of the coefficients
		perfect bool    // residuals are zero
	}{
		{"Norris", 1e-13, false}, {"Pontius", 1e-12, false}, {"NoInt1", 1e-14, false}, {"NoInt2", 1e-14, false},
		{"Wampler1", 1e-11, true}, {"Wampler2", 1e-12, true}, {"Longley", 1e-11, false}, {"Filip", 1e-7, false},
	} {
		s, ok := file.Datasets[c.name]
		if !ok {
			t.Fatalf("%s is missing", c.name)
		}
		f, err := LeastSquares(s.design(t), s.Y)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		for j, want := range s.B {
			near(t, fmt.Sprintf("%s b%d", c.name, j), f.Coefficients[j], want, c.tol)
			if !c.perfect {
				near(t, fmt.Sprintf("%s se%d", c.name, j), f.SE[j], s.SE[j], max(c.tol, 1e-11))
			}
		}
		if c.perfect {
			within(t, c.name+" residual sd", f.Sigma, 0, 1e-8)
			continue
		}
		near(t, c.name+" residual sd", f.Sigma, s.SD, max(c.tol, 1e-12))
		near(t, c.name+" RSS", f.RSS, s.RSS, max(c.tol, 1e-12))
	}
}

// NIST StRD, nonlinear regression: DanWood is y = b1 x^b2, certified to 11
// digits.
func TestNISTDanWood(t *testing.T) {
	var file struct {
		Datasets map[string]struct {
			X, Y           []float64
			Start1, Start2 []float64
			B              []float64 `json:"certified"`
			SE             []float64 `json:"certified_se"`
			RSS            float64   `json:"certified_rss"`
		}
	}
	reference(t, "nist_nonlinear.json", &file)
	s, ok := file.Datasets["DanWood"]
	if !ok {
		t.Fatal("DanWood is missing")
	}
	for _, start := range []float64{s.Start1[1], s.Start2[1], -3} {
		f, err := PowerLaw(s.X, s.Y, start)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "a", f.A, s.B[0], 1e-10)
		near(t, "b", f.B, s.B[1], 1e-10)
		near(t, "se a", f.SEA, s.SE[0], 1e-9)
		near(t, "se b", f.SEB, s.SE[1], 1e-9)
		near(t, "RSS", f.RSS, s.RSS, 1e-10)
	}
}

func TestPowerLawFindsExactCurves(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := rapid.Float64Range(0.1, 100).Draw(rt, "a")
		b := rapid.Float64Range(-6, -0.5).Draw(rt, "b")
		var x, y []float64
		for r := 1.1; r < 8; r += 0.4 {
			x, y = append(x, r), append(y, a*math.Pow(r, b))
		}
		f, err := PowerLaw(x, y, -3)
		if err != nil || math.Abs(f.A-a) > 1e-7*a || math.Abs(f.B-b) > 1e-7 {
			rt.Fatalf("%g x^%g fitted as %+v, %v", a, b, f, err)
		}
	})
}

func TestPowerLawRefusals(t *testing.T) {
	for name, c := range map[string][2][]float64{
		"too few":  {{1, 2}, {3, 4}},
		"negative": {{1, -2, 3}, {3, 4, 5}},
		"NaN":      {{1, 2, 3}, {3, math.NaN(), 5}},
		"same x":   {{2, 2, 2}, {3, 4, 5}},
	} {
		if f, err := PowerLaw(c[0], c[1], -3); err == nil {
			t.Errorf("%s: %+v", name, f)
		}
	}
}

// Rikken & van Rijn (1993), the meuse data; fits by nlme and gstat as in the
// file: log(zinc) ~ sqrt(dist), correlation 0.9 exp(-h/300) off the diagonal.
func TestMeuseGLS(t *testing.T) {
	var file struct {
		Meuse struct {
			Meuse []struct{ X, Y, Zinc, Dist float64 }
			OLS   struct{ Coef, SE []float64 }
			GLS   struct {
				Coef, SE []float64
				Sigma    float64
				LogLik   float64
			} `json:"gls_fixed"`
			REML struct {
				Coef, SE    []float64
				Sigma       float64
				RangeNugget [2]float64 `json:"range_nugget"`
			} `json:"gls_reml"`
		}
	}
	reference(t, "spatial_meuse.json", &file)
	places, ref := file.Meuse.Meuse, file.Meuse
	n := len(places)
	if n != 155 {
		t.Fatalf("%d places", n)
	}
	x, y, c := mat.NewDense(n, 2, nil), make([]float64, n), mat.NewSymDense(n, nil)
	for i, p := range places {
		x.SetRow(i, []float64{1, math.Sqrt(p.Dist)})
		y[i] = math.Log(p.Zinc)
		for j, q := range places[:i] {
			c.SetSym(i, j, 0.9*math.Exp(-math.Hypot(p.X-q.X, p.Y-q.Y)/300))
		}
		c.SetSym(i, i, 1)
	}
	ols, err := LeastSquares(x, y)
	if err != nil {
		t.Fatal(err)
	}
	gls, err := GeneralLeastSquares(x, y, c)
	if err != nil {
		t.Fatal(err)
	}
	for j := range 2 {
		near(t, "OLS b", ols.Coefficients[j], ref.OLS.Coef[j], 1e-11)
		near(t, "OLS se", ols.SE[j], ref.OLS.SE[j], 1e-11)
		near(t, "GLS b", gls.Coefficients[j], ref.GLS.Coef[j], 1e-11)
		near(t, "GLS se", gls.SE[j], ref.GLS.SE[j], 1e-11)
	}
	near(t, "GLS sigma of maximum likelihood", math.Sqrt(gls.RSS/float64(n)), ref.GLS.Sigma, 1e-11)
	near(t, "GLS log-likelihood", gls.LogLikelihood, ref.GLS.LogLik, 1e-11)

	// The range and the nugget that were fitted by restricted likelihood.
	far, nugget := ref.REML.RangeNugget[0], ref.REML.RangeNugget[1]
	for i, p := range places {
		for j, q := range places[:i] {
			c.SetSym(i, j, (1-nugget)*math.Exp(-math.Hypot(p.X-q.X, p.Y-q.Y)/far))
		}
	}
	reml, err := GeneralLeastSquares(x, y, c)
	if err != nil {
		t.Fatal(err)
	}
	for j := range 2 {
		near(t, "restricted likelihood b", reml.Coefficients[j], ref.REML.Coef[j], 1e-10)
		near(t, "restricted likelihood se", reml.SE[j], ref.REML.SE[j], 1e-10)
	}
	near(t, "restricted likelihood sigma", math.Sqrt(reml.RSS/float64(n-2)), ref.REML.Sigma, 1e-10)
}

func TestLeastSquaresRefusals(t *testing.T) {
	if _, err := LeastSquares(mat.NewDense(1, 2, []float64{1, 2}), []float64{1}); err == nil {
		t.Error("one value fixed two coefficients")
	}
	if _, err := LeastSquares(mat.NewDense(3, 2, []float64{1, 2, 2, 4, 3, 6}), []float64{1, 2, 3}); err == nil {
		t.Error("dependent columns were accepted")
	}
	c := mat.NewSymDense(2, []float64{1, 2, 2, 1})
	if _, err := GeneralLeastSquares(mat.NewDense(2, 1, []float64{1, 1}), []float64{1, 2}, c); err == nil {
		t.Error("a covariance that is none was accepted")
	}
}

// Bayley & Hammersley (1946): AR(1) on a line in closed form, and rings with
// exponential correlation.
func TestEffectiveSize(t *testing.T) {
	var file struct {
		Cases []struct {
			Kind string
			N    int
			Rho  float64
			L    float64 `json:"L_deg"`
			Neff float64 `json:"neff_mean_exact"`
		}
	}
	reference(t, "effective_sample_size.json", &file)
	if len(file.Cases) < 7 {
		t.Fatalf("only %d cases", len(file.Cases))
	}
	for _, c := range file.Cases {
		r := mat.NewSymDense(c.N, nil)
		for i := range c.N {
			for j := range i + 1 {
				d := float64(i - j)
				if c.L > 0 {
					d = math.Abs(math.Remainder(d*360/float64(c.N), 360))
					r.SetSym(i, j, math.Exp(-d/c.L))
				} else {
					r.SetSym(i, j, math.Pow(c.Rho, d))
				}
			}
		}
		near(t, fmt.Sprintf("%s, n=%d", c.Kind, c.N), EffectiveSize(r), c.Neff, 1e-12)
	}
}

func BenchmarkPowerLaw(b *testing.B) {
	x := []float64{1.309, 1.471, 1.49, 1.565, 1.611, 1.68} // DanWood
	y := []float64{2.138, 3.421, 3.597, 4.34, 4.882, 5.66}
	for b.Loop() {
		if _, err := PowerLaw(x, y, 5); err != nil {
			b.Fatal(err)
		}
	}
}
