package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rimcast/ejecta"
)

// This file joins what several species of one crater have in common, so that a
// sheet says it once.

// alarmGroup is an alarm with the species that raise it.
type alarmGroup struct {
	Name string
	List []alarmView
}

// alarmView is one alarm of species that raise it alike.
type alarmView struct {
	Species string
	ejecta.Alarm
}

// Amount is the number of the alarm beside its limit.
func (v alarmView) Amount() string {
	if v.Unit == "p" {
		return "p " + chance(v.Value) + " against a limit of " + orDash(v.Limit)
	}
	return strings.TrimSpace(orDash(v.Value) + " against a limit of " + orDash(v.Limit) + " " + v.Unit)
}

// raisedGroups are the raised alarms in the order in which they come.
func raisedGroups(list []ejecta.Finding) (out []alarmGroup) {
	at := map[string]int{}
	for _, f := range list {
		for _, a := range f.Alarms {
			if alarmState(a) != "raised" {
				continue
			}
			if _, seen := at[a.Name]; !seen {
				at[a.Name] = len(out)
				out = append(out, alarmGroup{Name: a.Name})
			}
			out[at[a.Name]].add(f.Species, a)
		}
	}
	return out
}

// add joins species whose alarm says the same.
func (g *alarmGroup) add(species string, a ejecta.Alarm) {
	name := DisplayText(species)
	for i := range g.List {
		if v := &g.List[i]; v.Detail == a.Detail && v.Value == a.Value {
			v.Species += ", " + name
			return
		}
	}
	g.List = append(g.List, alarmView{name, a})
}

func clearAlarms(list []ejecta.Finding) (out []string) {
	for _, f := range list {
		for _, a := range f.Alarms {
			if alarmState(a) == "clear" {
				out = append(out, a.Name+" ("+DisplayText(f.Species)+")")
			}
		}
	}
	return out
}

// lackGroup is what the same thing kept from running.
type lackGroup struct {
	Lack, Species string // no species where it is so for all
	Names         []string
}

// lackGroups are the alarms that did not run, by what they lack and where.
func lackGroups(list []ejecta.Finding) (out []lackGroup) {
	for _, l := range lacks(list) {
		where := strings.Join(l.species, ", ")
		if len(l.species) == len(list) {
			where = ""
		}
		i := slices.IndexFunc(out, func(g lackGroup) bool { return g.Lack == l.why && g.Species == where })
		if i < 0 {
			i, out = len(out), append(out, lackGroup{Lack: l.why, Species: where})
		}
		out[i].Names = append(out[i].Names, l.name)
	}
	return out
}

// lack is an alarm that one thing kept from running at some species.
type lack struct {
	name, why string
	species   []string
}

func lacks(list []ejecta.Finding) (out []lack) {
	for _, f := range list {
		for _, a := range f.Alarms {
			if alarmState(a) == "raised" || alarmState(a) == "clear" {
				continue
			}
			i := slices.IndexFunc(out, func(l lack) bool { return l.name == a.Name && l.why == a.NotRun })
			if i < 0 {
				i, out = len(out), append(out, lack{name: a.Name, why: a.NotRun})
			}
			out[i].species = append(out[i].species, DisplayText(f.Species))
		}
	}
	return out
}

// ContrastLines say which species differ, and in one line which are not shown to.
func ContrastLines(list []ejecta.Contrast) (out []string) {
	var alike []string
	for _, c := range list {
		switch {
		case c.Status == ejecta.StatusOK && !c.Claimed:
			alike = append(alike, fmt.Sprintf("%s and %s (p %s, q %s)", c.SpeciesA, c.SpeciesB, chance(c.P), chance(c.Q)))
		case c.Status == ejecta.StatusOK:
			out = append(out, fmt.Sprintf("%s; q %s over the catalogue", c.Sentence, chance(c.Q)))
		default:
			out = append(out, fmt.Sprintf("%s and %s: %s", c.SpeciesA, c.SpeciesB, c.Sentence))
		}
	}
	if len(alike) > 0 {
		out = append(out, "no difference in shape is shown between "+strings.Join(alike, "; "))
	}
	return out
}

// familyRows are the tests behind the p of the direction, a column per species.
func familyRows(list []ejecta.Finding) (out []sheetRow) {
	for k, f := range list {
		for _, t := range f.Families {
			i := slices.IndexFunc(out, func(r sheetRow) bool { return r.Name == t.Name })
			if i < 0 {
				i, out = len(out), append(out, sheetRow{Name: t.Name, Cells: dashes(len(list))})
			}
			out[i].Cells[k] = orDash(t.Z) + ", p " + chance(t.P)
		}
	}
	return out
}

func dashes(n int) []string { return slices.Repeat([]string{"–"}, n) }

// ErrorDigits writes a value to the second digit of its error.
func ErrorDigits(v, se float64) string {
	size := math.Floor(math.Log10(se))
	if !(size > -5 && size < 6) || math.Abs(v) >= 1e7 {
		return strconv.FormatFloat(v, 'g', 3, 64) + " ± " + strconv.FormatFloat(se, 'g', 3, 64)
	}
	places := max(0, 1-int(size))
	return strconv.FormatFloat(v, 'f', places, 64) + " ± " + strconv.FormatFloat(se, 'f', places, 64)
}
