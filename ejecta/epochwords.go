package ejecta

import (
	"fmt"
	"math"
)

// describe writes the sentence of a persistence.
func (p *Persistence) describe() {
	p.Sentence = p.amountPhrase()
	if axis := p.axisPhrase(); axis != "" {
		p.Sentence += "; " + axis
	}
}

func (p *Persistence) amountPhrase() string {
	switch p.Verdict {
	case Persistent:
		return fmt.Sprintf("%s stays through the day (%s, largest change %s, %s to %s)",
			p.Species, p.withError(p.Excess, p.ExcessSE), p.withError(p.Change, p.changeSE()), p.From, p.To)
	case Changing:
		return fmt.Sprintf("%s goes from %s (p %s): surface exchange, or heat left in the maps, cannot be excluded", p.Species, p.fromTo(), probability(p.P))
	case ComesAndGoes:
		return fmt.Sprintf("%s comes and goes, from %s (p %s): surface exchange, or heat left in the maps, cannot be excluded", p.Species, p.fromTo(), probability(p.P))
	}
	return p.unknownPhrase()
}

func (p *Persistence) unknownPhrase() string {
	if p.Seen == 0 {
		return fmt.Sprintf("%s: no blanket is seen at any time of day, so that none can be said to stay", p.Species)
	}
	return fmt.Sprintf("%s: not known whether it stays (%s, largest change %s, %s to %s)",
		p.Species, p.withError(p.Excess, p.ExcessSE), p.withError(p.Change, p.changeSE()), p.From, p.To)
}

// changeSE is half the interval of the largest change over two: the error that
// goes with it for all pairs together.
func (p *Persistence) changeSE() float64 { return (p.ChangeHi - p.ChangeLo) / 4 }

func (p *Persistence) fromTo() string {
	return fmt.Sprintf("%s at epoch %s to %s at epoch %s", p.withError(p.FromExcess, p.FromSE), p.From, p.withError(p.ToExcess, p.ToSE), p.To)
}

// withError writes a value with its error and unit: the error with two digits,
// the value to the same place.
func (p *Persistence) withError(x, se float64) string {
	if math.IsNaN(x) || !(se > 0) || math.IsInf(se, 0) {
		return "unknown"
	}
	places := max(0, 1-int(math.Floor(math.Log10(se))))
	return withUnit(fmt.Sprintf("%.*f ± %.*f", places, x, places, se), p.Unit)
}

func (p *Persistence) axisPhrase() string {
	turn := fmt.Sprintf("%.0f degrees, %s to %s", p.Drift, p.DriftFrom, p.DriftTo)
	switch p.Axis {
	case AxisFollows:
		return "its direction turns with the sun (" + turn + "): lighting or heat makes it, until shown otherwise"
	case AxisTurns:
		return "its direction turns (" + turn + ")"
	case AxisStays:
		return "its direction stays (largest turn " + turn + ")"
	case AxisOpen:
		return "the times of day do not tell whether its direction stays (largest turn " + turn + ")"
	}
	return ""
}

// Names of the alarms of the times of day.
const (
	changesAlarm = "changes_with_time"
	followsAlarm = "follows_sun"
)

// EpochAlarms are the alarms that need the same species at several times of
// day; p is nil where there is no second map.
func EpochAlarms(p *Persistence, alpha float64) []Alarm {
	if p == nil {
		return []Alarm{notRun(changesAlarm, noLayer+": the species at another time of day"), notRun(followsAlarm, noLayer+": the species at another time of day")}
	}
	return []Alarm{p.changesAlarm(alpha), p.followsAlarm(alpha)}
}

func (p *Persistence) changesAlarm(alpha float64) Alarm {
	if math.IsNaN(p.P) {
		return notRun(changesAlarm, p.Note)
	}
	return Alarm{Name: changesAlarm, Raised: p.Verdict == Changing || p.Verdict == ComesAndGoes, Value: p.P, Limit: alpha, Unit: "p",
		Detail: p.amountPhrase()}
}

func (p *Persistence) followsAlarm(alpha float64) Alarm {
	switch {
	case math.IsNaN(p.AxisP):
		return notRun(followsAlarm, "no direction is seen at two times of day")
	case math.IsNaN(p.SunP):
		return notRun(followsAlarm, "the sun is not known at the times of day, or does not move enough: local_time_h, or a layer of local time or of the sun's azimuth")
	}
	return Alarm{Name: followsAlarm, Raised: p.Axis == AxisFollows, Value: p.AxisP, Limit: alpha, Unit: "p of one direction",
		Detail: fmt.Sprintf("p of a direction that turns with the sun %s; largest turn %.0f degrees", probability(p.SunP), p.Drift)}
}
