package ejecta

import (
	"math"
	"testing"
)

// TestLayerTally: means over the places that tell, drawn to the null scale as by
// so many places, and never below it in an alarm.
func TestLayerTally(t *testing.T) {
	tally := LayerTally{}
	for k := range 30 {
		tally.Add(LayerScales{"thermal": {Excess: 9 * median1, Direction: math.NaN()}, allLayers: {Excess: 0.01 * float64(k), Direction: 3 * median12}})
	}
	tally.Add(LayerScales{"thermal": {Excess: 1e6, Direction: math.NaN()}})
	s := tally.Scales(1, 31)
	if got := s["thermal"]; math.Abs(got.Excess-5) > 1e-9 || got.Direction != 1 {
		t.Errorf("thermal: %+v, want 5 and the null scale", got)
	}
	in := AlarmInputs{NullScale: 1, Without: s}
	if got := in.without(allLayers); got.Excess != 1 || !(got.Direction > 1.9 && got.Direction < 2) {
		t.Errorf("all: %+v, want the null scale and nearly 2", got)
	}
	if got := in.without("albedo"); got != (LayerScale{1, 1}) {
		t.Errorf("albedo: %+v, want the null scale", got)
	}
	if got := (LayerTally)(nil).Scales(1, 30); len(got) != 0 {
		t.Errorf("no places: %v", got)
	}
}
