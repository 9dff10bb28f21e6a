package ejecta

import (
	"math"
	"slices"
)

// EpochFinding is one crater and species at one time of day, measured on the
// ground that all its times of day show. NaN stands for a missing number.
type EpochFinding struct {
	CraterIndex          int
	Species, Epoch, Unit string // Species without the epoch
	Status               Status
	Note                 string

	LocalTime  float64 // hours
	SunAzimuth float64 // degrees clockwise from north

	Coverage    float64 // valid share of the ejecta range at all times of day
	OwnCoverage float64 // at this one
	Pixels      int

	Background, BackgroundSE   float64
	Excess, ExcessSE, ExcessP  float64
	RimExcess, RimExcessSE     float64
	Blanket, BlanketSE         float64 // rim excess for the one exponent of all epochs, by NewPersistence
	Pattern                    Pattern
	Asymmetry, AsymmetrySE     float64
	AsymmetryP, Axis, AxisSE   float64
	Radial                     []RingValue
	Azimuthal                  []SectorValue
	Envelope                   float64
	DecayScores, DecayInfo     []float64 // of the blankets of the design, nil when not measured
	Direction, DirectionCov    []float64 // harmonics to order 2: cos 1, cos 2, sin 1, sin 2; nil when not tested
	BlanketExponent, OwnExcess float64   // the exponent of Blanket; the excess on the epoch's own ground
}

// NewEpochFinding reads a site at one time of day. own is the finding on the
// ground of this time alone, e and m are the site on the common ground.
func NewEpochFinding(own *Finding, e *Evidence, m *Measurement, set Settings, scale float64) EpochFinding {
	nan := math.NaN()
	f := &m.Finding
	out := EpochFinding{
		Status: f.Status, Note: f.Note, LocalTime: nan, SunAzimuth: nan, Coverage: f.Coverage, OwnCoverage: own.Coverage, Pixels: f.Pixels,
		Background: f.Background, BackgroundSE: f.BackgroundSE, Excess: f.Excess, ExcessSE: f.ExcessSE, ExcessP: f.ExcessP,
		RimExcess: f.RimExcess, RimExcessSE: f.RimExcessSE, Blanket: nan, BlanketSE: nan, Pattern: f.Pattern,
		Asymmetry: f.Asymmetry, AsymmetrySE: f.AsymmetrySE, AsymmetryP: f.AsymmetryP, Axis: f.Axis, AxisSE: f.AxisSE,
		Radial: f.Radial, Azimuthal: f.Azimuthal, Envelope: f.Envelope, BlanketExponent: nan, OwnExcess: own.Excess,
	}
	if e.Gram == nil {
		return out
	}
	sw := e.Gram.Without([]int{colConst}, span(colPlane, colPlane+2), e.nuisance(set.WithDefaults()))
	out.DecayScores, out.DecayInfo = decayNodesOf(sw, e.Variance*scale)
	if m.Direction != nil {
		out.Direction, out.DirectionCov = m.Direction.coefficients()
	}
	return out
}

// UnmeasuredEpoch is the epoch of a crater that cannot be measured.
func UnmeasuredEpoch(status Status, note string) EpochFinding {
	own := Finding{Status: status, Note: note}
	BlankNumbers(&own)
	return NewEpochFinding(&own, &Evidence{}, &Measurement{Finding: own}, Settings{}, 1)
}

// decayNodesOf are score and information of rho^-b at the exponents of the
// design.
func decayNodesOf(sw *Gram, variance float64) (s, g []float64) {
	for j := range decayNodes {
		c := colDecay + j
		s = append(s, sw.at(c, colValue)/variance)
		g = append(g, sw.at(c, c)/variance)
	}
	return s, g
}

// measured reports whether there is a blanket to compare.
func (f *EpochFinding) measured() bool {
	return f.Status.Measured() && len(f.DecayScores) == len(decayNodes) && f.DecayInfo[customaryNode] > 0
}

