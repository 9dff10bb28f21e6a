package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

// A finding with a blanket of a given score.
func scored(z, se, alpha float64) *Finding {
	f := &Finding{Status: StatusOK, Unit: "ppm", Species: "water"}
	BlankNumbers(f)
	f.ExcessP, f.Detectable50, f.UpperLimit95 = upperTail(z), quantile999*se, math.Max(z, 0)*se+quantile95*se
	f.RimExcess, f.RimExcessSE = z*se, se
	f.Describe(alpha)
	return f
}

// The factor is right when a new draw under that noise has the wanted mean
// score, alone and joined.
func TestSettleReachesTheLevel(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, z := range []float64{2.6, 4, 8} {
		s := scored(z, 12, 0.01).Settle(5)
		alone, joined, n := 0.0, 0.0, 40000
		for range n {
			alone += (s.Assumed + s.NewSE()*rng.NormFloat64()) / s.NewSE() / float64(n)
			if k := s.Joined; !math.IsInf(k, 0) {
				w0, w1 := 1/(s.SE*s.SE), 1/(s.SE*s.SE*k*k)
				a0, a1 := s.Assumed+s.SE*rng.NormFloat64(), s.Assumed+k*s.SE*rng.NormFloat64()
				joined += (a0*w0 + a1*w1) / math.Sqrt(w0+w1) / float64(n)
			}
		}
		if math.Abs(alone-5) > 0.03 {
			t.Errorf("z %g: mean score alone %.3f, want 5", z, alone)
		}
		if z < 5 && math.Abs(joined-5) > 0.03 {
			t.Errorf("z %g: mean joined score %.3f, want 5", z, joined)
		}
		if z > 5 && !math.IsInf(s.Joined, 1) {
			t.Errorf("z %g is settled already, joined factor %g", z, s.Joined)
		}
	}
}

// At the turning value the joined p is the level, whatever the present score.
func TestTurningJoinsToTheLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		z, se := rapid.Float64Range(-2, 9).Draw(t, "z"), rapid.Float64Range(0.1, 50).Draw(t, "se")
		f := scored(z, se, 0.01)
		s := f.Settle(rapid.Float64Range(2, 8).Draw(t, "level"))
		now := ScoreOf(f.ExcessP) * s.SE
		turn := s.Turning(now, 0.01)
		w0, w1 := 1/(s.SE*s.SE), 1/(s.NewSE()*s.NewSE())
		if p := upperTail((now*w0 + turn*w1) / math.Sqrt(w0+w1)); math.Abs(p-0.01) > 1e-6 {
			t.Fatalf("joined p %g at the turning value", p)
		}
	})
}

func TestSettleOfNothingAssumesTheLimit(t *testing.T) {
	s := scored(0.5, 10, 0.01).Settle(5)
	if want := 5 + 16.448536; !s.Limit || math.Abs(s.Assumed-want) > 1e-3 || math.Abs(s.Alone-want/50) > 1e-4 {
		t.Errorf("%+v: want the limit %g", s, want)
	}
}

// The direction's factor brings the tube formula to the wanted level.
func TestDirectionFactor(t *testing.T) {
	f := scored(9, 10, 0.01)
	f.Pattern, f.AsymmetryP = PatternOneSided, 3*TubeP(20, 4.4)
	f.Families = []FamilyTest{{"first harmonic", 99, 1e-9}, {"lobe", 4.4, TubeP(20, 4.4)}, {"gap", 3.1, 0.2}}
	k := f.Settle(5).Direction
	if p := 3 * TubeP(20, 4.4/k); math.Abs(math.Log(p/upperTail(5))) > 1e-6 || k >= 1 {
		t.Errorf("factor %g gives p %g, want %g", k, p, upperTail(5))
	}
	f.Pattern = PatternSymmetric
	if k := f.Settle(5).Direction; !math.IsNaN(k) {
		t.Errorf("factor %g without a direction", k)
	}
}
