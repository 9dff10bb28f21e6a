package reports

import (
	"io"
	"path/filepath"
	"slices"

	"rimcast/ejecta"
)

// Comparison is two results side by side: what its tables and figures show.
type Comparison struct {
	NameA, NameB string // how the results are called
	Rows         []ComparedCrater
	Agreements   []ejecta.Agreement
}

// ComparedCrater is one crater and species in two results.
type ComparedCrater struct {
	ID, Name string
	ejecta.Change
	Departure ejecta.Departure
}

var compareTable = table[ComparedCrater]{
	file: "compare.csv", title: "one row per crater and species that both results have",
	key:     []string{"crater_id", "species"},
	columns: slices.Concat(compareNumbers(), compareWords()),
}

func compareNumbers() []column[ComparedCrater] {
	f := func(name, unit, doc string, get func(*ComparedCrater) float64) column[ComparedCrater] {
		return amount(name, unit, doc, func(r ComparedCrater) float64 { return get(&r) })
	}
	return []column[ComparedCrater]{
		words("crater_id", docID, func(r ComparedCrater) string { return r.ID }),
		words("name", docName, func(r ComparedCrater) string { return r.Name }),
		words("species", docSpecies, func(r ComparedCrater) string { return r.Species }),
		words("unit", docUnit, func(r ComparedCrater) string { return r.Unit }),
		f("excess_a", "species", "excess in A", func(r *ComparedCrater) float64 { return r.ExcessA }),
		f("excess_a_se", "species", "standard error of excess_a", func(r *ComparedCrater) float64 { return r.ExcessSEA }),
		f("excess_b", "species", "excess in B", func(r *ComparedCrater) float64 { return r.ExcessB }),
		f("excess_b_se", "species", "standard error of excess_b", func(r *ComparedCrater) float64 { return r.ExcessSEB }),
		f("difference", "species", "B less A", func(r *ComparedCrater) float64 { return r.Difference }),
		f("difference_se", "species", "standard error of difference, with the correlation of the errors that was given", func(r *ComparedCrater) float64 { return r.DifferenceSE }),
		f("departure_sigma", "1", "difference less the bias of all craters, over difference_se", func(r *ComparedCrater) float64 { return r.Departure.Sigma }),
		f("departure_p", "1", "two-sided p of no departure", func(r *ComparedCrater) float64 { return r.Departure.P }),
		f("departure_q", "1", "false-discovery rate at which departure_p would be accepted", func(r *ComparedCrater) float64 { return r.Departure.Q }),
		f("axis_change_deg", "deg", "axis in B less axis in A, the short way round; empty unless both have a direction", func(r *ComparedCrater) float64 { return r.AxisChange }),
		f("axis_change_se_deg", "deg", "standard error of axis_change_deg", func(r *ComparedCrater) float64 { return r.AxisChangeSE }),
		f("importance", "1", "what changed in one number: sigma of the differences, and words that changed", func(r *ComparedCrater) float64 { return r.Importance }),
	}
}

func compareWords() []column[ComparedCrater] {
	w := func(name, doc string, get func(*ComparedCrater) string) column[ComparedCrater] {
		return words(name, doc, func(r ComparedCrater) string { return get(&r) })
	}
	return []column[ComparedCrater]{
		w("status_a", docStatus+", in A", func(r *ComparedCrater) string { return string(r.StatusA) }),
		w("status_b", docStatus+", in B", func(r *ComparedCrater) string { return string(r.StatusB) }),
		w("verdict_a", "verdict word in A", func(r *ComparedCrater) string { return r.VerdictA }),
		w("verdict_b", "verdict word in B", func(r *ComparedCrater) string { return r.VerdictB }),
		w("pattern_a", "pattern in A", func(r *ComparedCrater) string { return string(r.PatternA) }),
		w("pattern_b", "pattern in B", func(r *ComparedCrater) string { return string(r.PatternB) }),
		w("why", "what changed, in words, separated by semicolons", func(r *ComparedCrater) string { return joinWords(r.Why) }),
	}
}

