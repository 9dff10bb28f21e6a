package reports

import (
	"iter"

	"rimcast/ejecta"
	"rimcast/geom"
)

// Tables of the times of day. They are empty for a survey that maps each species
// once.

type (
	epochRow struct {
		crater geom.Crater
		epoch  *ejecta.EpochFinding
	}
	persistenceRow struct {
		crater  geom.Crater
		persist *ejecta.Persistence
	}
)

const docEpoch = "time of day or campaign of the map, as the survey names it"

var epochsTable = table[epochRow]{
	file: "epochs.csv", title: "one row per crater, species and time of day, all on the ground that every time of day shows",
	key:     []string{"crater_id", "species", "epoch"},
	columns: append(epochHead(), epochNumbers()...),
}

func epochHead() []column[epochRow] {
	return []column[epochRow]{
		words("crater_id", docID, func(r epochRow) string { return r.crater.ID }),
		words("name", docName, func(r epochRow) string { return r.crater.Name }),
		words("species", docSpecies+", without the time of day", func(r epochRow) string { return r.epoch.Species }),
		words("epoch", docEpoch, func(r epochRow) string { return r.epoch.Epoch }),
		words("unit", docUnit, func(r epochRow) string { return r.epoch.Unit }),
		words("status", docStatus, func(r epochRow) string { return string(r.epoch.Status) }),
		words("pattern", "pattern on the common ground; empty when not tested", func(r epochRow) string { return string(r.epoch.Pattern) }),
		count("pixels", "pixels", "valid pixels of the common ground within the rings", func(r epochRow) int { return r.epoch.Pixels }),
		words("note", "the reason in words when status is not ok", func(r epochRow) string { return r.epoch.Note }),
	}
}

func epochNumbers() []column[epochRow] {
	f := func(name, unit, doc string, get func(*ejecta.EpochFinding) float64) column[epochRow] {
		return amount(name, unit, doc, func(r epochRow) float64 { return get(r.epoch) })
	}
	return []column[epochRow]{
		f("local_time_h", "h", "local time, 0 to 24, averaged as an angle; empty when the survey does not tell", func(e *ejecta.EpochFinding) float64 { return e.LocalTime }),
		f("sun_azimuth_deg", "deg", "azimuth of the sun, clockwise from north: of a layer, or from the local time", func(e *ejecta.EpochFinding) float64 { return e.SunAzimuth }),
		f("coverage", "1", "share of the ejecta range that all times of day show, 0 to 1", func(e *ejecta.EpochFinding) float64 { return e.Coverage }),
		f("own_coverage", "1", "share of the ejecta range that this time of day shows", func(e *ejecta.EpochFinding) float64 { return e.OwnCoverage }),
		f("background", "species", "level the species would have at the centre without the crater", func(e *ejecta.EpochFinding) float64 { return e.Background }),
		f("background_se", "species", "standard error of background", func(e *ejecta.EpochFinding) float64 { return e.BackgroundSE }),
		f("excess", "species", "area mean over 1.1 to 2.5 crater radii, less background", func(e *ejecta.EpochFinding) float64 { return e.Excess }),
		f("excess_se", "species", "standard error of excess", func(e *ejecta.EpochFinding) float64 { return e.ExcessSE }),
		f("excess_p", "1", "one-sided p of excess at this time of day", func(e *ejecta.EpochFinding) float64 { return e.ExcessP }),
		f("own_excess", "species", "excess on all the ground of this time of day, as in findings.csv", func(e *ejecta.EpochFinding) float64 { return e.OwnExcess }),
		f("rim_excess", "species", "fitted excess at the rim with this time's own decay exponent", func(e *ejecta.EpochFinding) float64 { return e.RimExcess }),
		f("rim_excess_se", "species", "standard error of rim_excess", func(e *ejecta.EpochFinding) float64 { return e.RimExcessSE }),
		f("blanket", "species", "rim excess for one decay exponent at all times of day: the amplitude that persistence.csv compares", func(e *ejecta.EpochFinding) float64 { return e.Blanket }),
		f("blanket_se", "species", "standard error of blanket at that exponent", func(e *ejecta.EpochFinding) float64 { return e.BlanketSE }),
		f("blanket_exponent", "1", "decay exponent of blanket", func(e *ejecta.EpochFinding) float64 { return e.BlanketExponent }),
		f("asymmetry", "1", "amplitude that changes with azimuth, relative to the symmetric part", func(e *ejecta.EpochFinding) float64 { return e.Asymmetry }),
		f("asymmetry_se", "1", "standard error of asymmetry", func(e *ejecta.EpochFinding) float64 { return e.AsymmetrySE }),
		f("asymmetry_p", "1", "p of no direction at this time of day", func(e *ejecta.EpochFinding) float64 { return e.AsymmetryP }),
		f("axis_deg", "deg", "direction of the pattern, as in findings.csv", func(e *ejecta.EpochFinding) float64 { return e.Axis }),
		f("axis_se_deg", "deg", "standard error of axis_deg", func(e *ejecta.EpochFinding) float64 { return e.AxisSE }),
	}
}

var persistenceTable = table[persistenceRow]{
	file: "persistence.csv", title: "one row per crater and species that was mapped at several times of day",
	key:     []string{"crater_id", "species"},
	columns: append(persistenceHead(), persistenceNumbers()...),
}

