package reports

import (
	"math"
	"slices"

	"github.com/paulmach/orb"

	"rimcast/ejecta"
)

// axisTurns are the directions of an axis relative to its azimuth.
func axisTurns(p ejecta.Pattern) []float64 {
	if p == ejecta.PatternBilateral {
		return []float64{0, 180}
	}
	return []float64{0}
}

// axes yields one line per finding with a direction, for every crater.
func (o *overlay) axes(yield func(Feature) bool) {
	for i := range o.s.Findings {
		f := o.s.Findings[i]
		if !f.Pattern.Directional() || math.IsNaN(f.Axis) {
			continue
		}
		if !yield(o.axis(o.spot(f.CraterIndex), f)) {
			return
		}
	}
}

func (o *overlay) axis(p spot, f ejecta.Finding) Feature {
	var line orb.MultiLineString
	for _, turn := range axisTurns(f.Pattern) {
		line = slices.Concat(line, p.line(1, axisReach, f.Axis+turn))
	}
	return Feature{"axis", p.ID, line, append(species(f), Prop{"pattern", string(f.Pattern)},
		Prop{"axis_deg", f.Axis}, Prop{"axis_se_deg", f.AxisSE}, Prop{"asymmetry", f.Asymmetry},
		Prop{"p", f.AsymmetryP}, Prop{"q", f.AsymmetryQ})}
}

// rays yields one line per ray of the top craters.
func (o *overlay) rays(yield func(Feature) bool) {
	o.each(yield, func(p spot, f ejecta.Finding) []Feature {
		if f.Pattern != ejecta.PatternRays {
			return nil
		}
		var out []Feature
		for k, l := range f.Lobes {
			out = append(out, Feature{"ray", p.ID, p.line(1, lobeReach(l), l.Azimuth), append(species(f),
				Prop{"ray", k}, Prop{"azimuth_deg", l.Azimuth}, Prop{"amplitude", l.Amplitude}, Prop{"se", l.SE})})
		}
		return out
	})
}
