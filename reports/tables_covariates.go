package reports

import (
	"iter"
	"math"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

// The table of the covariates: each crater without and with them. It is empty for
// a survey without covariates.

var covariatesTable = table[findingRow]{
	file: "covariates.csv", title: "one row per crater and species measured beside covariate layers: the results without and with them",
	key:     []string{"crater_id", "species"},
	columns: append(covariateHead(), covariateNumbers()...),
}

func covariateHead() []column[findingRow] {
	return []column[findingRow]{
		words("crater_id", docID, func(r findingRow) string { return r.crater.ID }),
		words("name", docName, func(r findingRow) string { return r.crater.Name }),
		words("species", docSpecies, func(r findingRow) string { return r.finding.Species }),
		words("unit", docUnit, func(r findingRow) string { return r.finding.Unit }),
		words("covariates", "layers that were fitted beside the blanket, separated by semicolons; a time of day is two, its cosine and sine", func(r findingRow) string { return strings.Join(r.finding.Layers.Layers, ";") }),
		layerList("slope", "what one unit of each layer changes the species by, near this crater, free ring means and low harmonics beside it; what the map knows of it is counted in; empty when the layers cannot be told apart", func(l *ejecta.LayerEffect) []float64 { return l.Slope }),
		layerList("slope_se", "standard error of each slope", func(l *ejecta.LayerEffect) []float64 { return l.SlopeSE }),
	}
}

func covariateNumbers() []column[findingRow] {
	f := func(name, unit, doc string, get func(*ejecta.LayerEffect) float64) column[findingRow] {
		return amount(name, unit, doc, func(r findingRow) float64 { return get(r.finding.Layers) })
	}
	return []column[findingRow]{
		f("rim_excess_without", "species", "fitted excess at the rim without the covariates", func(l *ejecta.LayerEffect) float64 { return l.Without.RimExcess }),
		f("rim_excess_without_se", "species", "standard error of rim_excess_without", func(l *ejecta.LayerEffect) float64 { return l.Without.RimExcessSE }),
		f("rim_excess_with", "species", "the same with them, as in findings.csv", func(l *ejecta.LayerEffect) float64 { return l.With.RimExcess }),
		f("rim_excess_with_se", "species", "standard error of rim_excess_with, without that of the radius", func(l *ejecta.LayerEffect) float64 { return l.With.RimExcessSE }),
		f("taken_share", "1", "share of the rim excess that all covariates take; empty where there was hardly any", func(l *ejecta.LayerEffect) float64 { return l.TakenShare() }),
		f("direction_p_without", "1", "p of no direction by the harmonics to order 4, without the covariates", func(l *ejecta.LayerEffect) float64 { return l.Without.DirectionP }),
		f("direction_p_with", "1", "the same with them; asymmetry_p of findings.csv is that of all tests", func(l *ejecta.LayerEffect) float64 { return l.With.DirectionP }),
	}
}

// layerList is a number of each covariate, separated by semicolons.
func layerList(name, doc string, get func(*ejecta.LayerEffect) []float64) column[findingRow] {
	return words(name, doc+", separated by semicolons", func(r findingRow) string {
		list := get(r.finding.Layers)
		text := make([]string, len(list))
		for i, v := range list {
			text[i] = number(v)
		}
		return strings.Join(text, ";")
	})
}

func (s *Survey) covariateRows() iter.Seq[findingRow] {
	return func(yield func(findingRow) bool) {
		for row := range s.measuredRows() {
			if row.finding.HasLayers() && !yield(row) {
				return
			}
		}
	}
}

// findingTried lists the columns of what was tried on a finding, and of the rim's
// own shape beside the direction.
func findingTried() []column[findingRow] {
	return []column[findingRow]{
		words("overturned_by", "the other choices under which the verdict would be another, separated by semicolons; see robust_share", func(r findingRow) string { return strings.Join(r.finding.Robust.Overturned, ";") }),
		amount("rim_ratio", "1", "long over short axis of the rim, where the catalogue gives an ellipse; range is then measured in radii of the ellipse", func(r findingRow) float64 { return rimRatio(r.crater) }),
		amount("rim_axis_deg", "deg", "direction of the rim's long axis, 0 to 180 clockwise from north", func(r findingRow) float64 { return rimAxis(r.crater) }),
		amount("axis_from_rim_deg", "deg", "angle between axis_deg and the rim's long axis, 0 to 90", func(r findingRow) float64 { return axisFromRim(r) }),
		count("spikes", "pixels", "single pixels left out, six deviations of the noise from the middle neighbour and three times farther than any", func(r findingRow) int { return r.finding.Spikes }),
	}
}

// rimRatio is how long a rim is; NaN where no ellipse is known.
func rimRatio(c geom.Crater) float64 {
	if !(c.SemiMajor > 0 && c.SemiMinor > 0) {
		return math.NaN()
	}
	return c.SemiMajor / c.SemiMinor
}

// rimAxis is the long axis of a rim that has one.
func rimAxis(c geom.Crater) float64 {
	if !(rimRatio(c) > 1) {
		return math.NaN()
	}
	return math.Mod(math.Mod(c.RimAzimuth, 180)+180, 180)
}

func axisFromRim(r findingRow) float64 {
	if !r.finding.Pattern.Directional() {
		return math.NaN()
	}
	return math.Abs(math.Remainder(r.finding.Axis-rimAxis(r.crater), 180))
}
