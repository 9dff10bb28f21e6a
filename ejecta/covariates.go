package ejecta

import (
	"fmt"
	"math"
	"slices"
)

// Covariates are layers that could fake a signal. They are fitted beside the
// blanket; the alarms say what became of the excess and of the direction.

// faker is a group of covariates with the alarm that speaks of it.
type faker struct {
	alarm string
	layer string // what the alarm needs, in words
	kinds []string
}

const thermalAlarm = "thermal"

var fakers = []faker{
	{thermalAlarm, "temperature or local time", []string{"temperature", "local_time"}},
	{"illumination", "incidence, emission, phase, slope or elevation", []string{"incidence", "emission", "phase", "slope", "elevation"}},
	{"albedo", "albedo", []string{"albedo"}},
	{"other_covariate", "another covariate", []string{"other", ""}},
}

// Limits of the covariate alarms.
const (
	shareLimit     = 0.5 // of the excess that the covariates take
	separableLimit = 0.8 // correlation of template and covariates
)

// covariateColumns are the columns of the covariates in the Gram matrix.
func (e *Evidence) covariateColumns() []int {
	first := colRings + e.Gram.Rings + len(e.Neighbours)
	return span(first, first+len(e.Covariates))
}

// kindColumns are the columns of covariates of some kinds.
func (e *Evidence) kindColumns(kinds []string) (cols []int) {
	for i, c := range e.covariateColumns() {
		if slices.Contains(kinds, e.kinds[i]) {
			cols = append(cols, c)
		}
	}
	return cols
}

// lessColumns are the columns of a that are not in b.
func lessColumns(a, b []int) (out []int) {
	for _, c := range a {
		if !slices.Contains(b, c) {
			out = append(out, c)
		}
	}
	return out
}

// blanketBeside fits the blanket beside some nuisance columns.
func (e *Evidence) blanketBeside(nuisance []int, scale float64) Blanket {
	return fitBlanket(e.Gram.Without([]int{colConst}, span(colPlane, colPlane+2), nuisance), e.Variance*scale)
}

// covariateAlarms asks of each kind of covariate whether excess and direction
// are still there when it is fitted beside them.
func (e *Evidence) covariateAlarms(m *Measurement, set Settings, in AlarmInputs) []Alarm {
	var list []Alarm
	again := retests{e: e, m: m, in: in}
	for _, f := range fakers {
		if cols := e.kindColumns(f.kinds); len(cols) > 0 && !set.NoCovariates {
			list = append(list, e.fakerAlarm(f, cols, &again, set))
		} else {
			list = append(list, notRun(f.alarm, noLayer+": "+f.layer))
		}
	}
	return append(list, e.separableAlarm(&again, set))
}

// retests are tests of the direction beside other nuisance columns, each made
// once: with covariates of one kind the alarm of that kind and the one of all ask
// the same.
type retests struct {
	e    *Evidence
	m    *Measurement
	in   AlarmInputs
	done []retested
}

type retested struct {
	beside    []int
	scale     float64
	direction *Directional
	p         float64
}

func (r *retests) beside(nuisance []int, scale float64) retested {
	for _, t := range r.done {
		if t.scale == scale && slices.Equal(t.beside, nuisance) {
			return t
		}
	}
	e, m := r.e, r.m
	d := directional(e.Gram, nuisance, e.centrePrior(m.Blanket), e.Variance*scale)
	t := retested{nuisance, scale, d, d.test(m.Blanket, e.Coverage >= fullCoverage, r.in.Seed).P}
	r.done = append(r.done, t)
	return t
}

// fakerAlarm compares the crater without and with the covariates of one kind.
// The value is the share of the excess that they take; a direction that they
// take away raises the alarm too.
func (e *Evidence) fakerAlarm(f faker, cols []int, again *retests, set Settings) Alarm {
	m := again.m
	alpha := set.WithDefaults().Alpha
	rest := lessColumns(e.nuisance(set), cols)
	without := again.in.without(f.alarm)
	bare := e.blanketBeside(rest, without.Excess)
	taken := takenShare(bare, m.Blanket)
	a := over(f.alarm, taken, shareLimit, "share of the excess", "rim excess %.3g without %s, %.3g beside it",
		bare.Z*bare.Sigma, f.layer, m.Blanket.Z*m.Blanket.Sigma)
	a.Raised = a.Raised && bare.P < alpha
	if m.Direction == nil {
		return a
	}
	p0, p1 := again.beside(rest, without.Direction).p, m.Finding.AsymmetryP
	a.Raised = a.Raised || p0 < alpha && (p1 > alpha || p1 >= growthOfP*p0 && p1 > alpha/100)
	a.Detail += fmt.Sprintf("; p of the direction %s and %s", probability(p0), probability(p1))
	return a
}

// takenShare is the share of the excess that is gone in the second fit, NaN
// when there was hardly any.
func takenShare(without, with Blanket) float64 {
	if !(without.Z > 2) {
		return math.NaN()
	}
	return 1 - with.Z*with.Sigma/(without.Z*without.Sigma)
}

// thermalShare is the share of the excess that temperatures and times of day
// take; NaN without such a layer or without an excess.
func (e *Evidence) thermalShare(bl Blanket, set Settings, scale float64) float64 {
	cols := e.kindColumns(fakers[0].kinds)
	if len(cols) == 0 || set.NoCovariates {
		return math.NaN()
	}
	return takenShare(e.blanketBeside(lessColumns(e.nuisance(set), cols), scale), bl)
}

// separableAlarm asks whether the pattern found without the covariates can be
// told from them at all.
func (e *Evidence) separableAlarm(again *retests, set Settings) Alarm {
	const name = "not_separable"
	switch {
	case len(e.Covariates) == 0 || set.NoCovariates:
		return notRun(name, noLayer+": covariate")
	case again.m.Direction == nil:
		return notRun(name, "no direction was tested")
	}
	rest := lessColumns(e.nuisance(set), e.covariateColumns())
	t := again.beside(rest, again.in.without(allLayers).Direction)
	if !(t.p < set.WithDefaults().Alpha) {
		return notRun(name, "no direction was found without the covariates")
	}
	c := e.alignment(t.direction.classify()[0], rest)
	return over(name, c, separableLimit, "correlation", "template and covariates are alike to %.2f", c)
}

// alignment is the multiple correlation between a directional template and the
// covariates, after whitening and without the symmetric part and the rest of
// the nuisance.
func (e *Evidence) alignment(lead classFit, rest []int) float64 {
	a := lead.shape.turned(lead.axis.azimuth * math.Pi / 180)
	if lead.pattern == PatternRays {
		a = rayShape.turned(lead.rays[0].azimuth * math.Pi / 180)
	}
	sw := e.Gram.Without([]int{colConst}, span(colRings, colRings+e.Gram.Rings), span(colPlane, colPlane+2), rest)
	before := quadForm(sw, &a)
	after := quadForm(sw.Without(e.covariateColumns()), &a)
	if !(before > 0) {
		return math.NaN()
	}
	return math.Sqrt(math.Max(0, 1-after/before))
}

func quadForm(g *Gram, a *[2 * Orders]float64) float64 {
	s := 0.0
	for i, v := range a {
		if v != 0 {
			row := g.M[(colCos+i)*g.P+colCos:]
			s += v * dot(a[:], row)
		}
	}
	return s
}
