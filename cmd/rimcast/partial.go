package main

import (
	"fmt"
	"maps"
	"slices"
	"strings"

	"rimcast/ejecta"
	"rimcast/reports"
)

// missingStatuses are the statuses of craters that have no numbers although
// the user may expect some: the list, the coverage or the files are at fault.
// A crater too small or too large for the map is measured as far as can be.
var missingStatuses = []ejecta.Status{
	ejecta.StatusRefused, ejecta.StatusNotCovered, ejecta.StatusLowCoverage, ejecta.StatusUnreadable, ejecta.StatusNoVariance,
}

// missingPart is the craters that have no numbers for one reason.
type missingPart struct {
	Status ejecta.Status `json:"status"`
	Count  int           `json:"count"`
	IDs    []string      `json:"ids"`    // the first ten
	Reason string        `json:"reason"` // of the first one
}

// maxListed bounds the ids in a message; all are in the tables.
const maxListed = 10

// missingParts lists the craters without numbers by reason. A crater counts
// once for each reason, however many species it concerns.
func missingParts(s *reports.Survey) []missingPart {
	parts := map[ejecta.Status]*missingPart{}
	add := func(status ejecta.Status, id, reason string) {
		p := parts[status]
		if p == nil {
			p = &missingPart{Status: status, Reason: reason, IDs: []string{}}
			parts[status] = p
		}
		p.Count++
		if len(p.IDs) < maxListed {
			p.IDs = append(p.IDs, id)
		}
	}
	for _, r := range s.Catalogue.Refused {
		add(ejecta.StatusRefused, refusedName(r.ID, r.Index), r.Reason)
	}
	last := map[ejecta.Status]int{}
	for _, f := range s.All() {
		if seen, ok := last[f.Status]; ok && seen == f.CraterIndex {
			continue
		}
		if last[f.Status] = f.CraterIndex; slices.Contains(missingStatuses, f.Status) {
			add(f.Status, s.Catalogue.Craters[f.CraterIndex].ID, f.Note)
		}
	}
	list := []missingPart{}
	for _, status := range missingStatuses {
		if p := parts[status]; p != nil {
			list = append(list, *p)
		}
	}
	return list
}

func refusedName(id string, index int) string {
	if id != "" {
		return id
	}
	return fmt.Sprintf("feature %d", index)
}

// String is the part in one line, for a message.
func (p missingPart) String() string {
	noun := "craters have"
	if p.Count == 1 {
		noun = "crater has"
	}
	more := ""
	if p.Count > len(p.IDs) {
		more = ", ..."
	}
	text := fmt.Sprintf("%d %s status %s: %s%s", p.Count, noun, p.Status, strings.Join(p.IDs, ", "), more)
	if p.Reason != "" {
		text += " (" + p.Reason + ")"
	}
	return text
}

// withoutNumbers says how many findings have no numbers, by status, "" when all
// have them.
func withoutNumbers(s *reports.Survey) string {
	count, total := map[ejecta.Status]int{}, 0
	for i := range s.Findings {
		if f := &s.Findings[i]; !f.Status.Measured() {
			count[f.Status]++
			total++
		}
	}
	for status, n := range s.Bare().Counts() {
		count[status], total = count[status]+n, total+n
	}
	if total == 0 {
		return ""
	}
	var parts []string
	for _, status := range slices.Sorted(maps.Keys(count)) {
		parts = append(parts, fmt.Sprintf("%s %d", status, count[status]))
	}
	return fmt.Sprintf(" (%d without numbers: %s)", total, strings.Join(parts, ", "))
}

// strictFault is the error of --strict: nothing is written when something of
// the list is missing.
func strictFault(s *reports.Survey) error {
	parts := missingParts(s)
	if len(parts) == 0 {
		return nil
	}
	texts := make([]string, len(parts))
	for i, p := range parts {
		texts[i] = p.String()
	}
	return &cliError{code: exitCorrupt, problem: strings.Join(texts, "; "), remedy: "without --strict the others are measured and these are listed"}
}

// conclude warns of what is missing and sets the exit code: a condition of
// --fail-on first, since it was asked for, then a partial result.
func (a *app) conclude(sv *surveyFile, s *reports.Survey) error {
	parts := missingParts(s)
	for _, p := range parts {
		a.msg.warn("%s", p)
	}
	if len(parts) > 0 {
		a.code = exitPartial
	}
	if reason := gateHolds(sv, s, len(parts) > 0); reason != "" {
		a.code = exitGate
		a.msg.warn("--fail-on %s: %s", sv.Output.FailOn, reason)
	}
	return nil
}

// gateHolds returns why the condition of --fail-on holds, "" when it does not.
func gateHolds(sv *surveyFile, s *reports.Survey, partial bool) string {
	gate, name, _ := strings.Cut(sv.Output.FailOn, ":")
	switch gate {
	case "partial":
		if partial {
			return "craters of the list have no numbers"
		}
	case "no-finding":
		if n := significant(s, sv.Tests.FDR); n == 0 {
			return fmt.Sprintf("no crater is enriched at a false discovery rate of %g", sv.Tests.FDR)
		}
	case "alarm":
		return raisedAlarm(s, name)
	}
	return ""
}

// significant counts the findings that are enriched at a false discovery rate.
func significant(s *reports.Survey, fdr float64) int {
	n := 0
	for _, f := range s.Findings {
		if f.Status.Measured() && f.ExcessQ <= fdr {
			n++
		}
	}
	return n
}

// raisedAlarm looks for an alarm, any for an empty name, and says where the
// first one is.
func raisedAlarm(s *reports.Survey, name string) string {
	for _, f := range s.Findings {
		for _, a := range f.RaisedAlarms() {
			if name == "" || a == name {
				return fmt.Sprintf("crater %s, %s: %s", s.Catalogue.Craters[f.CraterIndex].ID, f.Species, a)
			}
		}
	}
	return ""
}
