package reports

import (
	"iter"
	"slices"

	"rimcast/ejecta"
	"rimcast/geom"
)

// Tables of the controls. They are empty where nobody said who is young.

type (
	pairRow struct {
		young, old geom.Crater
		species    *ejecta.ControlSpecies
		pair       ejecta.PairDifference
	}
	controlRow struct{ *ejecta.ControlSpecies }
)

var controlsTable = table[pairRow]{
	file: "controls.csv", title: "one row per species and pair of a young crater with an old one like it",
	key: []string{"young_id", "species"},
	columns: []column[pairRow]{
		words("young_id", docID+"; the young one", func(r pairRow) string { return r.young.ID }),
		words("young_name", docName, func(r pairRow) string { return r.young.Name }),
		words("old_id", docID+"; the old one", func(r pairRow) string { return r.old.ID }),
		words("old_name", docName, func(r pairRow) string { return r.old.Name }),
		words("species", docSpecies, func(r pairRow) string { return r.species.Species }),
		words("unit", docUnit, func(r pairRow) string { return r.species.Unit }),
		amount("distance", "1", "root mean square difference of the covariates, in standard deviations", func(r pairRow) float64 { return r.pair.Distance }),
		amount("young_excess", "species", "excess of the young crater", func(r pairRow) float64 { return r.pair.YoungExcess }),
		amount("young_excess_se", "species", "standard error of young_excess", func(r pairRow) float64 { return r.pair.YoungSE }),
		amount("old_excess", "species", "excess of the old crater", func(r pairRow) float64 { return r.pair.OldExcess }),
		amount("old_excess_se", "species", "standard error of old_excess", func(r pairRow) float64 { return r.pair.OldSE }),
		amount("difference", "species", "young less old", func(r pairRow) float64 { d, _ := r.pair.Difference(); return d }),
		amount("difference_se", "species", "standard error of difference, from the noise of the map", func(r pairRow) float64 { _, se := r.pair.Difference(); return se }),
	},
}

var controlSummaryTable = table[controlRow]{
	file: "controls-summary.csv", title: "one row per species: are the young craters richer than the old ones beside them",
	key:     []string{"species"},
	columns: controlColumns(),
}

func controlColumns() []column[controlRow] {
	f := func(name, unit, doc string, get func(ejecta.PairedMean) float64) column[controlRow] {
		return amount(name, unit, doc, func(r controlRow) float64 { return get(r.Paired) })
	}
	return []column[controlRow]{
		words("species", docSpecies, func(r controlRow) string { return r.Species }),
		words("unit", docUnit, func(r controlRow) string { return r.Unit }),
		count("pairs", "", "pairs with an excess on both sides", func(r controlRow) int { return r.Paired.Pairs }),
		count("richer", "", "pairs whose young crater has the larger excess", func(r controlRow) int { return r.Paired.Richer }),
		count("poorer", "", "pairs whose young crater has the smaller excess", func(r controlRow) int { return r.Paired.Poorer }),
		f("difference", "species", "mean of young less old, random effects", func(p ejecta.PairedMean) float64 { return p.Mean }),
		f("difference_se", "species", "standard error of difference, from the scatter of the pairs", func(p ejecta.PairedMean) float64 { return p.SE }),
		f("difference_lo95", "species", "lower end of its 95 % interval", func(p ejecta.PairedMean) float64 { return p.Lo }),
		f("difference_hi95", "species", "upper end", func(p ejecta.PairedMean) float64 { return p.Hi }),
		f("difference_p", "1", "two-sided p of no difference", func(p ejecta.PairedMean) float64 { return p.P }),
		f("scatter", "species", "standard deviation of the true differences of the pairs, beyond the noise", func(p ejecta.PairedMean) float64 { return p.Scatter }),
		f("middle", "species", "Hodges-Lehmann estimate of the difference, which no single pair moves", func(p ejecta.PairedMean) float64 { return p.Middle }),
		f("middle_lo95", "species", "lower end of its 95 % interval by signed ranks", func(p ejecta.PairedMean) float64 { return p.MidLo }),
		f("middle_hi95", "species", "upper end", func(p ejecta.PairedMean) float64 { return p.MidHi }),
		f("signed_rank_p", "1", "two-sided p of the signed ranks", func(p ejecta.PairedMean) float64 { return p.WilcoxonP }),
		amount("unmatched_difference", "species", "mean of all young less mean of all old, whatever else differs", func(r controlRow) float64 { return r.Raw }),
		amount("unmatched_difference_se", "species", "standard error of unmatched_difference", func(r controlRow) float64 { return r.RawSE }),
		words("sentence", "the result in words", func(r controlRow) string { return r.Sentence }),
	}
}

var balanceTable = table[ejecta.Balance]{
	file: "controls-balance.csv", title: "one row per covariate: how unlike young and old are, before and after matching",
	key: []string{"covariate"},
	columns: []column[ejecta.Balance]{
		words("covariate", "what the craters are matched on", func(b ejecta.Balance) string { return b.Name }),
		truth("used", "false when it does not vary, or is not known of half of the craters", func(b ejecta.Balance) bool { return b.Used }),
		amount("before", "1", "mean of young less mean of old, in standard deviations, all craters", func(b ejecta.Balance) float64 { return b.Before }),
		amount("after", "1", "the same of the pairs; below 0.1 is common practice", func(b ejecta.Balance) float64 { return b.After }),
	},
}

func (s *Survey) pairRows() iter.Seq[pairRow] {
	return func(yield func(pairRow) bool) {
		for i := range s.Controls.Species {
			c := &s.Controls.Species[i]
			for _, d := range c.Differences {
				if !yield(pairRow{s.crater(d.Young), s.crater(d.Old), c, d}) {
					return
				}
			}
		}
	}
}

func (s *Survey) controlRows() iter.Seq[controlRow] {
	return func(yield func(controlRow) bool) {
		for i := range s.Controls.Species {
			if !yield(controlRow{&s.Controls.Species[i]}) {
				return
			}
		}
	}
}

func (s *Survey) balanceRows() iter.Seq[ejecta.Balance] { return slices.Values(s.Controls.Balance) }
