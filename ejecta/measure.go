package ejecta

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Measurement is the evidence of one site read with a given null scale.
type Measurement struct {
	Finding   Finding
	Direction *Directional // nil when no direction was tested
	Omnibus   float64      // chi-square of the harmonics to order 6
	Blanket   Blanket
	Classes   []classFit

	rays    rayNull
	beside  []contact // boundaries of the ground that the direction stands beside
	seams   []foundSeam
	groundP float64 // p of the direction at the unevenness of the ground; NaN until that is known
}

func (e *Evidence) neighbourColumns() []int {
	first := colRings + e.Gram.Rings
	return span(first, first+len(e.Neighbours))
}

// nuisance are the extra columns projected out of every test.
func (e *Evidence) nuisance(set Settings) []int {
	cols := e.neighbourColumns()
	if !set.NoCovariates {
		cols = append(cols, e.covariateColumns()...)
	}
	if !set.NoStrips {
		cols = append(cols, e.stripColumns()...)
	}
	return append(cols, e.sideColumns()...)
}

// Measure turns evidence into numbers. scale is the null scale of the size
// class (1 when unknown); seed fixes the simulated nulls of the ray test. Where
// the ground was kept, bright neighbours with sides of their own get columns.
func (e *Evidence) Measure(set Settings, scale float64, seed uint64) Measurement {
	set = set.WithDefaults()
	m := Measurement{Finding: e.blank(), Blanket: missingBlanket(), Omnibus: math.NaN(), groundP: math.NaN()}
	if e.Gram == nil {
		return m
	}
	e.allowSides(set, scale, seed)
	variance := e.Variance * scale
	nuisance := e.nuisance(set)
	m.Blanket = e.blanketBeside(nuisance, scale)
	m.Finding.ThermalShare = e.thermalShare(m.Blanket, set, scale)
	e.putBlanket(&m, variance)
	if e.Status != StatusOK {
		e.withoutDirection(&m, set.Alpha)
		return m
	}
	m.Direction = directional(e.Gram, nuisance, e.centrePrior(m.Blanket), variance)
	test := m.Direction.test(m.Blanket, e.Coverage >= fullCoverage, seed)
	m.Omnibus, m.rays = test.Omnibus, test.rays
	e.putAsymmetry(&m, test, set.Alpha)
	return m
}

// centrePrior is the standard deviation of the coefficient of rho^-(b+1) cos
// az that a displaced centre gives a blanket: A b sigma.
func (e *Evidence) centrePrior(bl Blanket) float64 {
	a := math.Max(bl.Z*bl.Sigma, 0)
	return a * directionalDecay * e.CentreSigma
}

// blank is the finding of an unmeasured site.
func (e *Evidence) blank() Finding {
	f := Finding{Status: e.Status, Note: e.Note, Pixels: e.Pixels, Spikes: e.Spikes, PixelsPer: e.PixelsPer,
		Coverage: e.Coverage, MaskShare: e.MaskShare}
	BlankNumbers(&f)
	return f
}

// BlankNumbers sets every number that a measurement would give to NaN.
func BlankNumbers(f *Finding) {
	nan := math.NaN()
	for _, p := range f.numbers() {
		*p = nan
	}
}

// numbers are all that NaN stands for when a crater is not measured.
func (f *Finding) numbers() []*float64 {
	return []*float64{&f.NEff, &f.Background, &f.BackgroundSE, &f.Excess, &f.ExcessSE,
		&f.ExcessP, &f.ExcessQ, &f.RimExcess, &f.RimExcessSE, &f.Decay, &f.DecaySE, &f.Extent,
		&f.PatternLead, &f.Asymmetry, &f.AsymmetrySE, &f.AsymmetryP, &f.AsymmetryQ, &f.Axis, &f.AxisSE,
		&f.GapWidth, &f.Detectable50, &f.Detectable95, &f.UpperLimit95, &f.LocalFDR, &f.DirectionFDR, &f.Envelope, &f.ThermalShare, &f.PixelSigma, &f.TrueScore,
		&f.RimExcess68[0], &f.RimExcess68[1], &f.RimExcess95[0], &f.RimExcess95[1], &f.Decay95[0], &f.Decay95[1]}
}