func persistenceHead() []column[persistenceRow] {
	w := func(name, doc string, get func(*ejecta.Persistence) string) column[persistenceRow] {
		return words(name, doc, func(r persistenceRow) string { return get(r.persist) })
	}
	return []column[persistenceRow]{
		words("crater_id", docID, func(r persistenceRow) string { return r.crater.ID }),
		words("name", docName, func(r persistenceRow) string { return r.crater.Name }),
		w("species", docSpecies+", without the time of day", func(p *ejecta.Persistence) string { return p.Species }),
		w("unit", docUnit, func(p *ejecta.Persistence) string { return p.Unit }),
		w("status", docStatus, func(p *ejecta.Persistence) string { return string(p.Status) }),
		w("verdict", "persistent, changing, comes and goes, or not known", func(p *ejecta.Persistence) string { return p.Verdict }),
		count("epochs", "", "times of day that are measured", func(r persistenceRow) int { return r.persist.Epochs }),
		count("seen", "", "times of day at which an excess is claimed", func(r persistenceRow) int { return r.persist.Seen }),
		w("change_from", "earlier epoch of change", func(p *ejecta.Persistence) string { return p.From }),
		w("change_to", "later epoch of change", func(p *ejecta.Persistence) string { return p.To }),
		w("axis", "stays, follows the sun, turns, or open; empty when no direction is seen at two times of day", func(p *ejecta.Persistence) string { return p.Axis }),
		w("drift_from", "earlier epoch of axis_drift_deg", func(p *ejecta.Persistence) string { return p.DriftFrom }),
		w("drift_to", "later epoch of axis_drift_deg", func(p *ejecta.Persistence) string { return p.DriftTo }),
		w("sentence", "the result in words", func(p *ejecta.Persistence) string { return p.Sentence }),
		w("note", "the reason in words when status is not ok", func(p *ejecta.Persistence) string { return p.Note }),
	}
}

func persistenceNumbers() []column[persistenceRow] {
	f := func(name, unit, doc string, get func(*ejecta.Persistence) float64) column[persistenceRow] {
		return amount(name, unit, doc, func(r persistenceRow) float64 { return get(r.persist) })
	}
	return []column[persistenceRow]{
		f("coverage", "1", "share of the ejecta range that all times of day show", func(p *ejecta.Persistence) float64 { return p.Coverage }),
		f("persist_p", "1", "p of one blanket at all times of day, given the noise that they share", func(p *ejecta.Persistence) float64 { return p.P }),
		f("persist_q", "1", "false-discovery rate at which persist_p would be accepted", func(p *ejecta.Persistence) float64 { return p.Q }),
		f("statistic", "1", "chi-square behind persist_p, with one degree of freedom less than epochs", func(p *ejecta.Persistence) float64 { return p.Statistic }),
		f("noise_correlation", "1", "mean correlation of the noise of two times of day, from null positions", func(p *ejecta.Persistence) float64 { return p.Correlation }),
		f("null_positions", "", "null positions that the correlation rests on; those that overlap count once", func(p *ejecta.Persistence) float64 { return p.Places }),
		f("change", "species", "largest change of the blanket between two times of day, later less earlier", func(p *ejecta.Persistence) float64 { return p.Change }),
		f("change_lo95", "species", "lower end of its 95 % interval, for all pairs of times together", func(p *ejecta.Persistence) float64 { return p.ChangeLo }),
		f("change_hi95", "species", "upper end", func(p *ejecta.Persistence) float64 { return p.ChangeHi }),
		f("persistent_excess", "species", "blanket at the rim, mean over the times of day weighted by their errors", func(p *ejecta.Persistence) float64 { return p.Excess }),
		f("persistent_excess_se", "species", "standard error of persistent_excess", func(p *ejecta.Persistence) float64 { return p.ExcessSE }),
		f("persistent_share", "1", "smallest blanket of the day over the largest; empty where the largest is below three errors", func(p *ejecta.Persistence) float64 { return p.Share }),
		f("persistent_share_lo95", "1", "lower end of its 95 % interval", func(p *ejecta.Persistence) float64 { return p.ShareLo }),
		f("persistent_share_hi95", "1", "upper end", func(p *ejecta.Persistence) float64 { return p.ShareHi }),
		f("axis_p", "1", "p of one direction at all times of day", func(p *ejecta.Persistence) float64 { return p.AxisP }),
		f("sun_p", "1", "p of a direction that turns with the sun; empty when the sun is not known or hardly moves", func(p *ejecta.Persistence) float64 { return p.SunP }),
		f("axis_drift_deg", "deg", "largest turn of the direction between two times of day, clockwise, later less earlier", func(p *ejecta.Persistence) float64 { return p.Drift }),
		f("axis_drift_lo95_deg", "deg", "lower end of its 95 % interval, for all pairs of times together", func(p *ejecta.Persistence) float64 { return p.DriftLo }),
		f("axis_drift_hi95_deg", "deg", "upper end", func(p *ejecta.Persistence) float64 { return p.DriftHi }),
	}
}

func (s *Survey) epochRows() iter.Seq[epochRow] {
	return func(yield func(epochRow) bool) {
		for i := range s.Epochs {
			e := &s.Epochs[i]
			if !yield(epochRow{s.crater(e.CraterIndex), e}) {
				return
			}
		}
	}
}

func (s *Survey) persistenceRows() iter.Seq[persistenceRow] {
	return func(yield func(persistenceRow) bool) {
		for i := range s.Persistence {
			p := &s.Persistence[i]
			if !yield(persistenceRow{s.crater(p.CraterIndex), p}) {
				return
			}
		}
	}
}
