package ejecta

import "math"

// Catalogue-level corrections: false discovery over all tests of one kind.

// Correct sets the q values of the findings (Benjamini & Hochberg 1995), all
// species together, raised for a species whose null scale is in doubt to what the
// null fitted to its own craters allows (see [TailRates]), and per species the local false discovery rates of excess and
// direction and the expected true scores. Craters that a sieve left out count with
// the p of their quick look, larger than those of the chosen, and get no numbers. It returns how many excess and direction tests there were.
func Correct(findings []Finding, species int) (excessTests, directionTests int) {
	return CorrectBeside(findings, nil, species)
}

// CorrectBeside is [Correct] for the findings of a catalogue that has bare craters
// too, which count as if they stood among them.
func CorrectBeside(findings []Finding, bare *Bare, species int) (excessTests, directionTests int) {
	l := newLedger(findings, bare, species)
	pe, pa := l.tests()
	excessTests, directionTests = countTests(pe), countTests(pa)
	l.setQ(pe, func(f *Finding) (*float64, *QRule) { return &f.ExcessQ, &f.ExcessQRule })
	l.setQ(pa, func(f *Finding) (*float64, *QRule) { return &f.AsymmetryQ, &f.DirectionQRule })
	le, la := l.plainTests()
	for s := range species {
		if l.doubted(s) {
			l.fallBack(le, s, func(f *Finding) (*float64, *QRule) { return &f.ExcessQ, &f.ExcessQRule })
			l.fallBack(la, s, func(f *Finding) (*float64, *QRule) { return &f.AsymmetryQ, &f.DirectionQRule })
		}
		l.setLocal(le, s, func(f *Finding) *float64 { return &f.LocalFDR })
		l.setLocal(la, s, func(f *Finding) *float64 { return &f.DirectionFDR })
		l.shrink(pe, s)
	}
	for i := range findings {
		findings[i].blankSieved()
	}
	return excessTests, directionTests
}

// Tests are the p of the excess and of the direction as the catalogue counts them:
// those of the quick look for a crater that a sieve left out, 1 on a species that
// it was not looked at on, NaN for one without a test.
func (f *Finding) Tests() (excess, direction float64) {
	if f.Status != StatusSieved {
		return f.ExcessP, f.AsymmetryP
	}
	return quickTests(f.Quick)
}

func quickTests(q *QuickP) (excess, direction float64) {
	if q == nil {
		return 1, 1
	}
	return q.Excess, q.Direction
}

// PlainTests are the p of the excess and of the direction that show the null of a
// catalogue: for craters that a sieve left out those by the noise model alone, NaN
// without a look.
func (f *Finding) PlainTests() (excess, direction float64) {
	if f.Status != StatusSieved {
		return f.ExcessP, f.AsymmetryP
	}
	return plainQuick(f.Quick)
}

func plainQuick(q *QuickP) (excess, direction float64) {
	if q == nil {
		return math.NaN(), math.NaN()
	}
	return q.Plain[0], q.Plain[1]
}

// blankSieved takes the numbers of the catalogue from a crater that was not
// measured.
func (f *Finding) blankSieved() {
	if f.Status == StatusSieved {
		BlankNumbers(f)
		f.ExcessQRule, f.DirectionQRule = "", ""
	}
}

// ruleOf is the rule of the q value of a p: none where there is no test.
func ruleOf(p float64) QRule {
	if math.IsNaN(p) {
		return ""
	}
	return QRuleBH
}

// CorrectContrasts sets the q values of the contrasts and returns how many
// tests there were. Those that a sieve left out count with p = 1: craters were
// chosen by their directions among others, which a contrast depends on.
func CorrectContrasts(c []Contrast, leftOut int) int {
	return correct(c, leftOut, func(c *Contrast) (p, q *float64) { return &c.P, &c.Q })
}

// correct sets the q values of a list of tests, beside which more stand with p = 1,
// and returns how many have a p.
func correct[T any](list []T, more int, of func(*T) (p, q *float64)) int {
	ps := make([]float64, len(list), len(list)+more)
	for i := range list {
		p, _ := of(&list[i])
		ps[i] = *p
	}
	for range more {
		ps = append(ps, 1)
	}
	for i, v := range QValues(ps)[:len(list)] {
		_, q := of(&list[i])
		*q = v
	}
	return countTests(ps)
}