func (e *Evidence) putBlanket(m *Measurement, variance float64) {
	f, bl := &m.Finding, m.Blanket
	f.ExcessP, f.PixelSigma = bl.P, math.Sqrt(variance)
	f.RimExcess, f.RimExcessSE = bl.Amplitude, bl.SE
	f.RimExcess68, f.RimExcess95 = bl.Amplitude68, bl.Amplitude95
	f.Decay, f.DecaySE, f.Decay95 = bl.Decay, bl.DecaySE, bl.Decay95
	f.Detectable50, f.Detectable95, f.UpperLimit95 = bl.Limits()
	e.carryRadius(f, bl)
	r, ok := fitRadial(e.Gram, &e.Layout, bl, variance)
	if !ok {
		e.fail(StatusNoBackground, "no far field is left beyond %g radii", math.Min(backgroundInner, 0.5*e.Layout.Outer))
		f.Status, f.Note = e.Status, e.Note
		e.putRings(f, r, bl, variance)
		return
	}
	r.Background += e.Offset
	f.Background, f.BackgroundSE = r.Background, r.BackgroundSE
	f.Excess, f.ExcessSE, f.NEff = r.Excess, r.ExcessSE, r.NEff
	f.Extent = r.extent(&e.Layout)
	if !(bl.P < 0.05) {
		f.Extent = math.NaN()
	}
	e.putRings(f, r, bl, variance)
	e.putSectors(f, r, variance)
}

// carryRadius adds the error of the radius to that of the rim excess: with
// A rho^-b, a radius wrong by a share s moves A by b s of itself.
func (e *Evidence) carryRadius(f *Finding, bl Blanket) {
	move := math.Abs(bl.Amplitude) * bl.exponent() * e.RadiusSigma
	if !(move > 0) {
		return
	}
	f.RimExcessSE = math.Hypot(bl.SE, move)
	f.RimExcess68 = stretched(bl.Amplitude, bl.Amplitude68, move)
	f.RimExcess95 = stretched(bl.Amplitude, bl.Amplitude95, move*math.Sqrt(chi95))
	f.UpperLimit95 = bl.Amplitude + math.Hypot(f.UpperLimit95-bl.Amplitude, move*quantile95)
}

// stretched widens an interval round a value by an independent error.
func stretched(at float64, in [2]float64, by float64) [2]float64 {
	return [2]float64{at - math.Hypot(at-in[0], by), at + math.Hypot(in[1]-at, by)}
}

// putRings writes the radial profile: plain means with the error of each, and
// the excess over the fitted background.
func (e *Evidence) putRings(f *Finding, r RadialProfile, bl Blanket, variance float64) {
	interior := len(e.Rings) - e.Layout.Rings
	for i, s := range e.Rings {
		v := RingValue{RhoLo: s.RhoLo, RhoHi: s.RhoHi, Mean: s.Mean, SE: math.Sqrt(s.Variance * variance),
			Excess: math.NaN(), Model: math.NaN(), Pixels: s.Pixels, Coverage: share(s.Pixels, s.Full)}
		if k := i - interior; k >= 0 && r.Ring != nil {
			v.Excess, v.SE = r.Ring[k], r.RingSE[k]
			v.Model = r.Background + ringMean(bl, s.RhoLo, s.RhoHi)
		} else if r.Ring != nil {
			v.Excess = s.Mean - r.Background
			v.SE = math.Hypot(v.SE, r.BackgroundSE)
		}
		f.Radial = append(f.Radial, v)
	}
}

