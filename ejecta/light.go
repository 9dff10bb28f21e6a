package ejecta

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// Light is what light and time of day a new observation should have. The rules
// are common practice: a false direction turns with the sun, heat left in a
// spectrum is least when the ground is cold, and slopes show least when the sun
// is high.
type Light struct {
	LocalTime string     // wanted, in words
	Hours     []Interval // the same as hours on the clock; nil when anything will do or nothing is known
	Incidence string
	Angles    *Interval // degrees
	Why       string
}

const (
	dawn, dusk    = 6.0, 18.0
	otherHours    = 3.0 // that make another time of day
	sunSide       = 1.5 // half-width of the mirrored time, hours
	coolerHours   = 2.0
	otherAngle    = 15.0 // degrees of incidence
	steepest      = 75.0 // beyond it reflectance is hardly usable
	noLayerPhrase = "not known: no such layer"
)

// light asks for what separates the finding from its alarms. seen are the times
// of day of all maps of the quantity, hours.
func (f *Finding) light(seen []float64) Light {
	raised := f.RaisedAlarms()
	has := func(names ...string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return slices.Contains(raised, n) })
	}
	l := Light{LocalTime: noLayerPhrase, Incidence: noLayerPhrase}
	hot, sun := has(thermalAlarm), has("axis_near_sun", "illumination", "follows_sun")
	l.Why = lightWhy(hot, sun)
	if t, ok := f.Condition("local_time"); ok {
		l.putHours(t.Mean, seen, hot, sun)
	}
	if i, ok := f.Condition("incidence"); ok {
		l.putAngles(i.Mean, hot, has("illumination"))
	}
	return l
}

func lightWhy(hot, sun bool) string {
	var why []string
	if hot {
		why = append(why, "the alarm thermal: cooler ground shows what heat has added")
	}
	if sun {
		why = append(why, "an alarm of the light: a direction made by the sun turns with it, one of the ground stays")
	}
	if why == nil {
		return "no alarm of heat or light is raised; another time of day tests that the finding stays"
	}
	return strings.Join(why, "; ")
}

// putHours asks for a time of day given the present one, and says where a map of
// such a time is at hand.
func (l *Light) putHours(now float64, seen []float64, hot, sun bool) {
	off := math.Abs(now - 12)
	switch {
	case now < dawn || now > dusk:
		l.LocalTime = fmt.Sprintf("now %s, at night; another night tests that it stays", clock(now))
		return
	case hot:
		l.Hours = daytime(Interval{dawn, 12 - off - coolerHours}, Interval{12 + off + coolerHours, dusk})
		if l.Hours == nil {
			l.Hours = []Interval{{dawn, dawn + 1.5}, {dusk - 1.5, dusk}}
		}
		if sun {
			l.Hours = otherSide(l.Hours, now)
		}
	case sun && off >= sunSide:
		l.Hours = daytime(Interval{24 - now - sunSide, 24 - now + sunSide})
	default:
		l.Hours = unseen(append([]float64{now}, seen...))
	}
	if l.Hours == nil {
		l.LocalTime = fmt.Sprintf("any, the day is mapped within %g hours everywhere (now %s)", otherHours, clock(now))
		return
	}
	l.LocalTime = fmt.Sprintf("%s (now %s%s)", hoursText(l.Hours), clock(now), atHand(l.Hours, seen))
}

// unseen are the daytime hours far enough from all times.
func unseen(times []float64) []Interval {
	left := []Interval{{dawn, dusk}}
	for _, t := range times {
		var next []Interval
		for _, p := range left {
			next = append(next, daytime(Interval{p.Lo, math.Min(p.Hi, t-otherHours)}, Interval{math.Max(p.Lo, t+otherHours), p.Hi})...)
		}
		left = next
	}
	return left
}

// atHand names the maps that have the light asked for already.
func atHand(wanted []Interval, seen []float64) string {
	text := ""
	for _, t := range seen {
		if slices.ContainsFunc(wanted, func(p Interval) bool { return t >= p.Lo && t <= p.Hi }) {
			text += "; there is a map of " + clock(t)
		}
	}
	return text
}

// daytime keeps the pieces of at least half an hour between dawn and dusk.
func daytime(pieces ...Interval) (out []Interval) {
	for _, p := range pieces {
		p.Lo, p.Hi = math.Max(p.Lo, dawn), math.Min(p.Hi, dusk)
		if p.Hi-p.Lo >= 0.5 {
			out = append(out, p)
		}
	}
	return out
}

// otherSide prefers the hours on the other side of noon.
func otherSide(pieces []Interval, now float64) []Interval {
	var out []Interval
	for _, p := range pieces {
		if (p.Lo+p.Hi)/2 > 12 != (now > 12) {
			out = append(out, p)
		}
	}
	if out == nil {
		return pieces
	}
	return out
}

func hoursText(pieces []Interval) string {
	var parts []string
	for _, p := range pieces {
		parts = append(parts, clock(p.Lo)+" to "+clock(p.Hi))
	}
	return strings.Join(parts, " or ")
}

// clock writes hours as h:mm.
func clock(hours float64) string {
	minutes := int(math.Round(hours * 60))
	return fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
}

// putAngles asks for an incidence given the present one.
func (l *Light) putAngles(now float64, hot, slopes bool) {
	want := Interval{math.Max(now-10, 0), math.Min(now+10, steepest)}
	words := "near the present one, so that only the time of day differs"
	switch {
	case hot && slopes:
		words = "any that differs from the present one, both ways if possible: heat asks for a lower sun, slopes for a higher one"
		want = Interval{0, steepest}
	case hot:
		want, words = Interval{math.Min(now+otherAngle, steepest-10), steepest}, "a lower sun, for cooler ground"
	case slopes:
		want, words = Interval{0, math.Max(now-otherAngle, 15)}, "a higher sun, so that slopes count less"
	}
	l.Angles = &want
	l.Incidence = fmt.Sprintf("%.0f to %.0f degrees, %s (now %.0f)", want.Lo, want.Hi, words, now)
}
