package ejecta

import "math"

// putLobes describes the directions in which the excess leaves the crater:
// both ends of an axis, the lobe of a one-sided pattern, each ray. The
// amplitude is that of the whole excess in the direction, at rho = 1.
func (e *Evidence) putLobes(m *Measurement, lead classFit) {
	f := &m.Finding
	base := m.Blanket.Z * m.Blanket.Sigma
	width := 2 * lead.shape.halfWidth()
	switch lead.pattern {
	case PatternRays:
		for _, r := range lead.rays {
			w := 2 * r.shape.halfWidth()
			f.Lobes = append(f.Lobes, Lobe{Azimuth: r.azimuth, Width: w, Amplitude: base + r.amplitude*rayShape.at(0), SE: r.se * rayShape.at(0)})
		}
	case PatternBilateral:
		for i := range 2 {
			f.Lobes = append(f.Lobes, e.axisLobe(lead, base, width, math.Mod(lead.axis.azimuth+180*float64(i), 360)))
		}
	case PatternOneSided:
		f.Lobes = append(f.Lobes, e.axisLobe(lead, base, width, lead.axis.azimuth))
	}
	for i := range f.Lobes {
		f.Lobes[i].Reach = e.reach(f, f.Lobes[i])
	}
}

func (e *Evidence) axisLobe(lead classFit, base, width, azimuth float64) Lobe {
	return Lobe{Azimuth: azimuth, Width: width, Amplitude: base + lead.axis.amplitude*lead.shape.at(0), SE: lead.axis.se * lead.shape.at(0)}
}

// reach is the range at which the lobe's excess rho^-3 sinks below 1.645
// standard errors of a sector-wide ring segment, limited by the outer ring.
// The error of a segment follows from the profile's ring errors, narrowed to
// the lobe's share of the circle.
func (e *Evidence) reach(f *Finding, l Lobe) float64 {
	reach := math.NaN()
	portion := math.Max(l.Width, 10) / 360
	for _, r := range f.Radial {
		if r.RhoLo < e.Layout.Inner || math.IsNaN(r.SE) {
			continue
		}
		mid := math.Sqrt(r.RhoLo * r.RhoHi)
		if l.Amplitude*math.Pow(mid, -directionalDecay) < quantile95*r.SE/math.Sqrt(portion) {
			break
		}
		reach = r.RhoHi
	}
	return reach
}
