package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta/testblanket"
)

// TestChangeHoldsAnyExponent: the interval of a change holds the change of the
// amplitude at the rim, whatever the exponent, for blankets that are just plain
// enough to tell it; at the best exponent alone 33 of 40 hold.
func TestChangeHoldsAnyExponent(t *testing.T) {
	const draws, amp = 40, 1.8
	held, worst := 0, 0.0
	for k := range draws {
		rng := rand.New(rand.NewPCG(8, uint64(k)))
		b := 2.4 + 1.2*rng.Float64()
		var list []*EpochFinding
		for e, a := range [2]float64{1, 0} {
			f := testblanket.Blanket{Pattern: "symmetric", Amplitude: amp * a, Decay: b}
			ev, m := besideLayer(uint64(2*k+e), blanketField(f), nil, nil)
			x := NewEpochFinding(&m.Finding, ev, &m, Settings{}, 1)
			x.Species, x.Epoch = "water", string(rune('a'+e))
			list = append(list, &x)
		}
		p := NewPersistence(list, KnownEpochNoise(2, 0), 0.01)
		if p.From != "a" {
			p.Change, p.ChangeLo, p.ChangeHi = -p.Change, -p.ChangeHi, -p.ChangeLo
		}
		if p.ChangeLo < -amp && p.ChangeHi > -amp {
			held++
		}
		worst = math.Max(worst, math.Abs(list[0].BlanketExponent-b))
	}
	if held < 36 || worst > 1.2 {
		t.Errorf("%d of %d intervals of 95 %% hold, exponents within %.2f", held, draws, worst)
	}
}
