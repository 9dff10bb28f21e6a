package reports

import (
	"bytes"
	"io"

	"github.com/paulmach/orb"
)

// writeFollowUpOutlines writes what is to be covered as GeoJSON: for each crater
// and species its wedges (kind cover), and for each crater the ring of the
// background (kind reference) and the rim.
func writeFollowUpOutlines(w io.Writer, fu *FollowUp) error {
	head, err := overlayHead(fu.Survey, fu.Options)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	b.Write(head)
	o, sep := newOverlay(fu.Survey, fu.Options), "\n"
	for i := range fu.Craters {
		for _, f := range fu.outlines(o, &fu.Craters[i]) {
			b.WriteString(sep)
			if err := appendFeature(&b, f); err != nil {
				return err
			}
			sep = ",\n"
		}
	}
	b.WriteString("\n]}\n")
	_, err = w.Write(b.Bytes())
	return err
}

func (fu *FollowUp) outlines(o *overlay, r *CraterRequest) []Feature {
	p := o.spot(r.Target.CraterIndex)
	about := []Prop{{"name", p.Name}, {"rank", r.Target.Rank}}
	ref := r.Species[0].Reference
	out := []Feature{{"reference", p.ID, p.ring(ref[0], ref[1]), append(about, Prop{"range_lo_radii", ref[0]}, Prop{"range_hi_radii", ref[1]})}}
	for k := range r.Species {
		out = append(out, Feature{"cover", p.ID, p.cover(&r.Species[k]), r.Species[k].props(p, about)})
	}
	return append(out, Feature{"rim", p.ID, p.rim(), append(about, Prop{"pattern", string(craterPattern(o.s.findingsOf(r.Target.CraterIndex)))}, Prop{"radius_m", p.Radius})})
}

// cover outlines the wedges of a request.
func (p spot) cover(s *SpeciesRequest) (out orb.MultiPolygon) {
	for _, w := range s.Wedges {
		out = append(out, p.sector(s.RangeLo, s.RangeHi, w.Lo, w.Hi)...)
	}
	return out
}

func (s *SpeciesRequest) props(p spot, about []Prop) []Prop {
	return append(append([]Prop{}, about...), Prop{"species", s.Finding.Species}, Prop{"unit", s.Finding.Unit},
		Prop{"wedges_deg", intervals(s.Wedges)}, Prop{"range_lo_radii", s.RangeLo}, Prop{"range_hi_radii", s.RangeHi},
		Prop{"pixel_wanted_m", p.Radius * s.Pixel}, Prop{"noise_factor", s.Settle.Alone},
		Prop{"local_time_wanted", s.Light.LocalTime}, Prop{"incidence_wanted", s.Light.Incidence})
}