var agreementTable = table[ejecta.Agreement]{
	file: "agreement.csv", title: "one row per species: do the two results agree",
	key:     []string{"species"},
	columns: agreementColumns(),
}

func agreementColumns() []column[ejecta.Agreement] {
	f := func(name, unit, doc string, get func(*ejecta.Agreement) float64) column[ejecta.Agreement] {
		return amount(name, unit, doc, func(g ejecta.Agreement) float64 { return get(&g) })
	}
	return []column[ejecta.Agreement]{
		words("species", docSpecies, func(g ejecta.Agreement) string { return g.Species }),
		words("unit", docUnit, func(g ejecta.Agreement) string { return g.Unit }),
		count("pairs", "", "craters with an excess and an error in both", func(g ejecta.Agreement) int { return g.Pairs }),
		f("correlation", "1", "of the errors, as given", func(g *ejecta.Agreement) float64 { return g.Correlation }),
		f("bias", "species", "weighted mean of B less A", func(g *ejecta.Agreement) float64 { return g.Bias }),
		f("bias_se", "species", "standard error of bias", func(g *ejecta.Agreement) float64 { return g.BiasSE }),
		f("median_difference", "species", "median of B less A", func(g *ejecta.Agreement) float64 { return g.MedianDifference }),
		f("slope", "1", "of B over A, with errors in both", func(g *ejecta.Agreement) float64 { return g.Line.Slope }),
		f("slope_se", "1", "standard error of slope", func(g *ejecta.Agreement) float64 { return g.Line.SlopeSE }),
		f("intercept", "species", "of the same line", func(g *ejecta.Agreement) float64 { return g.Line.Intercept }),
		f("intercept_se", "species", "standard error of intercept", func(g *ejecta.Agreement) float64 { return g.Line.InterceptSE }),
		f("chi2", "1", "of the differences about the bias, with one degree of freedom less than pairs", func(g *ejecta.Agreement) float64 { return g.Chi2 }),
		f("chi2_p", "1", "p of a larger chi2 if the errors are as stated", func(g *ejecta.Agreement) float64 { return g.P }),
		f("scatter", "1", "robust scatter of the differences over their errors; 1 is as stated", func(g *ejecta.Agreement) float64 { return g.Scatter }),
		f("beyond_2", "1", "share of the craters beyond two errors from the bias; 0.046 is expected", func(g *ejecta.Agreement) float64 { return g.Beyond2 }),
		f("implied_correlation", "1", "correlation of the errors that would make the scatter as stated", func(g *ejecta.Agreement) float64 { return g.Implied }),
		words("sentence", "the result in words", func(g ejecta.Agreement) string { return g.Sentence() }),
	}
}

const compareText = "Tables of two results side by side, A and B. A cell without a value is empty and the status columns say why. " +
	"A unit of \"species\" means the unit named in the row. Text that a spreadsheet would run as a formula has one apostrophe in front."

// WriteComparison writes tables, their schema and the figures of a comparison
// into a directory, which must exist.
func WriteComparison(dir string, c *Comparison, formats []string) error {
	for _, f := range []file{
		{compareTable.file, func(w io.Writer) error { return compareTable.write(w, slices.Values(c.Rows)) }},
		{agreementTable.file, func(w io.Writer) error { return agreementTable.write(w, slices.Values(c.Agreements)) }},
		{"schema.json", func(w io.Writer) error {
			return writeJSON(w, schemaFile{compareText, []schemaResource{resource(compareTable), resource(agreementTable)}})
		}},
	} {
		if err := writeFile(filepath.Join(dir, f.name), f.write); err != nil {
			return err
		}
	}
	for _, f := range ComparisonFigures(c) {
		if err := WriteFigure(filepath.Join(dir, "figures"), f, formats); err != nil {
			return err
		}
	}
	return nil
}

// ComparisonFigures are one figure for each species with enough craters.
func ComparisonFigures(c *Comparison) []Figure {
	return present(func(add func(Figure, bool)) {
		for i := range c.Agreements {
			add(agreementFigure(c, i))
		}
	})
}
