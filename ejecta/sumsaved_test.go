package ejecta

import (
	"errors"
	"math"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rimcast/ejecta/testblanket"
)

// A finding that is claimed again at another level is the one that a
// measurement at that level gives, up and down, through the saved sums.
func TestRetestIsAMeasurement(t *testing.T) {
	changed := 0
	for seed := range uint64(4) {
		for _, b := range []testblanket.Blanket{{Pattern: "one-sided", Amplitude: 1.2, Axis: 70}, {Pattern: "bilateral", Amplitude: 2, Axis: 20}, {Pattern: "rays", Amplitude: 3, Rays: []float64{10, 130, 250}}, {Pattern: "gap", Amplitude: 4, Axis: 200}, {Pattern: "symmetric", Amplitude: 1}} {
			e := Collect(plantedSite(seed, blanketField(b)), Settings{})
			at := func(alpha float64) Finding {
				set := Settings{Alpha: alpha}
				m := e.Measure(set, 1, 9)
				f := m.Finding
				f.Sums = e.Sums(&m, set, 1)
				f.Describe(alpha)
				return f
			}
			for _, from := range []float64{1e-12, 0.01, 0.5} {
				for _, to := range []float64{1e-9, 0.01, 0.6} {
					got, want := at(from), at(to)
					if got.Pattern != want.Pattern {
						changed++
					}
					if err := got.Retest(got.Sums, from, to); err != nil {
						t.Fatal(err)
					}
					if d := cmp.Diff(want, got, cmpopts.EquateNaNs(), cmpopts.EquateApprox(1e-9, 1e-9), cmp.AllowUnexported(Robustness{})); d != "" {
						t.Fatalf("%s, %g to %g: %s", b.Pattern, from, to, d)
					}
				}
			}
		}
	}
	if changed < 20 {
		t.Errorf("only %d re-tests changed a pattern", changed)
	}
}

func TestRetestNeedsSums(t *testing.T) {
	f := scored(8, 10, 0.01)
	f.Pattern, f.AsymmetryP = PatternSymmetric, 0.03
	if err := f.Retest(nil, 0.01, 0.02); err != nil || f.Pattern != PatternSymmetric {
		t.Errorf("no direction changes, %v", err)
	}
	if err := f.Retest(nil, 0.01, 0.05); !errors.Is(err, ErrNoSums) {
		t.Errorf("a direction becomes named without sums: %v", err)
	}
	if err := f.Retest(&Sums{Score: []float64{1}}, 0.01, 0.05); err == nil {
		t.Error("sums of another size were taken")
	}
}

// The products at exponent 3 are those that the test of the excess rests on.
func TestSumsHoldTheBlanket(t *testing.T) {
	e := Collect(plantedSite(3, blanketField(testblanket.Blanket{Pattern: "symmetric", Amplitude: 5})), Settings{})
	m := e.Measure(Settings{}, 1.1, 1)
	s := e.Sums(&m, Settings{}, 1.1)
	for i, b := range DecayExponents() {
		if b == directionalDecay {
			if z := s.DecayScore[i] / math.Sqrt(s.DecayInfo[i]); math.Abs(z-m.Blanket.Z) > 1e-9 {
				t.Errorf("score %g from the sums, %g measured", z, m.Blanket.Z)
			}
			return
		}
	}
	t.Error("exponent 3 is not among the sums")
}
