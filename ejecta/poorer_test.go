package ejecta

import (
	"math"
	"strings"
	"testing"

	"rimcast/ejecta/testblanket"
)

// TestPoorerGround: a deficit is no excess, but the sentence does not call it
// nothing.
func TestPoorerGround(t *testing.T) {
	for _, c := range []struct {
		rim, se float64
		pattern Pattern
		want    string
	}{
		{-40, 5, PatternNone, "water is poorer near the crater, by 40 ppm ± 5 ppm at the rim; nothing richer found"},
		{-40, 5, PatternGap, "water poorer near the crater on the whole, with a gap"},
		{-15, 5, PatternNone, "water: nothing found"},
		{-15, 5, PatternGap, "water without a clear overall excess, with a gap"},
		{math.NaN(), math.NaN(), PatternNone, "water: nothing found"},
		{-40, math.NaN(), PatternNone, "water: nothing found"},
	} {
		f := Finding{Status: StatusOK, Species: "water", Unit: "ppm", ExcessP: 1, RimExcess: c.rim, RimExcessSE: c.se, Pattern: c.pattern}
		if f.Describe(0.01); !strings.HasPrefix(f.Verdict, c.want) || f.Claimed {
			t.Errorf("%g ± %g: %q, want %q", c.rim, c.se, f.Verdict, c.want)
		}
	}
}

// TestHalfCoveredBlanket: where holes forbid a direction, a blanket that is seen
// raises the alarm of coverage, and bare ground does not.
func TestHalfCoveredBlanket(t *testing.T) {
	seen := func(rho, az float64) bool { return az > math.Pi }
	for _, amplitude := range []float64{0, 5} {
		field := blanketField(testblanket.Blanket{Pattern: "symmetric", Amplitude: amplitude})
		e, m := besideLayer(4, field, nil, seen)
		if e.Status != StatusNotTestable {
			t.Fatalf("status %s", e.Status)
		}
		a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1}), "coverage_can_fake")
		if a.Raised != (amplitude > 0) || math.Abs(a.Value-180) > 11 {
			t.Errorf("amplitude %g: %+v", amplitude, a)
		}
	}
}

// A quantity without a unit has the unit 1, which is no digit of the number.
func TestUnitOneIsNotSaid(t *testing.T) {
	for unit, want := range map[string]string{"1": "0.0193", "ppm": "0.0193 ppm", "": "0.0193"} {
		f := Finding{Unit: unit}
		if got := f.amount(0.0193); got != want {
			t.Errorf("unit %q: %q, want %q", unit, got, want)
		}
	}
}
