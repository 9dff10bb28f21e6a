package reports

import (
	"slices"

	"github.com/paulmach/orb"

	"rimcast/geom"
)

// seams yields the seams between strips near the top craters.
func (o *overlay) seams(yield func(Feature) bool) {
	for _, m := range o.s.Seams {
		var lines orb.MultiLineString
		for _, l := range m.Lines {
			lines = slices.Concat(lines, geom.CutLine(l))
		}
		if !o.top[m.CraterIndex] || len(lines) == 0 {
			continue
		}
		f := Feature{"seam", o.s.crater(m.CraterIndex).ID, lines, []Prop{{"layer", m.Layer}, {"strip_a", m.StripA}, {"strip_b", m.StripB}}}
		if !yield(f) {
			return
		}
	}
}
