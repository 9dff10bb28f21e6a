package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// withShare is a finding with a direction as plain as a share of null positions.
func withShare(share, limit float64) Finding {
	return Finding{AsymmetryP: 1e-5, Pattern: PatternOneSided, Alarms: []Alarm{{Name: commonAlarm, Value: share, Limit: limit}}}
}

// Directions are doubted where null positions account for them, and only there.
func TestDoubtCommon(t *testing.T) {
	list := make([]Finding, 1000)
	for i := range list {
		list[i].AsymmetryP = 0.5
	}
	for i := range 20 {
		list[i] = withShare(0, 0.01) // none of the null positions: real
	}
	for i := 20; i < 26; i++ {
		list[i] = withShare(0.006, 0.01) // six are expected of as many
	}
	list[26] = withShare(0.006, math.NaN()) // null positions behave
	list[27] = withShare(0.006, 0.01)
	list[27].Alarms = append(list[27].Alarms, Alarm{Name: contactAlarm, Raised: true})
	DoubtCommon(list, 1, 0.1)
	for i := range 28 {
		a := list[i].Alarms[0]
		if want := i >= 20 && i < 26; a.Raised != want {
			t.Errorf("finding %d: %+v", i, a)
		}
	}
}

// On ground that makes directions at craters as often as at null positions, the
// share of catalogues in which any is left stays near what the rate allows; real
// ones, plainer than any null position, are kept.
func TestDoubtCommonHoldsItsRate(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	ground := func() float64 { // one in thirty claims, with a joint p of any size
		if rng.Float64() > 1.0/30 {
			return math.NaN()
		}
		return math.Pow(10, -2-20*rng.Float64())
	}
	falseShare, kept, runs := 0.0, 0, 200
	for range runs {
		var n NullClaims
		for range 1000 {
			n.Add(ground())
		}
		list := make([]Finding, 1000)
		for i := range list {
			p := ground()
			if i < 30 {
				p = 1e-30
			}
			if list[i].AsymmetryP = 0.5; p == p {
				list[i] = withShare(n.share(p), 0.01)
			}
		}
		DoubtCommon(list, 1, 0.1)
		good, bad := 0, 0
		for i := range list {
			if list[i].Pattern.Directional() && list[i].Doubt() == "" {
				good, bad = good+counted(i < 30), bad+counted(i >= 30)
			}
		}
		kept += good
		falseShare += float64(bad) / math.Max(1, float64(good+bad)) / float64(runs)
	}
	if falseShare > 0.12 || kept != 30*runs {
		t.Errorf("false share %.3f, %d of %d real ones kept", falseShare, kept, 30*runs)
	}
	t.Logf("false share %.3f", falseShare)
}
