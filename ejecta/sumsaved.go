package ejecta

import (
	"errors"
	"math"
)

// Sums are the products that a finding rests on, small enough to keep: with
// them a survey is claimed again at another level without the maps.
type Sums struct {
	Score, Info           []float64 // of the harmonics, Info as its upper triangle row by row; empty where no direction was tested
	DecayScore, DecayInfo []float64 // of rho^-b at DecayExponents, background and nuisance taken out
}

// SumOrders is the number of harmonics that Score holds: cosines of order 1 to
// SumOrders, then sines, of the template rho^-3.
const SumOrders = Orders

// DecayExponents are the exponents b of DecayScore and DecayInfo.
func DecayExponents() []float64 { return append([]float64{}, decayNodes[:]...) }

// Sums takes the products of a measured site.
func (e *Evidence) Sums(m *Measurement, set Settings, scale float64) *Sums {
	if e.Gram == nil {
		return nil
	}
	s := &Sums{}
	variance := e.Variance * scale
	g := e.Gram.Without([]int{colConst}, span(colPlane, colPlane+2), e.nuisance(set.WithDefaults()))
	for j := range decayNodes {
		c := colDecay + j
		s.DecayScore = append(s.DecayScore, g.at(c, colValue)/variance)
		s.DecayInfo = append(s.DecayInfo, g.at(c, c)/variance)
	}
	if m.Direction != nil {
		s.Score = append(s.Score, m.Direction.Score[:]...)
		s.Info = upperTriangle(m.Direction.Info[:], 2*Orders)
	}
	return s
}

func upperTriangle(full []float64, n int) (out []float64) {
	for i := range n {
		out = append(out, full[i*n+i:(i+1)*n]...)
	}
	return out
}

// directional unpacks score and information.
func (s *Sums) directional() (*Directional, error) {
	const n = 2 * Orders
	if len(s.Score) != n || len(s.Info) != n*(n+1)/2 {
		return nil, errors.New("the sums of a direction have another size")
	}
	d := &Directional{Score: [n]float64(s.Score)}
	at := 0
	for i := range n {
		for j := i; j < n; j++ {
			d.Info[i*n+j], d.Info[j*n+i] = s.Info[at], s.Info[at]
			at++
		}
	}
	return d, nil
}

// ErrNoSums reports a direction whose claim changes with the level, where the
// sums to name it were not kept.
var ErrNoSums = errors.New("ejecta: the sums of a direction are not kept")

// Retest claims a finding again at level alpha. Where a direction becomes named,
// or loses its name, sums are needed. The alarms stay as they are: those of a
// direction that was not named before could not run.
func (f *Finding) Retest(sums *Sums, was, alpha float64) error {
	if err := f.rename(sums, was, alpha); err != nil {
		return err
	}
	f.Describe(alpha)
	return nil
}

func (f *Finding) rename(sums *Sums, was, alpha float64) error {
	named, tested := f.AsymmetryP < was, !math.IsNaN(f.AsymmetryP)
	switch {
	case !f.Status.Measured() || f.Pattern == "":
		return nil
	case !tested || named == (f.AsymmetryP < alpha) && named:
		return nil
	case !named && !(f.AsymmetryP < alpha):
		f.Pattern = PatternNone
		if f.ExcessP < alpha {
			f.Pattern = PatternSymmetric
		}
		return nil
	case sums == nil:
		return ErrNoSums
	}
	d, err := sums.directional()
	if err != nil {
		return err
	}
	f.nameAgain(d, alpha)
	return nil
}

// nameAgain writes asymmetry, pattern, axis and lobes as a measurement at this
// level would have.
func (f *Finding) nameAgain(d *Directional, alpha float64) {
	nan := math.NaN()
	f.RunnerUp, f.PatternLead, f.Ambiguous = "", nan, false
	f.Asymmetry, f.AsymmetrySE, f.Axis, f.AxisSE, f.GapWidth = nan, nan, nan, nan, nan
	f.Axis68, f.Axis95, f.Lobes = nil, nil, nil
	e := &Evidence{Status: f.Status, Coverage: f.Coverage, Layout: Layout{Inner: f.firstTested()}}
	sigma := f.Detectable50 / quantile999
	m := Measurement{Finding: *f, Direction: d, Blanket: Blanket{Z: ScoreOf(f.ExcessP), P: f.ExcessP, Sigma: sigma, Amplitude: f.RimExcess, Decay: f.Decay, Unconstraint: math.IsNaN(f.Decay)}}
	e.putAsymmetry(&m, Asymmetry{P: f.AsymmetryP, Families: f.Families}, alpha)
	*f = m.Finding
}

// firstTested is the inner edge of the tests: rings with a model begin there.
func (f *Finding) firstTested() float64 {
	for _, r := range f.Radial {
		if !math.IsNaN(r.Model) {
			return r.RhoLo
		}
	}
	return 1
}