// ringMean is the area mean of the blanket over a ring.
func ringMean(bl Blanket, lo, hi float64) float64 {
	const n = 8
	sum, weight := 0.0, 0.0
	for i := range n {
		rho := lo + (hi-lo)*(float64(i)+0.5)/n
		sum += rho * bl.at(rho)
		weight += rho
	}
	return sum / weight
}

func share(part, whole int) float64 {
	if whole == 0 {
		return 0
	}
	return float64(part) / float64(whole)
}

// putSectors writes the azimuthal profile of the excess, and how far from the
// mean of the sectors the farthest one stays 95 times in 100 when there is no
// direction.
func (e *Evidence) putSectors(f *Finding, r RadialProfile, variance float64) {
	sum, n := 0.0, 0
	for _, s := range e.Sectors {
		v := SectorValue{AzLo: s.AzLo, AzHi: s.AzHi, Mean: math.NaN(), SE: math.NaN(), Pixels: s.Pixels, Coverage: share(s.Pixels, s.Full)}
		if s.Pixels > 0 {
			v.Mean = s.Mean - r.Background - r.PlaneEast*s.East - r.PlaneNorth*s.North
			v.SE = math.Hypot(math.Sqrt(s.Variance*variance), r.BackgroundSE)
			sum += math.Sqrt(s.Own * variance)
			n++
		}
		f.Azimuthal = append(f.Azimuthal, v)
	}
	if n > 0 {
		f.Envelope = distuv.UnitNormal.Quantile(1-0.025/float64(n)) * sum / float64(n)
	}
}

// withoutDirection sets the pattern of a crater whose direction cannot be
// tested: none is claimed.
func (e *Evidence) withoutDirection(m *Measurement, alpha float64) {
	if m.Finding.ExcessP < alpha {
		m.Finding.Pattern = PatternSymmetric
	}
	if e.Status == StatusRadialOnly || e.Status == StatusNotTestable {
		m.Finding.Pattern = ""
	}
}

// putAsymmetry writes test, pattern, axis and lobes.
func (e *Evidence) putAsymmetry(m *Measurement, test Asymmetry, alpha float64) {
	f, d := &m.Finding, m.Direction
	f.AsymmetryP, f.Families = test.P, test.Families
	if !(test.P < alpha) {
		f.Pattern = PatternNone
		if m.Blanket.P < alpha {
			f.Pattern = PatternSymmetric
		}
		e.putAmplitude(m, classFit{pattern: PatternOneSided, axis: d.peak(&candidates[0])})
		return
	}
	m.Classes = d.classify()
	lead := m.Classes[0]
	e.putAmplitude(m, lead)
	f.Pattern = lead.pattern
	f.RunnerUp, f.PatternLead = m.Classes[1].pattern, lead.score-m.Classes[1].score
	f.Ambiguous = f.PatternLead < ambiguousLead
	e.putAxis(f, lead)
	e.putLobes(m, lead)
}

// putAmplitude gives the directional amplitude relative to the blanket's,
// with the error of the ratio by the delta method.
func (e *Evidence) putAmplitude(m *Measurement, lead classFit) {
	amp, se := lead.axis.amplitude, lead.axis.se
	if lead.pattern == PatternRays {
		amp, se = lead.rays[0].amplitude, lead.rays[0].se
	}
	a, sa := m.Blanket.Z*m.Blanket.Sigma, m.Blanket.Sigma
	if !(a > sa) {
		return // no blanket to compare with
	}
	m.Finding.Asymmetry = amp / a
	m.Finding.AsymmetrySE = math.Hypot(se/a, amp*sa/(a*a))
}

func (e *Evidence) putAxis(f *Finding, lead classFit) {
	if lead.pattern == PatternRays {
		f.Axis = lead.rays[0].azimuth
		return
	}
	f.Axis, f.Axis68, f.Axis95 = lead.axis.azimuth, lead.axis.ci68, lead.axis.ci95
	f.AxisSE = length(f.Axis68) / 2
	if f.GapWidth = math.NaN(); lead.width > 0 {
		f.GapWidth = lead.width
	}
}