// Valid reports whether the lists have the lengths that the tests need.
func (f *EpochFinding) Valid() bool {
	fits := func(list []float64, n int) bool { return len(list) == 0 || len(list) == n }
	return fits(f.DecayScores, len(decayNodes)) && len(f.DecayInfo) == len(f.DecayScores) &&
		fits(f.Direction, 4) && len(f.DirectionCov) == 4*len(f.Direction)
}

// customaryNode is the number of the exponent 3 among those of the design.
const customaryNode = 5

// EpochScores are what a null position tells about the noise that epochs share:
// the score of the blanket, then those of the harmonics to order 2, all in
// units of their own errors. Nil without a direction.
func (q Probe) EpochScores() []float64 {
	s := q.Evidence.Scores()
	if s == nil || math.IsNaN(q.Z) {
		return nil
	}
	return append([]float64{q.Z}, s...)
}

// shareExponent chooses the one exponent at which the blankets of all epochs
// are compared: that of their sum, beside what is believed of exponents, where the
// sum is plain enough to tell, else the customary one. A blanket that falls off
// otherwise than the template, seen through noise of two kinds, would seem to change.
// The sum tells, not the best of each: an exponent at which the epochs happen to
// differ must not be sought. spread is the error that the exponent leaves in all
// amplitudes, as a share of them.
func shareExponent(list []*EpochFinding) (b, spread float64) {
	sum := curveThrough(list[0].DecayScores, list[0].DecayInfo)
	curves := []decayCurve{sum.clone()}
	for _, f := range list[1:] {
		c := curveThrough(f.DecayScores, f.DecayInfo)
		curves = append(curves, c)
		for i := range sum.b {
			sum.s[i] += c.s[i]
			sum.g[i] += c.g[i]
		}
	}
	_, peak := sum.peak()
	at, spread := sum.believed(peak)
	if peak < minDecaySNR*minDecaySNR {
		return directionalDecay, spread
	}
	for i, c := range curves {
		list[i].putBlanket(c.s[at], c.g[at], c.b[at])
	}
	return sum.b[at], spread
}

func (c decayCurve) clone() decayCurve {
	return decayCurve{slices.Clone(c.b), slices.Clone(c.s), slices.Clone(c.g)}
}

// putBlanket writes the amplitude at an exponent.
func (f *EpochFinding) putBlanket(s, g, b float64) {
	f.Blanket, f.BlanketSE, f.BlanketExponent = s/g, 1/math.Sqrt(g), b
}

// putBlankets writes the amplitudes of all epochs at one exponent, and returns the
// share of them that the exponent leaves open.
func putBlankets(list []*EpochFinding) (spread float64) {
	b, spread := shareExponent(list)
	if b == directionalDecay {
		for _, f := range list {
			f.putBlanket(f.DecayScores[customaryNode], f.DecayInfo[customaryNode], directionalDecay)
		}
	}
	return spread
}

// SunAzimuth is the azimuth of the sun, degrees clockwise from north, at a
// local time in hours, a latitude and a latitude of the subsolar point, both in
// degrees. Local time is that of the subsolar longitude: 12 h on its meridian,
// later to its east, so that the sun of the afternoon stands in the west
// whichever way the body turns (spherical triangle pole, place, subsolar
// point). NaN when the sun is overhead or the time is unknown.
func SunAzimuth(hour, lat, subsolar float64) float64 {
	const deg = math.Pi / 180
	sinH, cosH := math.Sincos((hour - 12) * 15 * deg)
	sinL, cosL := math.Sincos(lat * deg)
	sinD, cosD := math.Sincos(subsolar * deg)
	return bearingOf(-sinH*cosD, cosL*sinD-sinL*cosD*cosH)
}

// bearingOf is the azimuth of a direction, degrees; NaN for none.
func bearingOf(east, north float64) float64 {
	if math.Hypot(east, north) < 1e-6 {
		return math.NaN()
	}
	return wrapTurn(math.Atan2(east, north), 2*math.Pi) * 180 / math.Pi
}
