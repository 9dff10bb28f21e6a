package ejecta

import (
	"math"
	"testing"

	"rimcast/ejecta/testblanket"
)

// A direction that is the temperature's shows without it and is gone with it; a
// lobe across the temperature stays. The rings without a layer are those of a
// crater that never had it.
func TestLayerEffect(t *testing.T) {
	dipole := func(rho, az float64) float64 { return math.Cos(az-1) / (rho * rho) }
	thermal := map[string]func(rho, az float64) float64{"temperature": dipole}
	field := func(rho, az float64) float64 { return 2 * dipole(rho, az) }
	e, m := besideLayer(1, field, thermal, nil)
	l := e.LayerEffect(&m, Settings{}, AlarmInputs{NullScale: 1})
	if !(l.Without.DirectionP < 1e-6) || !(l.With.DirectionP > 0.01) {
		t.Errorf("the temperature's own direction: p %.2g without, %.2g with", l.Without.DirectionP, l.With.DirectionP)
	}
	peak := 0
	for k, v := range l.Without.Around {
		if v > l.Without.Around[peak] {
			peak = k
		}
	}
	if az := float64(aroundStep * peak); math.Abs(az-180/math.Pi) > 20 {
		t.Errorf("the curve without it is highest at %g degrees, want 57", az)
	}
	bare, _ := besideLayer(1, field, nil, nil)
	r, _ := fitRadial(bare.Gram, &bare.Layout, fitBlanketOf(bare), bare.Variance)
	for k, v := range r.Ring {
		if math.Abs(v-l.Without.Ring[k]) > 1e-6*(1+math.Abs(v)) && !math.IsNaN(v) {
			t.Errorf("ring %d: %g without the layer, %g where there is none", k, l.Without.Ring[k], v)
		}
	}
}

func fitBlanketOf(e *Evidence) Blanket { return e.blanketBeside(e.nuisance(Settings{}), 1) }

func TestLayerEffectKeepsALobe(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 90})
	north := map[string]func(rho, az float64) float64{"temperature": func(rho, az float64) float64 { return math.Cos(az) / (rho * rho) }}
	e, m := besideLayer(2, lobe, north, nil)
	l := e.LayerEffect(&m, Settings{}, AlarmInputs{NullScale: 1})
	if !(l.With.DirectionP < 1e-6) || math.Abs(l.With.RimExcess/l.Without.RimExcess-1) > 0.1 {
		t.Errorf("p %.2g with, rim excess %.3g without and %.3g with", l.With.DirectionP, l.Without.RimExcess, l.With.RimExcess)
	}
}

// The slope of a layer comes out with its error, beside a lobe too, and what the
// map knows of it counts.
func TestSlopesHere(t *testing.T) {
	layer := map[string]func(rho, az float64) float64{"temperature": func(rho, az float64) float64 { return math.Sin(5*rho) * math.Cos(2*az) }}
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 90})
	e, m := besideLayer(1, func(rho, az float64) float64 { return lobe(rho, az) + 0.7*layer["temperature"](rho, az) }, layer, nil)
	l := e.LayerEffect(&m, Settings{}, AlarmInputs{NullScale: 1})
	if len(l.Slope) != 1 || !(math.Abs(l.Slope[0]-0.7) < 3*l.SlopeSE[0]) || !(l.SlopeSE[0] < 0.2) {
		t.Errorf("slope %v ± %v, want 0.7", l.Slope, l.SlopeSE)
	}
	e, m = besideLayer(1, lobe, layer, nil)
	e.Gram.pulls = e.pullsOf([]Field{{Slope: &Slope{Mean: 0.7, SD: 1e-4}}})
	if l = e.LayerEffect(&m, Settings{}, AlarmInputs{NullScale: 1}); !(math.Abs(l.Slope[0]-0.7) < 1e-3) || !(l.SlopeSE[0] < 1e-3) {
		t.Errorf("slope %v ± %v where the map knows it", l.Slope, l.SlopeSE)
	}
}

// No layer: nothing is kept; nothing to see: the numbers, and no curves.
func TestLayerEffectIsEmpty(t *testing.T) {
	nothing := func(rho, az float64) float64 { return 0 }
	e, m := besideLayer(3, nothing, nil, nil)
	if l := e.LayerEffect(&m, Settings{}, AlarmInputs{NullScale: 1}); l.Layers != nil {
		t.Errorf("no layer: %v", l.Layers)
	}
	kept := 0
	for seed := range uint64(5) {
		e, m = besideLayer(seed, nothing, map[string]func(rho, az float64) float64{"temperature": func(rho, az float64) float64 { return math.Sin(3 * rho) }}, nil)
		l := e.LayerEffect(&m, Settings{}, AlarmInputs{NullScale: 1})
		if l.With.Ring != nil {
			kept++
		}
		if len(l.Layers) != 1 || math.IsNaN(l.With.RimExcess) {
			t.Errorf("the numbers are gone: %+v", l)
		}
	}
	if kept > 1 {
		t.Errorf("%d of 5 bare grounds have an effect to show", kept)
	}
	var none Evidence
	if l := none.LayerEffect(&Measurement{}, Settings{}, AlarmInputs{NullScale: 1}); l.Layers != nil {
		t.Error("a crater that was not measured has an effect")
	}
}
