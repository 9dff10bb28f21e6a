package ejecta

import "math"

// Catalogue-level corrections: false discovery over all tests of one kind.

// Correct sets the q values of the findings (Benjamini & Hochberg 1995), all
// species together, raised for a species whose null scale is in doubt to what the
// null fitted to its own craters allows (see [TailRates]), and per species the local false discovery rates of excess and
// direction and the expected true scores. It returns how many excess and
// direction tests there were.
func Correct(findings []Finding, species int) (excessTests, directionTests int) {
	pe, pa := make([]float64, len(findings)), make([]float64, len(findings))
	for i, f := range findings {
		pe[i], pa[i] = f.ExcessP, f.AsymmetryP
		if f.ExcessP == f.ExcessP {
			excessTests++
		}
		if f.AsymmetryP == f.AsymmetryP {
			directionTests++
		}
	}
	qe, qa := QValues(pe), QValues(pa)
	for i := range findings {
		f := &findings[i]
		f.ExcessQ, f.AsymmetryQ = qe[i], qa[i]
		f.ExcessQRule, f.DirectionQRule = ruleOf(pe[i]), ruleOf(pa[i])
	}
	for s := range species {
		if doubted(findings, s, species) {
			fallBack(findings, pe, s, species, func(f *Finding) (*float64, *QRule) { return &f.ExcessQ, &f.ExcessQRule })
			fallBack(findings, pa, s, species, func(f *Finding) (*float64, *QRule) { return &f.AsymmetryQ, &f.DirectionQRule })
		}
		setLocal(findings, pe, s, species, func(f *Finding) *float64 { return &f.LocalFDR })
		setLocal(findings, pa, s, species, func(f *Finding) *float64 { return &f.DirectionFDR })
		shrink(findings, s, species)
	}
	return excessTests, directionTests
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
// tests there were.
func CorrectContrasts(c []Contrast) int {
	return correct(c, func(c *Contrast) (p, q *float64) { return &c.P, &c.Q })
}

// correct sets the q values of a list of tests and returns how many have a p.
func correct[T any](list []T, of func(*T) (p, q *float64)) (n int) {
	ps := make([]float64, len(list))
	for i := range list {
		p, _ := of(&list[i])
		if ps[i] = *p; ps[i] == ps[i] {
			n++
		}
	}
	for i, v := range QValues(ps) {
		_, q := of(&list[i])
		*q = v
	}
	return n
}
