package reports

import (
	"math"

	"rimcast/ejecta"
)

// rims yields the rim of every crater but those that a sieve left out: nothing is
// known of them, and a million outlines open in no program.
func (o *overlay) rims(yield func(Feature) bool) {
	for i := range o.s.Catalogue.Craters {
		if o.s.sieved(i) {
			continue
		}
		p := o.spot(i)
		f := Feature{"rim", p.ID, p.rim(), append(o.rimProps(i), Prop{"lon_deg", eastLongitude(p.Centre.Lon)},
			Prop{"lat_deg", p.Centre.Lat}, Prop{"radius_m", p.Radius})}
		if !yield(f) {
			return
		}
	}
}

func (o *overlay) rimProps(i int) []Prop {
	c := o.s.crater(i)
	rank, score, verdict := 0, math.NaN(), ""
	if t := o.target[i]; t != nil {
		rank, score, verdict = t.Rank, t.Score, t.Verdict
	}
	findings := o.s.findingsOf(i)
	alarms, measured := 0, false
	for _, f := range findings {
		alarms += len(f.RaisedAlarms())
		measured = measured || f.Status.Measured()
	}
	return []Prop{{"name", c.Name}, {"pattern", string(craterPattern(findings))}, {"measured", measured},
		{"rank", rank}, {"score", score}, {"alarms", alarms}, {"verdict", verdict}}
}

// each yields the features that get() makes of the findings of the top
// craters that have numbers.
func (o *overlay) each(yield func(Feature) bool, get func(spot, ejecta.Finding) []Feature) {
	for i := range o.s.Findings {
		if f := &o.s.Findings[i]; !o.top[f.CraterIndex] || !f.Status.Measured() {
			continue
		}
		f, err := o.s.Whole(i)
		if err != nil {
			return // Lost tells
		}
		for _, feature := range get(o.spot(f.CraterIndex), f) {
			if !yield(feature) {
				return
			}
		}
	}
}

// species is the attribute that tells the findings of a crater apart.
func species(f ejecta.Finding) []Prop {
	return []Prop{{"species", f.Species}, {"unit", f.Unit}}
}

func (o *overlay) rings(yield func(Feature) bool) {
	o.each(yield, func(p spot, f ejecta.Finding) []Feature {
		var out []Feature
		for k, r := range f.Radial {
			out = append(out, Feature{"ring", p.ID, p.ring(r.RhoLo, r.RhoHi), append(species(f),
				Prop{"ring", k}, Prop{"rho_lo", r.RhoLo}, Prop{"rho_hi", r.RhoHi}, Prop{"mean", r.Mean},
				Prop{"se", r.SE}, Prop{"excess", r.Excess}, Prop{"z", r.Excess / r.SE}, Prop{"coverage", r.Coverage})})
		}
		return out
	})
}

func (o *overlay) sectors(yield func(Feature) bool) {
	o.each(yield, func(p spot, f ejecta.Finding) []Feature {
		var out []Feature
		for k, v := range f.Azimuthal {
			out = append(out, Feature{"sector", p.ID, p.sector(ejectaLo, ejectaHi, v.AzLo, v.AzHi), append(species(f),
				Prop{"sector", k}, Prop{"az_lo_deg", v.AzLo}, Prop{"az_hi_deg", v.AzHi}, Prop{"excess", v.Mean},
				Prop{"se", v.SE}, Prop{"z", v.Mean / v.SE}, Prop{"coverage", v.Coverage})})
		}
		return out
	})
}

func (o *overlay) lobes(yield func(Feature) bool) {
	o.each(yield, func(p spot, f ejecta.Finding) []Feature {
		var out []Feature
		for k, l := range f.Lobes {
			out = append(out, Feature{"lobe", p.ID, p.sector(1, lobeReach(l), l.Azimuth-l.Width/2, l.Azimuth+l.Width/2), append(species(f),
				Prop{"lobe", k}, Prop{"azimuth_deg", l.Azimuth}, Prop{"width_deg", l.Width},
				Prop{"amplitude", l.Amplitude}, Prop{"se", l.SE}, Prop{"reach_radii", l.Reach})})
		}
		return out
	})
}

// lobeReach is where a lobe is drawn to when its reach was not measured.
func lobeReach(l ejecta.Lobe) float64 {
	if l.Reach > 1 && !math.IsInf(l.Reach, 0) {
		return l.Reach
	}
	return ejectaHi
}

func (o *overlay) gaps(yield func(Feature) bool) {
	o.each(yield, func(p spot, f ejecta.Finding) []Feature {
		if f.Pattern != ejecta.PatternGap || !(f.GapWidth > 0) || math.IsNaN(f.Axis) {
			return nil
		}
		shape := p.sector(ejectaLo, ejectaHi, f.Axis-f.GapWidth/2, f.Axis+f.GapWidth/2)
		return []Feature{{"gap", p.ID, shape, append(species(f), Prop{"azimuth_deg", f.Axis}, Prop{"width_deg", f.GapWidth})}}
	})
}

// wedges yields the 95 % intervals of the axes.
func (o *overlay) wedges(yield func(Feature) bool) {
	o.each(yield, func(p spot, f ejecta.Finding) []Feature {
		var out []Feature
		for _, iv := range f.Axis95 {
			for _, turn := range axisTurns(f.Pattern) {
				out = append(out, Feature{"axis_wedge", p.ID, p.sector(1, axisReach, iv.Lo+turn, iv.Hi+turn), append(species(f),
					Prop{"az_lo_deg", iv.Lo + turn}, Prop{"az_hi_deg", iv.Hi + turn}, Prop{"level", 0.95})})
			}
		}
		return out
	})
}

// masked yields the neighbours' ground kept out of the top craters' rings.
func (o *overlay) masked(yield func(Feature) bool) {
	for _, m := range o.s.Masked {
		if !o.top[m.CraterIndex] || !(m.Radius > 0) {
			continue
		}
		at := o.spot(m.Neighbour)
		disc := at
		disc.Radius = m.Radius
		f := Feature{"masked", o.s.crater(m.CraterIndex).ID, disc.ring(0, 1), []Prop{
			{"neighbour_id", at.ID}, {"radius_m", m.Radius}}}
		if !yield(f) {
			return
		}
	}
}
