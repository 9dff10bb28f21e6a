package ejecta

import "math"

// DetectionLevel is the p below which an excess counts as found in the limits
// detectable_50 and detectable_95.
const DetectionLevel = 0.001

// PlantedPatterns are the patterns that Inject can plant.
func PlantedPatterns() []Pattern {
	return []Pattern{PatternSymmetric, PatternOneSided, PatternBilateral, PatternRays, PatternGap}
}

// plantedShape is the azimuthal profile of an injected pattern: all of the
// excess in the pattern, with lobes and gaps of middling width.
func plantedShape(p Pattern) shape {
	switch p {
	case PatternOneSided:
		return cosineShape()
	case PatternBilateral:
		return foldShape(2, 8)
	case PatternRays:
		return foldShape(3, 30)
	case PatternGap:
		return gapShape(100)
	}
	return shape{}
}

// Inject returns the evidence of the same ground with a blanket
// A rho^-3 f(azimuth) added, f of mean one, pointing to an azimuth in degrees:
// one-sided 1 + cos, two lobes, three rays, or a gap of 100 degrees. The blanket
// is a sum of columns that the Gram matrix holds already, averaged over the
// pixels like all others, so the map is not needed. Harmonics above the 16th are
// cut off: less than a hundredth of a ray, about three hundredths of the mean at
// the edges of a gap. The plain means of
// rings and sectors stay those of the map.
func (e *Evidence) Inject(p Pattern, amplitude, azimuth float64) *Evidence {
	out := *e
	s := plantedShape(p)
	turned := s.turned(azimuth * math.Pi / 180)
	out.Gram = e.Gram.plusValue(func(j int) float64 { return amplitude * plantedProduct(e.Gram, &turned, j) })
	out.ground = nil // it would need the values of the cells; Measure does without
	return &out
}

// plantedProduct is the product of a planted blanket of rim excess one with column j.
func plantedProduct(g *Gram, turned *[2 * Orders]float64, j int) float64 {
	v := g.at(colDecay+5, j)
	for k, c := range turned {
		if c != 0 {
			v += c * g.at(colCos+k, j)
		}
	}
	return v
}

// Recovery says what was found of an injected blanket.
type Recovery struct {
	Excess    bool // p below DetectionLevel
	Direction bool // p below the level of the settings
	Class     bool // the pattern that was planted
}

// Recover measures an injected blanket, see [Evidence.Inject]. scale and seed
// are those of [Evidence.Measure].
func (e *Evidence) Recover(p Pattern, amplitude, azimuth float64, set Settings, scale float64, seed uint64) Recovery {
	set = set.WithDefaults()
	f := e.Inject(p, amplitude, azimuth).Measure(set, scale, seed).Finding
	return Recovery{f.ExcessP < DetectionLevel, f.AsymmetryP < set.Alpha, f.Pattern == p}
}

// Wilson is the 95 % score interval of a share of k among n (Wilson 1927, J.
// Am. Stat. Assoc. 22, 209).
func Wilson(k, n int) (lo, hi float64) {
	if n == 0 {
		return 0, 1
	}
	const z2 = chi95
	m := float64(n)
	p := float64(k) / m
	mid, half := p+z2/(2*m), math.Sqrt(z2*(p*(1-p)/m+z2/(4*m*m)))
	return math.Max(0, (mid-half)/(1+z2/m)), math.Min(1, (mid+half)/(1+z2/m))
}
