package reports

import (
	"math"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

// Descriptions that several tables share.
const (
	docID      = "crater id as written in the catalogue; joins all tables and overlays"
	docName    = "crater name, empty when the catalogue gives none"
	docLon     = "longitude of the centre, east positive, -180 to 180"
	docLat     = "planetocentric latitude of the centre"
	docRadius  = "rim radius"
	docSpecies = "name of the mapped quantity"
	docUnit    = "unit of every column whose unit is given as species"
	docStatus  = "ok, or why a number is missing"
)

var findingsTable = table[findingRow]{
	file: "findings.csv", title: "one row per crater and species",
	key:     []string{"crater_id", "species"},
	columns: append(append(findingContract(), findingExtra()...), findingTried()...),
}

// findingContract lists the columns of the file contract, in its order.
func findingContract() []column[findingRow] {
	f := func(get func(*ejecta.Finding) float64) func(findingRow) float64 {
		return func(r findingRow) float64 { return get(r.finding) }
	}
	return []column[findingRow]{
		words("crater_id", docID, func(r findingRow) string { return r.crater.ID }),
		words("name", docName, func(r findingRow) string { return r.crater.Name }),
		angle("lon_deg", docLon, func(r findingRow) float64 { return eastLongitude(r.crater.Centre.Lon) }),
		angle("lat_deg", docLat, func(r findingRow) float64 { return r.crater.Centre.Lat }),
		amount("radius_m", "m", docRadius, func(r findingRow) float64 { return r.crater.Radius }),
		words("species", docSpecies, func(r findingRow) string { return r.finding.Species }),
		words("unit", docUnit, func(r findingRow) string { return r.finding.Unit }),
		words("status", docStatus, func(r findingRow) string { return string(r.finding.Status) }),
		count("pixels", "pixels", "valid pixels within the rings", func(r findingRow) int { return r.finding.Pixels }),
		amount("coverage", "1", "valid share of the ejecta range, 0 to 1", f(func(f *ejecta.Finding) float64 { return f.Coverage })),
		amount("n_eff", "samples", "effective number of independent samples in the ejecta range", f(func(f *ejecta.Finding) float64 { return f.NEff })),
		amount("background", "species", "level the species would have at the centre without the crater", f(func(f *ejecta.Finding) float64 { return f.Background })),
		amount("background_se", "species", "standard error of background", f(func(f *ejecta.Finding) float64 { return f.BackgroundSE })),
		amount("excess", "species", "area mean over 1.1 to 2.5 crater radii, less background; from where the rings of a small crater begin the shape of the blanket carries it in to 1.1", f(func(f *ejecta.Finding) float64 { return f.Excess })),
		amount("excess_se", "species", "standard error of excess under correlated noise", f(func(f *ejecta.Finding) float64 { return f.ExcessSE })),
		amount("excess_p", "1", "one-sided p that there is no blanket: of the blanket fitted to all rings, which tells more than excess and its error", f(func(f *ejecta.Finding) float64 { return f.ExcessP })),
		amount("excess_q", "1", "false-discovery rate at which excess_p would be accepted", f(func(f *ejecta.Finding) float64 { return f.ExcessQ })),
		amount("rim_excess", "species", "fitted excess at the rim, averaged over azimuth", f(func(f *ejecta.Finding) float64 { return f.RimExcess })),
		amount("rim_excess_se", "species", "standard error of rim_excess", f(func(f *ejecta.Finding) float64 { return f.RimExcessSE })),
		amount("decay_exponent", "1", "exponent b of excess = rim_excess * range^-b", f(func(f *ejecta.Finding) float64 { return f.Decay })),
		amount("decay_exponent_se", "1", "standard error of decay_exponent", f(func(f *ejecta.Finding) float64 { return f.DecaySE })),
		amount("extent_radii", "crater radii", "range at which the excess can no longer be told from background", f(func(f *ejecta.Finding) float64 { return f.Extent })),
		words("pattern", "none, symmetric, one-sided, bilateral, rays or gap; empty when not tested", func(r findingRow) string { return string(r.finding.Pattern) }),
		amount("asymmetry", "1", "amplitude that changes with azimuth, relative to the symmetric part", f(func(f *ejecta.Finding) float64 { return f.Asymmetry })),
		amount("asymmetry_se", "1", "standard error of asymmetry", f(func(f *ejecta.Finding) float64 { return f.AsymmetrySE })),
		amount("asymmetry_p", "1", "p of no direction given the noise model", f(func(f *ejecta.Finding) float64 { return f.AsymmetryP })),
		amount("asymmetry_q", "1", "false-discovery rate at which asymmetry_p would be accepted", f(func(f *ejecta.Finding) float64 { return f.AsymmetryQ })),
		amount("axis_deg", "deg", "clockwise from north: direction of the lobe (one-sided), axis 0 to 180 (bilateral), strongest ray (rays), middle of the gap (gap)", f(func(f *ejecta.Finding) float64 { return f.Axis })),
		amount("axis_se_deg", "deg", "standard error of axis_deg", f(func(f *ejecta.Finding) float64 { return f.AxisSE })),
		amount("detectable_50", "species", "rim excess that would be found half the time at p < 0.001", f(func(f *ejecta.Finding) float64 { return f.Detectable50 })),
		amount("detectable_95", "species", "rim excess that would be found 95 times in 100 at p < 0.001", f(func(f *ejecta.Finding) float64 { return f.Detectable95 })),
		amount("upper_limit_95", "species", "one-sided 95 % upper limit of rim_excess; of a blanket with exponent 3 where nothing is seen, with the exponent left open from a signal to noise of 2", f(func(f *ejecta.Finding) float64 { return f.UpperLimit95 })),
		words("alarms", "names of the alarms that were raised, separated by semicolons", func(r findingRow) string { return strings.Join(r.finding.RaisedAlarms(), ";") }),
	}
}

// findingExtra lists the columns beyond the contract.
func findingExtra() []column[findingRow] {
	f := func(get func(*ejecta.Finding) float64) func(findingRow) float64 {
		return func(r findingRow) float64 { return get(r.finding) }
	}
	return []column[findingRow]{
		amount("pixels_per_radius", "pixels", "rim radius in pixels", f(func(f *ejecta.Finding) float64 { return f.PixelsPer })),
		amount("mask_share", "1", "share of the rings masked because of neighbours", f(func(f *ejecta.Finding) float64 { return f.MaskShare })),
		amount("rim_excess_lo95", "species", "lower end of the 95 % interval of rim_excess", f(func(f *ejecta.Finding) float64 { return f.RimExcess95[0] })),
		amount("rim_excess_hi95", "species", "upper end of the 95 % interval of rim_excess", f(func(f *ejecta.Finding) float64 { return f.RimExcess95[1] })),
		amount("decay_lo95", "1", "lower end of the 95 % interval of the exponent, for weaker signals than decay_exponent", f(func(f *ejecta.Finding) float64 { return f.Decay95[0] })),
		amount("decay_hi95", "1", "upper end of the 95 % interval of the exponent, for weaker signals than decay_exponent", f(func(f *ejecta.Finding) float64 { return f.Decay95[1] })),
		words("runner_up", "pattern that came second", func(r findingRow) string { return string(r.finding.RunnerUp) }),
		amount("pattern_lead", "1", "score by which the pattern beats the runner-up", f(func(f *ejecta.Finding) float64 { return f.PatternLead })),
		truth("ambiguous", "true when the lead is too small to choose between the two patterns", func(r findingRow) bool { return r.finding.Ambiguous }),
		words("axis_95_deg", "95 % intervals of axis_deg as lo/hi clockwise, separated by semicolons", func(r findingRow) string { return intervals(r.finding.Axis95) }),
		amount("gap_width_deg", "deg", "width of the gap", f(func(f *ejecta.Finding) float64 { return zeroAsMissing(f.GapWidth) })),
		count("lobes", "lobes", "number of directions in which the excess leaves the crater", func(r findingRow) int { return len(r.finding.Lobes) }),
		amount("local_fdr", "1", "probability that the excess is not real, given the catalogue; no smaller than even odds before the measurement allow", f(func(f *ejecta.Finding) float64 { return f.LocalFDR })),
		amount("envelope_95", "species", "half-width of the excess that all sectors keep to 95 times in 100 by chance", f(func(f *ejecta.Finding) float64 { return f.Envelope })),
		words("note", "the reason in words when status is not ok", func(r findingRow) string { return r.finding.Note }),
		words("verdict", "one sentence", func(r findingRow) string { return r.finding.Verdict }),
		amount("thermal_share", "1", "share of the rim excess that temperatures and times of day take when fitted beside it", f(func(f *ejecta.Finding) float64 { return f.ThermalShare })),
		amount("robust_share", "1", "share of other choices (rings, centre, decay, estimator, layers) under which the verdict stays; empty without a claim", f(func(f *ejecta.Finding) float64 { return f.Robust.Share() })),
		words("epoch", docEpoch+"; part of the name in species", func(r findingRow) string { return r.finding.Epoch }),
		amount("excess_shrunk", "species", "excess without the winner's curse: drawn back by what the catalogue says of true scores; empty in a small catalogue", f(func(f *ejecta.Finding) float64 { return zeroAsMissing(f.ExcessShrunk()) })),
		words("excess_q_rule", "how excess_q was made: bh (Benjamini and Hochberg over the survey), or empirical_null (raised to what a null fitted to the craters of the species allows, because the null scale is in doubt)", func(r findingRow) string { return string(r.finding.ExcessQRule) }),
		words("asymmetry_q_rule", "the same for asymmetry_q", func(r findingRow) string { return string(r.finding.DirectionQRule) }),
		lobeList("lobe_azimuth_deg", "directions in which the excess leaves the crater, clockwise from north", func(l ejecta.Lobe) float64 { return l.Azimuth }),
		lobeList("lobe_width_deg", "their full widths at half height; 23 is the narrowest that is told apart", func(l ejecta.Lobe) float64 { return l.Width }),
		lobeList("lobe_rim_excess", "their excess at the rim, in the unit of the species", func(l ejecta.Lobe) float64 { return l.Amplitude }),
		lobeList("lobe_reach_radii", "how far each is seen, crater radii; empty where it is too faint to follow", func(l ejecta.Lobe) float64 { return l.Reach }),
		amount("quick_excess_p", "1", "one-sided p of an excess by the quick look of the sieve, on the scale of all looks; empty without one", f(func(f *ejecta.Finding) float64 { return quickOf(f).Excess })),
		amount("quick_direction_p", "1", "p of no direction by the quick look of the sieve, on the scale of all looks; empty without one", f(func(f *ejecta.Finding) float64 { return quickOf(f).Direction })),
	}
}

// quickOf is the quick look at a crater, NaN without one.
func quickOf(f *ejecta.Finding) ejecta.QuickP {
	if f.Quick == nil {
		return ejecta.NoQuickP()
	}
	return *f.Quick
}

var contrastsTable = table[contrastRow]{
	file: "contrasts.csv", title: "one row per crater and pair of species",
	key: []string{"crater_id", "species_a", "species_b"},
	columns: []column[contrastRow]{
		words("crater_id", docID, func(r contrastRow) string { return r.crater.ID }),
		words("species_a", "first species", func(r contrastRow) string { return r.contrast.SpeciesA }),
		words("species_b", "second species", func(r contrastRow) string { return r.contrast.SpeciesB }),
		amount("contrast_p", "1", "p of both species having the same directional pattern", func(r contrastRow) float64 { return r.contrast.P }),
		amount("contrast_q", "1", "false-discovery rate at which contrast_p would be accepted", func(r contrastRow) float64 { return r.contrast.Q }),
		amount("axis_difference_deg", "deg", "axis of b less axis of a; empty unless both have a direction", func(r contrastRow) float64 { return r.contrast.AxisDifference }),
		amount("axis_difference_se_deg", "deg", "standard error of axis_difference_deg", func(r contrastRow) float64 { return r.contrast.AxisDifferenceSE }),
		words("status", docStatus, func(r contrastRow) string { return string(r.contrast.Status) }),
		amount("statistic", "1", "chi-square with 4 degrees of freedom", func(r contrastRow) float64 { return r.contrast.Statistic }),
		amount("amplitude_ratio", "unit of b per unit of a", "fitted amplitude of b over a", func(r contrastRow) float64 { return r.contrast.AmplitudeRatio }),
		amount("upper_limit_a", "unit of a", "95 % upper limit of the directional amplitude of a", func(r contrastRow) float64 { return r.contrast.UpperLimitA }),
		amount("upper_limit_b", "unit of b", "95 % upper limit of the directional amplitude of b", func(r contrastRow) float64 { return r.contrast.UpperLimitB }),
		words("sentence", "the comparison in words", func(r contrastRow) string { return r.contrast.Sentence }),
	},
}

var targetsTable = table[targetRow]{
	file: "targets.csv", title: "one row per crater, best first",
	key: []string{"crater_id"},
	columns: append([]column[targetRow]{
		count("rank", "", "1 is the best", func(r targetRow) int { return r.target.Rank }),
		words("crater_id", docID, func(r targetRow) string { return r.crater.ID }),
		words("name", docName, func(r targetRow) string { return r.crater.Name }),
		angle("lon_deg", docLon, func(r targetRow) float64 { return eastLongitude(r.crater.Centre.Lon) }),
		angle("lat_deg", docLat, func(r targetRow) float64 { return r.crater.Centre.Lat }),
		angle("lon_west_deg", "the same longitude, west positive, 0 to 360", func(r targetRow) float64 { return westLongitude(r.crater.Centre.Lon) }),
		amount("radius_m", "m", docRadius, func(r targetRow) float64 { return r.crater.Radius }),
		amount("score", "1", "sum of the components", func(r targetRow) float64 { return r.target.Score }),
		count("rank_lo", "", "best rank in repeated measurements, 5 of 100 are better", func(r targetRow) int { return r.target.RankLo }),
		count("rank_hi", "", "worst rank in repeated measurements, 5 of 100 are worse", func(r targetRow) int { return r.target.RankHi }),
		amount("p_top10", "1", "share of the repeated measurements in which the crater is among the ten best", func(r targetRow) float64 { return r.target.PTop10 }),
		words("verdict", "one sentence", func(r targetRow) string { return r.target.Verdict }),
		words("why", "what put the crater at this rank", func(r targetRow) string { return r.target.Why }),
		words("components", "parts of the score as name=value, separated by semicolons", func(r targetRow) string { return components(r.target.Components) }),
	}, targetHonest()...),
}

var radialTable = table[ringRow]{
	file: "radial.csv", title: "one row per crater, species and ring",
	key: []string{"crater_id", "species", "ring"},
	columns: []column[ringRow]{
		words("crater_id", docID, func(r ringRow) string { return r.crater.ID }),
		words("species", docSpecies, func(r ringRow) string { return r.finding.Species }),
		words("unit", docUnit, func(r ringRow) string { return r.finding.Unit }),
		count("ring", "", "number of the ring from the inside, from 0", func(r ringRow) int { return r.k }),
		amount("rho_lo", "crater radii", "inner edge", func(r ringRow) float64 { return r.ring.RhoLo }),
		amount("rho_hi", "crater radii", "outer edge", func(r ringRow) float64 { return r.ring.RhoHi }),
		amount("mean", "species", "area mean of the species", func(r ringRow) float64 { return r.ring.Mean }),
		amount("se", "species", "standard error of mean and excess", func(r ringRow) float64 { return r.ring.SE }),
		amount("excess", "species", "mean less background", func(r ringRow) float64 { return r.ring.Excess }),
		amount("model", "species", "fitted blanket plus background; empty outside the fit", func(r ringRow) float64 { return r.ring.Model }),
		count("pixels", "pixels", "valid pixels", func(r ringRow) int { return r.ring.Pixels }),
		amount("coverage", "1", "valid share of the ring, 0 to 1", func(r ringRow) float64 { return r.ring.Coverage }),
	},
}

var azimuthalTable = table[sectorRow]{
	file: "azimuthal.csv", title: "one row per crater, species and sector",
	key: []string{"crater_id", "species", "sector"},
	columns: []column[sectorRow]{
		words("crater_id", docID, func(r sectorRow) string { return r.crater.ID }),
		words("species", docSpecies, func(r sectorRow) string { return r.finding.Species }),
		words("unit", docUnit, func(r sectorRow) string { return r.finding.Unit }),
		count("sector", "", "number of the sector clockwise from north, from 0", func(r sectorRow) int { return r.k }),
		amount("az_lo_deg", "deg", "first edge, clockwise from north", func(r sectorRow) float64 { return r.sector.AzLo }),
		amount("az_hi_deg", "deg", "second edge", func(r sectorRow) float64 { return r.sector.AzHi }),
		amount("excess", "species", "area mean over 1.1 to 2.5 crater radii, less background", func(r sectorRow) float64 { return r.sector.Mean }),
		amount("se", "species", "standard error of excess", func(r sectorRow) float64 { return r.sector.SE }),
		count("pixels", "pixels", "valid pixels", func(r sectorRow) int { return r.sector.Pixels }),
		amount("coverage", "1", "valid share of the sector, 0 to 1", func(r sectorRow) float64 { return r.sector.Coverage }),
	},
}

var alarmsTable = table[alarmRow]{
	file: "alarms.csv", title: "one row per crater, species and alarm, raised or not",
	key: []string{"crater_id", "species", "alarm"},
	columns: []column[alarmRow]{
		words("crater_id", docID, func(r alarmRow) string { return r.crater.ID }),
		words("species", docSpecies, func(r alarmRow) string { return r.finding.Species }),
		words("alarm", "name of the alarm", func(r alarmRow) string { return r.alarm.Name }),
		words("state", "raised, clear or not_run", func(r alarmRow) string { return alarmState(r.alarm) }),
		truth("raised", "true when the alarm fired", func(r alarmRow) bool { return r.alarm.Raised }),
		amount("value", "see unit", "the number behind the alarm", func(r alarmRow) float64 { return r.alarm.Value }),
		amount("limit", "see unit", "the number it is compared with", func(r alarmRow) float64 { return r.alarm.Limit }),
		words("unit", "unit of value and limit", func(r alarmRow) string { return r.alarm.Unit }),
		words("not_run", "why the alarm could not run, such as the layer it needs; empty when it ran", func(r alarmRow) string { return r.alarm.NotRun }),
		words("detail", "one sentence", func(r alarmRow) string { return r.alarm.Detail }),
	},
}

var refusedTable = table[geom.Refusal]{
	file: "refused.csv", title: "one row per catalogue entry that cannot be screened",
	key: []string{"feature"},
	columns: []column[geom.Refusal]{
		count("feature", "", "position in the catalogue file, from 0", func(r geom.Refusal) int { return r.Index }),
		words("crater_id", docID, func(r geom.Refusal) string { return r.ID }),
		words("reason", "why it cannot be screened", func(r geom.Refusal) string { return r.Reason }),
	},
}

// alarmState is the state of an alarm in one word.
func alarmState(a ejecta.Alarm) string {
	switch {
	case a.NotRun != "":
		return "not_run"
	case a.Raised:
		return "raised"
	}
	return "clear"
}

// lobeList is a column with one number of each lobe, separated by semicolons.
func lobeList(name, doc string, get func(ejecta.Lobe) float64) column[findingRow] {
	return words(name, doc+", separated by semicolons", func(r findingRow) string {
		parts := make([]string, len(r.finding.Lobes))
		for i, l := range r.finding.Lobes {
			parts[i] = number(get(l))
		}
		return strings.Join(parts, ";")
	})
}

// intervals writes directions as lo/hi pairs.
func intervals(list []ejecta.Interval) string {
	parts := make([]string, len(list))
	for i, iv := range list {
		parts[i] = number(iv.Lo) + "/" + number(iv.Hi)
	}
	return strings.Join(parts, ";")
}

// components writes the parts of a score.
func components(list []ejecta.Component) string {
	parts := make([]string, len(list))
	for i, c := range list {
		parts[i] = c.Name + "=" + number(c.Value)
	}
	return strings.Join(parts, ";")
}

// zeroAsMissing is for fields whose zero value means that there is none.
func zeroAsMissing(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}
