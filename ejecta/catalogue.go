package ejecta

import "math"

// Catalogue-level corrections: false discovery over all tests of one kind.

// Correct sets the q values of the findings (Benjamini & Hochberg 1995), all
// species together, raised for a species whose null scale is in doubt to what the
// null fitted to its own craters allows (see [TailRates]), and per species the local false discovery rates of excess and
// direction and the expected true scores. Craters that a sieve left out count with
// the p of their quick look, larger than those of the chosen, and get no numbers. It returns how many excess and direction tests there were.
func Correct(findings []Finding, species int) (excessTests, directionTests int) {
	pe, pa := testsOf(findings, (*Finding).Tests)
	le, la := testsOf(findings, (*Finding).PlainTests)
	excessTests, directionTests = countTests(pe), countTests(pa)
	qe, qa := QValues(pe), QValues(pa)
	for i := range findings {
		f := &findings[i]
		f.ExcessQ, f.AsymmetryQ = qe[i], qa[i]
		f.ExcessQRule, f.DirectionQRule = ruleOf(pe[i]), ruleOf(pa[i])
	}
	for s := range species {
		if doubted(findings, s, species) {
			fallBack(findings, le, s, species, func(f *Finding) (*float64, *QRule) { return &f.ExcessQ, &f.ExcessQRule })
			fallBack(findings, la, s, species, func(f *Finding) (*float64, *QRule) { return &f.AsymmetryQ, &f.DirectionQRule })
		}
		setLocal(findings, le, s, species, func(f *Finding) *float64 { return &f.LocalFDR })
		setLocal(findings, la, s, species, func(f *Finding) *float64 { return &f.DirectionFDR })
		shrink(findings, pe, s, species)
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
	switch {
	case f.Status != StatusSieved:
		return f.ExcessP, f.AsymmetryP
	case f.Quick == nil:
		return 1, 1
	}
	return f.Quick.Excess, f.Quick.Direction
}

// PlainTests are the p of the excess and of the direction that show the null of a
// catalogue: for craters that a sieve left out those by the noise model alone, NaN
// without a look.
func (f *Finding) PlainTests() (excess, direction float64) {
	switch {
	case f.Status != StatusSieved:
		return f.ExcessP, f.AsymmetryP
	case f.Quick == nil:
		return math.NaN(), math.NaN()
	}
	return f.Quick.Plain[0], f.Quick.Plain[1]
}

// testsOf are two p of each finding.
func testsOf(findings []Finding, of func(*Finding) (excess, direction float64)) (excess, direction []float64) {
	for i := range findings {
		e, d := of(&findings[i])
		excess, direction = append(excess, e), append(direction, d)
	}
	return excess, direction
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

// setLocal sets a local false discovery rate for every step-th finding.
func setLocal(findings []Finding, p []float64, from, step int, field func(*Finding) *float64) {
	var own []float64
	for i := from; i < len(findings); i += step {
		own = append(own, p[i])
	}
	local, _ := LocalFDR(own)
	for k, i := 0, from; i < len(findings); k, i = k+1, i+step {
		*field(&findings[i]) = local[k]
	}
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
