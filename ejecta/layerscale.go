package ejecta

import "math"

// The noise of a map is that of what its covariates leave. Where an alarm asks
// what a crater would look like without them, the ground that they explain is
// noise again; places without a crater tell how much.

// allLayers stands for all covariates together.
const allLayers = ""

// LayerScale is how much wider statistics spread than the noise model says where
// some covariates are left out.
type LayerScale struct{ Excess, Direction float64 }

// LayerScales are the scales without the covariates of each alarm.
type LayerScales map[string]LayerScale

// without is the scale without the covariates of an alarm, never below the null
// scale.
func (in *AlarmInputs) without(alarm string) LayerScale {
	s := in.Without[alarm]
	return LayerScale{math.Max(s.Excess, in.NullScale), math.Max(s.Direction, in.NullScale)}
}

// layerGroups calls f for the covariates of each alarm, and for all of them.
func (e *Evidence) layerGroups(f func(alarm string, cols []int)) {
	if e.Gram == nil || len(e.Covariates) == 0 {
		return
	}
	for _, k := range fakers {
		if cols := e.kindColumns(k.kinds); len(cols) > 0 {
			f(k.alarm, cols)
		}
	}
	f(allLayers, e.covariateColumns())
}

// WithoutLayers is what a place without a crater shows when its covariates are
// left out: the squared score of a blanket, and the statistic of directions over
// its expectation. Both are NaN where they were not tested.
func (e *Evidence) WithoutLayers(set Settings) LayerScales {
	var out LayerScales
	e.layerGroups(func(alarm string, cols []int) {
		if out == nil {
			out = LayerScales{}
		}
		out[alarm] = e.spreadBeside(lessColumns(e.nuisance(set), cols))
	})
	return out
}

// spreadBeside reads a place beside some nuisance columns.
func (e *Evidence) spreadBeside(nuisance []int) LayerScale {
	z := e.blanketBeside(nuisance, 1).Z
	s := LayerScale{Excess: z * z, Direction: math.NaN()}
	if e.Status == StatusOK {
		chi2, _ := directional(e.Gram, nuisance, 0, e.Variance).omnibus(6)
		s.Direction = chi2 / 12
	}
	return s
}

// LayerTally gathers what places show without their covariates.
type LayerTally map[string]*[2][]float64

// Add takes what one place shows.
func (t LayerTally) Add(place LayerScales) {
	for alarm, s := range place {
		if t[alarm] == nil {
			t[alarm] = &[2][]float64{}
		}
		for k, x := range [2]float64{s.Excess, s.Direction} {
			if x == x {
				t[alarm][k] = append(t[alarm][k], x)
			}
		}
	}
}

// Medians of a chi-square of one degree of freedom, and of one of twelve over
// twelve.
const (
	median1  = 0.45494
	median12 = 0.94503
)

// Scales are those of the middle place, with the null scale believed like so many
// places: at a few the covariates do much more, and of these an alarm shall speak.
func (t LayerTally) Scales(null, weight float64) LayerScales {
	out := LayerScales{}
	for alarm, m := range t {
		out[alarm] = LayerScale{scaleTowards(m[0], median1, null, weight), scaleTowards(m[1], median12, null, weight)}
	}
	return out
}

// scaleTowards is the median of some numbers over what it should be, drawn to a belief
// that counts as so many of them.
func scaleTowards(v []float64, should, belief, weight float64) float64 {
	if len(v) == 0 {
		return belief
	}
	n := float64(len(v))
	return (Quantile(v, 0.5)/should*n + belief*weight) / (n + weight)
}
