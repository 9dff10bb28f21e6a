package ejecta

import "math"

// Words of the persistence of a blanket over the times of day.
const (
	Persistent   = "persistent"     // stays: as ground that was dug up would
	Changing     = "changing"       // always there, not always as much
	ComesAndGoes = "comes and goes" // at some times it is not there
	NotKnown     = "not known"      // not seen, or too faint to say
)

// Words of the direction of a blanket over the times of day.
const (
	AxisStays   = "stays"
	AxisFollows = "follows the sun"
	AxisTurns   = "turns" // otherwise than the sun, or the sun is not known
	AxisOpen    = "open"  // the data do not tell
)

// Persistence says whether the blanket of a species at a crater is the same at
// all times of day. NaN stands for a number that could not be measured.
type Persistence struct {
	CraterIndex   int
	Species, Unit string
	Status        Status
	Note          string
	Epochs, Seen  int     // measured; with a blanket
	Coverage      float64 // of the ground common to all
	Correlation   float64 // mean, of the noise of two epochs
	Places        float64 // null positions behind it

	Statistic          float64 // that all amplitudes are one
	Freedom            int
	P, Q               float64
	Change             float64 // largest, later less earlier
	ChangeLo, ChangeHi float64 // 95 %, for all pairs of epochs together
	From, To           string  // its epochs
	FromExcess, ToExcess,
	FromSE, ToSE float64
	Excess, ExcessSE        float64 // weighted over the epochs: the part that stays, when it does
	ExcessP                 float64
	Share, ShareLo, ShareHi float64 // smallest over largest amplitude
	AxisOrder               int     // 1: a side; 2: an axis with two ends; 0: no direction
	AxisP, SunP             float64 // of one direction at all epochs; of one that turns with the sun
	Drift, DriftLo, DriftHi float64 // degrees, largest, later less earlier; 95 %
	DriftFrom, DriftTo      string
	Axis                    string // word for the direction
	Verdict, Sentence       string
}

// NewPersistence tests the epochs of one crater and species, in the order of
// the day. It fills their Blanket. With too few null positions noise is zero,
// and nothing is tested.
func NewPersistence(list []*EpochFinding, noise EpochNoise, alpha float64) Persistence {
	p := blankPersistence(list)
	keep, good := measuredEpochs(list)
	p.Epochs = len(good)
	if len(good) < 2 {
		return p.unknown(list, "the blanket is measured at fewer than two times of day")
	}
	spread := putBlankets(good)
	if noise.epochs != len(list) {
		return p.unknown(list, "too few null positions show all times of day to know what noise they share")
	}
	p.Status, p.Note = StatusOK, ""
	p.Coverage, p.Correlation, p.Places = good[0].Coverage, noise.mean(keep), noise.Places
	m := newAmplitudes(good, noise.of(noise.Blanket, keep))
	p.amount(m, good, noise, spread)
	p.direction(good, keep, noise, alpha)
	p.Claim(good, alpha)
	return p
}

func blankPersistence(list []*EpochFinding) Persistence {
	nan := math.NaN()
	p := Persistence{CraterIndex: list[0].CraterIndex, Species: list[0].Species, Unit: list[0].Unit, Verdict: NotKnown}
	for _, v := range []*float64{&p.Coverage, &p.Correlation, &p.Places, &p.Statistic, &p.P, &p.Q, &p.Change, &p.ChangeLo, &p.ChangeHi,
		&p.FromExcess, &p.ToExcess, &p.FromSE, &p.ToSE, &p.Excess, &p.ExcessSE, &p.ExcessP, &p.Share, &p.ShareLo, &p.ShareHi,
		&p.AxisP, &p.SunP, &p.Drift, &p.DriftLo, &p.DriftHi} {
		*v = nan
	}
	return p
}

// unknown is the persistence where nothing can be tested.
func (p Persistence) unknown(list []*EpochFinding, why string) Persistence {
	p.Status, p.Note = StatusNotTestable, why
	for _, f := range list {
		if !f.Status.Measured() {
			p.Status, p.Note = f.Status, f.Epoch+": "+f.Note
			break
		}
	}
	p.Sentence = p.Species + ": not known whether it stays; " + why
	return p
}

func measuredEpochs(list []*EpochFinding) (keep []int, good []*EpochFinding) {
	for i, f := range list {
		if f.measured() {
			keep, good = append(keep, i), append(good, f)
		}
	}
	return keep, good
}

// amount fills what is about the amplitude; spread is the share of it that the
// exponent leaves open.
func (p *Persistence) amount(m amplitudes, list []*EpochFinding, noise EpochNoise, spread float64) {
	p.Statistic, p.Freedom = m.differ(), m.n-1
	p.P = noise.ratioP(p.Statistic, p.Freedom)
	i, j := m.largestChange()
	d, se := m.change(i, j)
	se = math.Hypot(se, d*spread)
	t := noise.quantile(0.95, m.n*(m.n-1)/2)
	p.Change, p.ChangeLo, p.ChangeHi = d, d-t*se, d+t*se
	p.From, p.To = list[i].Epoch, list[j].Epoch
	p.FromExcess, p.ToExcess, p.FromSE, p.ToSE = list[i].Blanket, list[j].Blanket, list[i].BlanketSE, list[j].BlanketSE
	p.Excess, p.ExcessSE = m.common()
	p.ExcessP = upperTail(p.Excess / p.ExcessSE)
	p.Share, p.ShareLo, p.ShareHi = m.share(noise.quantile(0.95, 1))
}

// halfChange is the change, as a share of the blanket, that must be excluded
// before a blanket is said to stay.
const halfChange = 0.5

// Claim chooses the words at a level from what was measured; list is the times
// of day. Which of them show a direction stays as it was.
func (p *Persistence) Claim(list []*EpochFinding, alpha float64) {
	if p.Status != StatusOK {
		return
	}
	if p.AxisOrder > 0 {
		p.Axis = axisWord(p, alpha)
	}
	gone := p.look(list, alpha)
	room := math.Max(math.Abs(p.ChangeLo), math.Abs(p.ChangeHi))
	p.Verdict = NotKnown
	switch {
	case p.P < alpha && p.Seen > 0 && gone:
		p.Verdict = ComesAndGoes
	case p.P < alpha && p.Seen > 0:
		p.Verdict = Changing
	case !(p.P < alpha) && (p.Seen > 0 || p.ExcessP < alpha) && room < halfChange*p.Excess:
		p.Verdict = Persistent
	}
	p.describe()
}

// look counts the times of day that show a blanket, and says whether it is gone
// at one: not seen, and less than half of the largest there.
func (p *Persistence) look(list []*EpochFinding, alpha float64) (gone bool) {
	_, good := measuredEpochs(list)
	top := 0.0
	for _, f := range good {
		top = math.Max(top, f.Blanket)
	}
	p.Seen = 0
	for _, f := range good {
		if f.ExcessP < alpha {
			p.Seen++
		} else if f.Blanket+quantile95*f.BlanketSE < halfChange*top {
			gone = true
		}
	}
	return gone
}

// CorrectPersistence sets the q values and returns how many tests there were, with
// those that a sieve left out as for [CorrectContrasts].
func CorrectPersistence(list []Persistence, leftOut int) int {
	return correct(list, leftOut, func(p *Persistence) (*float64, *float64) { return &p.P, &p.Q })
}
