package ejecta

import "math"

// ledger is the findings of a catalogue in its order, bare craters among them:
// every crater has a line for each species.
type ledger struct {
	findings []Finding
	bare     *Bare
	species  int
	lines    []int32 // places in findings; below 0 a line of a bare crater
}

// newLedger joins the findings and the bare craters by their numbers.
func newLedger(findings []Finding, bare *Bare, species int) *ledger {
	l := &ledger{findings, bare, species, make([]int32, 0, len(findings)+bare.Len()*species)}
	k := 0
	for i := 0; i < len(findings); {
		for ; k < bare.Len() && bare.Crater(k) < findings[i].CraterIndex; k++ {
			l.addBare(k)
		}
		for to := min(i+species, len(findings)); i < to; i++ {
			l.lines = append(l.lines, int32(i))
		}
	}
	for ; k < bare.Len(); k++ {
		l.addBare(k)
	}
	return l
}

func (l *ledger) addBare(k int) {
	for s := range l.species {
		l.lines = append(l.lines, int32(-1-k*l.species-s))
	}
}

// bareLine is the bare crater and the species of a line below 0.
func (l *ledger) bareLine(line int32) (k, species int) {
	at := int(-1 - line)
	return at / l.species, at % l.species
}

// tests are two p of each line, as the catalogue counts them.
func (l *ledger) tests() (excess, direction []float64) {
	return l.pairs((*Finding).Tests, (*Bare).tests)
}

// plainTests are those that show its null.
func (l *ledger) plainTests() (excess, direction []float64) {
	return l.pairs((*Finding).PlainTests, (*Bare).plainTests)
}

func (l *ledger) pairs(of func(*Finding) (a, b float64), ofBare func(b *Bare, k, species int) (x, y float64)) (a, b []float64) {
	a, b = make([]float64, len(l.lines)), make([]float64, len(l.lines))
	for i, line := range l.lines {
		if line >= 0 {
			a[i], b[i] = of(&l.findings[line])
			continue
		}
		k, s := l.bareLine(line)
		a[i], b[i] = ofBare(l.bare, k, s)
	}
	return a, b
}

// of calls fn for every line of a species: its number among all, and its finding,
// nil for a bare crater.
func (l *ledger) of(species int, fn func(i int, f *Finding)) {
	for i := species; i < len(l.lines); i += l.species {
		if line := l.lines[i]; line >= 0 {
			fn(i, &l.findings[line])
		} else {
			fn(i, nil)
		}
	}
}

// own are the values of a species.
func (l *ledger) own(p []float64, species int) []float64 {
	out := make([]float64, 0, len(p)/l.species+1)
	for i := species; i < len(p); i += l.species {
		out = append(out, p[i])
	}
	return out
}

// setQ sets the q values of one kind of test.
func (l *ledger) setQ(p []float64, field func(*Finding) (*float64, *QRule)) {
	values := QValues(p)
	for i, line := range l.lines {
		if line >= 0 {
			q, rule := field(&l.findings[line])
			*q, *rule = values[i], ruleOf(p[i])
		}
	}
}

// setLocal sets a local false discovery rate for the findings of a species.
func (l *ledger) setLocal(p []float64, species int, field func(*Finding) *float64) {
	local, _ := LocalFDR(l.own(p, species))
	l.of(species, func(i int, f *Finding) {
		if f != nil {
			*field(f) = local[i/l.species]
		}
	})
}

// doubted reports whether too many findings of a species were tested with a null
// scale in doubt.
func (l *ledger) doubted(species int) bool {
	tests, bad := 0, 0
	l.of(species, func(_ int, f *Finding) {
		if f != nil && !math.IsNaN(f.ExcessP) {
			tests++
			bad += counted(f.ScaleDoubt)
		}
	})
	return bad > 0 && float64(bad) >= minDoubted*float64(tests)
}

// fallBack raises the q values of a species to what the null fitted to its own
// craters allows; with too few tests to fit one they stay.
func (l *ledger) fallBack(p []float64, species int, field func(*Finding) (*float64, *QRule)) {
	rates, null := TailRates(l.own(p, species))
	if !null.Fitted {
		return
	}
	l.of(species, func(i int, f *Finding) {
		if f != nil && !math.IsNaN(p[i]) {
			q, rule := field(f)
			*q, *rule = math.Max(*q, rates[i/l.species]), QRuleEmpirical
		}
	})
}

// shrink sets the expected true score of the excess for the findings of a species.
func (l *ledger) shrink(p []float64, species int) {
	var z []float64
	l.of(species, func(i int, f *Finding) { z = append(z, l.score(i, f, p[i])) })
	prior := FitPrior(z)
	if prior == nil {
		return
	}
	l.of(species, func(i int, f *Finding) {
		if f != nil {
			f.TrueScore = prior.Mean(z[i/l.species])
		}
	})
}

// score is the score that a prior is fitted to: none on a species that a sieve did
// not look at.
func (l *ledger) score(i int, f *Finding, p float64) float64 {
	var quick *QuickP
	sieved := f != nil && f.Status == StatusSieved
	if f != nil {
		quick = f.Quick
	} else {
		k, s := l.bareLine(l.lines[i])
		sieved, quick = l.bare.Status(k) == StatusSieved, l.bare.Quick(k, s)
	}
	if sieved && quick == nil {
		return math.NaN()
	}
	return ScoreOf(p)
}
