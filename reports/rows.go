package reports

import (
	"iter"
	"sort"

	"rimcast/ejecta"
	"rimcast/geom"
)

// The row types join what the tables show.
type (
	findingRow struct {
		crater  geom.Crater
		finding *ejecta.Finding
	}
	ringRow struct {
		findingRow
		k    int
		ring ejecta.RingValue
	}
	sectorRow struct {
		findingRow
		k      int
		sector ejecta.SectorValue
	}
	alarmRow struct {
		findingRow
		alarm ejecta.Alarm
	}
	contrastRow struct {
		crater   geom.Crater
		contrast *ejecta.Contrast
	}
	targetRow struct {
		crater geom.Crater
		target *ejecta.Target
		unit   string
	}
)

// crater returns the crater of an index; an index outside the catalogue is a
// programmer's mistake.
func (s *Survey) crater(i int) geom.Crater {
	if i < 0 || i >= len(s.Catalogue.Craters) {
		panic("reports: crater index outside the catalogue")
	}
	return s.Catalogue.Craters[i]
}

// findingRows are the rows of the findings with their details.
func (s *Survey) findingRows() iter.Seq[findingRow] {
	return func(yield func(findingRow) bool) {
		for _, f := range s.AllWhole() {
			if !yield(findingRow{s.crater(f.CraterIndex), f}) {
				return
			}
		}
	}
}

// measuredRows are those without the bare craters, which have neither rings nor
// alarms.
func (s *Survey) measuredRows() iter.Seq[findingRow] {
	return func(yield func(findingRow) bool) {
		for _, f := range s.wholeFindings() {
			if !yield(findingRow{s.crater(f.CraterIndex), f}) {
				return
			}
		}
	}
}

func (s *Survey) ringRows() iter.Seq[ringRow] {
	return func(yield func(ringRow) bool) {
		for row := range s.measuredRows() {
			for k, ring := range row.finding.Radial {
				if !yield(ringRow{row, k, ring}) {
					return
				}
			}
		}
	}
}

func (s *Survey) sectorRows() iter.Seq[sectorRow] {
	return func(yield func(sectorRow) bool) {
		for row := range s.measuredRows() {
			for k, sector := range row.finding.Azimuthal {
				if !yield(sectorRow{row, k, sector}) {
					return
				}
			}
		}
	}
}

func (s *Survey) alarmRows() iter.Seq[alarmRow] {
	return func(yield func(alarmRow) bool) {
		for row := range s.measuredRows() {
			for _, a := range row.finding.Alarms {
				if !yield(alarmRow{row, a}) {
					return
				}
			}
		}
	}
}

func (s *Survey) contrastRows() iter.Seq[contrastRow] {
	return func(yield func(contrastRow) bool) {
		for i := range s.Contrasts {
			c := &s.Contrasts[i]
			if !yield(contrastRow{s.crater(c.CraterIndex), c}) {
				return
			}
		}
	}
}

func (s *Survey) targetRows() iter.Seq[targetRow] {
	return func(yield func(targetRow) bool) {
		for i := range s.Targets {
			t := &s.Targets[i]
			if !yield(targetRow{s.crater(t.CraterIndex), t, s.unitOf(t.Species)}) {
				return
			}
		}
	}
}

// findingsOf returns the findings of a crater, in species order, without their
// details when these are elsewhere. Findings are crater-major, so they are
// neighbours; a crater without any gives nil.
func (s *Survey) findingsOf(crater int) []ejecta.Finding {
	if list, ok := s.bareOf(crater); ok {
		return list
	}
	lo, hi := s.spanOf(crater)
	return s.Findings[lo:hi]
}

// wholeOf returns the findings of a crater with their details.
func (s *Survey) wholeOf(crater int) []ejecta.Finding {
	if list, ok := s.bareOf(crater); ok {
		return list
	}
	lo, hi := s.spanOf(crater)
	if s.apart == nil {
		return s.Findings[lo:hi]
	}
	list := make([]ejecta.Finding, hi-lo)
	for k := range list {
		list[k], _ = s.Whole(lo + k) // Lost tells
	}
	return list
}

// spanOf is where the findings of a crater are.
func (s *Survey) spanOf(crater int) (lo, hi int) {
	per := len(s.Species)
	if at := crater * per; per > 0 && at+per <= len(s.Findings) && s.Findings[at].CraterIndex == crater {
		return at, at + per
	}
	return s.searchFindings(crater)
}

// patternOf is the pattern that stands for a crater on a map; empty for a bare one.
func (s *Survey) patternOf(crater int) ejecta.Pattern {
	if _, bare := s.bare.Find(crater); bare {
		return ""
	}
	return craterPattern(s.findingsOf(crater))
}

// sieved reports whether a sieve left a crater out.
func (s *Survey) sieved(crater int) bool {
	if k, ok := s.bare.Find(crater); ok {
		return s.bare.Status(k) == ejecta.StatusSieved
	}
	list := s.findingsOf(crater)
	return len(list) > 0 && list[0].Status == ejecta.StatusSieved
}

// searchFindings serves surveys with craters left out.
func (s *Survey) searchFindings(crater int) (lo, hi int) {
	lo = sort.Search(len(s.Findings), func(i int) bool { return s.Findings[i].CraterIndex >= crater })
	hi = lo
	for hi < len(s.Findings) && s.Findings[hi].CraterIndex == crater {
		hi++
	}
	return lo, hi
}

// contrastsOf returns the contrasts of a crater.
func (s *Survey) contrastsOf(crater int) []ejecta.Contrast {
	var out []ejecta.Contrast
	for _, c := range s.Contrasts {
		if c.CraterIndex == crater {
			out = append(out, c)
		}
	}
	return out
}

// topTargets returns the first n targets.
func (s *Survey) topTargets(n int) []ejecta.Target {
	return s.Targets[:min(n, len(s.Targets))]
}
