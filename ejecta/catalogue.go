package ejecta

// Catalogue-level corrections: false discovery over all tests of one kind.

// Correct sets the q values of the findings (Benjamini & Hochberg 1995), all
// species together, and the local false discovery rate of the excess per
// species. It returns how many excess and direction tests there were.
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
		findings[i].ExcessQ, findings[i].AsymmetryQ = qe[i], qa[i]
	}
	for s := range species {
		var p []float64
		for i := s; i < len(findings); i += species {
			p = append(p, pe[i])
		}
		local, _ := LocalFDR(p)
		for k, i := 0, s; i < len(findings); k, i = k+1, i+species {
			findings[i].LocalFDR = local[k]
		}
	}
	return excessTests, directionTests
}

// CorrectContrasts sets the q values of the contrasts and returns how many
// tests there were.
func CorrectContrasts(c []Contrast) int {
	p := make([]float64, len(c))
	n := 0
	for i := range c {
		p[i] = c[i].P
		if p[i] == p[i] {
			n++
		}
	}
	for i, q := range QValues(p) {
		c[i].Q = q
	}
	return n
}
