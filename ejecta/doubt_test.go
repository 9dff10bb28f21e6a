package ejecta

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestScaleDoubt(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	draw := func(n int, sd float64) []float64 {
		v := make([]float64, n)
		for i := range v {
			v[i] = 1 + sd*rng.NormFloat64()
		}
		return v
	}
	for _, c := range []struct {
		what   string
		values []float64
		scale  float64
		want   string
	}{
		{"the usual", draw(300, 0.41), 1.07, ""},
		{"few, as a class may have", draw(40, 0.41), 0.95, ""},
		{"too few", draw(12, 0.41), 1, "12 null positions"},
		{"none", nil, 1, "0 null positions"},
		{"wide", draw(40, 1.2), 1, "only"},
		{"high", draw(300, 0.41), 1.4, "far from 1"},
		{"low", draw(300, 0.41), 0.7, "far from 1"},
	} {
		if got := ScaleDoubt(c.values, c.scale); got == "" != (c.want == "") || !strings.Contains(got, c.want) {
			t.Errorf("%s: %q", c.what, got)
		}
	}
}

// wrongScale is a catalogue of 2000 craters, 5 % of them enriched with true scores
// of 2 to 8, whose scores are too large by a factor.
func wrongScale(rng *rand.Rand, factor float64, doubt bool) (findings []Finding, truth []bool) {
	for range 2000 {
		z, real := rng.NormFloat64(), rng.Float64() < 0.05
		if real {
			z += 2 + 6*rng.Float64()
		}
		f := Finding{ScaleDoubt: doubt, Status: StatusOK}
		BlankNumbers(&f)
		f.ExcessP = upperTail(z * factor)
		findings, truth = append(findings, f), append(truth, real)
	}
	return findings, truth
}

// discoveries are the false share among q <= 0.1, and the share found.
func discoveries(findings []Finding, truth []bool) (false_, found float64) {
	var n, wrong, all float64
	for i, f := range findings {
		if truth[i] {
			all++
		}
		if f.ExcessQ <= 0.1 {
			n++
			if !truth[i] {
				wrong++
			}
		}
	}
	return wrong / math.Max(n, 1), (n - wrong) / all
}

// With a noise variance a quarter too small, q values by the step-up rule alone
// let a fifth of false ones in where a tenth is asked for; the null of the craters
// themselves holds the tenth, at the price of a few of the faintest.
func TestWrongScaleFallsBack(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	rng := rand.New(rand.NewPCG(4, 4))
	const catalogues = 40
	var plain, safe, found, right, rightFound float64
	for range catalogues {
		f, truth := wrongScale(rng, math.Sqrt(4.0/3), false)
		Correct(f, 1)
		wrong, _ := discoveries(f, truth)
		plain += wrong / catalogues
		for i := range f {
			f[i].ScaleDoubt = true
		}
		Correct(f, 1)
		wrong, share := discoveries(f, truth)
		safe, found = safe+wrong/catalogues, found+share/catalogues
		f, truth = wrongScale(rng, 1, true)
		Correct(f, 1)
		wrong, share = discoveries(f, truth)
		right, rightFound = right+wrong/catalogues, rightFound+share/catalogues
	}
	t.Logf("false share: step-up %.3f, fallback %.3f with %.2f found; with a right scale %.3f with %.2f", plain, safe, found, right, rightFound)
	if plain < 0.15 {
		t.Errorf("the step-up rule alone: %.3f; the scale is not wrong enough for this test", plain)
	}
	if safe > 0.11 || right > 0.11 {
		t.Errorf("false share with the fallback %.3f, with a right scale %.3f", safe, right)
	}
	if found < 0.75 || rightFound < 0.75 {
		t.Errorf("found %.2f and %.2f", found, rightFound)
	}
}

// The fallback touches one species and never makes a q smaller; a small catalogue
// and a scale without doubt keep the step-up rule.
func TestFallbackIsKeptToItsSpecies(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 5))
	a, _ := wrongScale(rng, 1.2, true)
	b, _ := wrongScale(rng, 1, false)
	var both []Finding
	for i := range a {
		both = append(both, a[i], b[i])
	}
	plain := make([]float64, len(both))
	for i, f := range both {
		plain[i] = f.ExcessP
	}
	plain = QValues(plain)
	Correct(both, 2)
	for i, f := range both {
		want := QRuleBH
		if i%2 == 0 {
			want = QRuleEmpirical
		}
		if f.ExcessQRule != want || f.ExcessQ < plain[i] || i%2 == 1 && f.ExcessQ != plain[i] {
			t.Fatalf("finding %d: %s, q %g, by the step-up rule %g", i, f.ExcessQRule, f.ExcessQ, plain[i])
		}
		if f.DirectionQRule != "" {
			t.Fatalf("no direction was tested, its rule is %s", f.DirectionQRule)
		}
	}
	few := a[:100]
	Correct(few, 1)
	if few[0].ExcessQRule != QRuleBH {
		t.Errorf("100 craters: %s", few[0].ExcessQRule)
	}
}
