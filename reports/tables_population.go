package reports

import (
	"fmt"
	"iter"

	"rimcast/ejecta"
)

// populationRow is one group of craters of one species.
type populationRow struct {
	species, unit string
	group         ejecta.PopulationGroup
	selection     string
}

// PopulationOf groups the measured craters of a species of the survey.
func (s *Survey) PopulationOf(species string) []ejecta.PopulationGroup {
	var list []ejecta.Member
	for i := range s.Findings {
		f := &s.Findings[i]
		if f.Species == species {
			c := s.crater(f.CraterIndex)
			list = append(list, ejecta.Member{Radius: c.Radius, Latitude: c.Centre.Lat, Age: c.Age, Freshness: c.Freshness, Class: c.Class, Finding: f})
		}
	}
	return ejecta.Population(list)
}

func (s *Survey) populationRows() iter.Seq[populationRow] {
	return func(yield func(populationRow) bool) {
		for _, sp := range s.Species {
			selection := s.selectionOf(sp.Name)
			for _, g := range s.PopulationOf(sp.Name) {
				if !yield(populationRow{sp.Name, sp.Unit, g, selection}) {
					return
				}
			}
		}
	}
}

// selectionOf says which craters of the catalogue are in the groups.
func (s *Survey) selectionOf(species string) string {
	n, alarmed := 0, 0
	for i := range s.Findings {
		f := &s.Findings[i]
		if f.Species != species || !f.Status.Measured() {
			continue
		}
		n++
		if len(f.RaisedAlarms()) > 0 {
			alarmed++
		}
	}
	return fmt.Sprintf("measured craters, %d of %d in the catalogue; %d with a raised alarm are in it; not matched in anything else", n, len(s.Catalogue.Craters), alarmed)
}

var populationTable = table[populationRow]{
	file: "population.csv", title: "one row per species and group of craters that are alike in one property",
	key:     []string{"species", "property", "class", "lo"},
	columns: populationColumns(),
}

func populationColumns() []column[populationRow] {
	g := func(get func(*ejecta.PopulationGroup) float64) func(populationRow) float64 {
		return func(r populationRow) float64 { return get(&r.group) }
	}
	return []column[populationRow]{
		words("species", docSpecies, func(r populationRow) string { return r.species }),
		words("unit", docUnit, func(r populationRow) string { return r.unit }),
		words("property", "size (rim diameter), excavation_depth (a tenth of 0.84 diameters), latitude (without its sign), age, freshness or class of the catalogue", func(r populationRow) string { return r.group.Property }),
		words("property_unit", "unit of lo, middle and hi", func(r populationRow) string { return r.group.Unit }),
		words("class", "class of the catalogue, for property class", func(r populationRow) string { return r.group.Class }),
		amount("lo", "see property_unit", "least of the group", g(func(g *ejecta.PopulationGroup) float64 { return g.Lo })),
		amount("middle", "see property_unit", "median of the group", g(func(g *ejecta.PopulationGroup) float64 { return g.Middle })),
		amount("hi", "see property_unit", "largest of the group", g(func(g *ejecta.PopulationGroup) float64 { return g.Hi })),
		count("craters", "craters", "number in the group", func(r populationRow) int { return r.group.N }),
		amount("rich", "craters", "expected number with a real excess: the sum of one less local_fdr", g(func(g *ejecta.PopulationGroup) float64 { return g.Rich })),
		amount("rich_share", "1", "rich over craters", g(func(g *ejecta.PopulationGroup) float64 { return g.Rich / float64(g.N) })),
		amount("rich_share_lo95", "1", "lower end of its 95 % interval", g(func(g *ejecta.PopulationGroup) float64 { return g.RichLo })),
		amount("rich_share_hi95", "1", "upper end", g(func(g *ejecta.PopulationGroup) float64 { return g.RichHi })),
		count("claimed", "craters", "number whose excess passes the level of the survey", func(r populationRow) int { return r.group.Claimed }),
		amount("mean_excess", "species", "mean of excess over the craters, each alike", g(func(g *ejecta.PopulationGroup) float64 { return g.MeanExcess })),
		amount("mean_excess_se", "species", "its standard error, from the scatter between the craters", g(func(g *ejecta.PopulationGroup) float64 { return g.MeanExcessSE })),
		amount("median_excess", "species", "median of excess", g(func(g *ejecta.PopulationGroup) float64 { return g.MedianExcess })),
		amount("directed_share", "1", "share with a direction that has a name", g(func(g *ejecta.PopulationGroup) float64 { return g.DirectedShare })),
		amount("alarmed_share", "1", "share with a raised alarm; they are in the numbers", g(func(g *ejecta.PopulationGroup) float64 { return g.AlarmedShare })),
		amount("rank_correlation", "1", "Spearman's, of excess and property over all groups", g(func(g *ejecta.PopulationGroup) float64 { return g.RankCorr })),
		amount("rank_correlation_p", "1", "two-sided p of it; for each property by itself", g(func(g *ejecta.PopulationGroup) float64 { return g.RankCorrP })),
		words("selection", "which craters are in the groups", func(r populationRow) string { return r.selection }),
	}
}
