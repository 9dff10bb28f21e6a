package reports

import (
	"encoding/json"
	"math"
	"strconv"
	"strings"

	"rimcast/ejecta"
)

// mostRows bounds the table that is embedded in the report: beyond it a page
// gets slow to open. The best ranked craters are kept.
const mostRows = 250000

// tableData is the table of the report as columns: short to write, quick to
// sort. Text that repeats is a number into a list.
type tableData struct {
	IDs    []string  `json:"ids"`
	Names  []string  `json:"names"`
	Lon    []rounded `json:"lon"`
	Lat    []rounded `json:"lat"`
	Radius []rounded `json:"radius"` // km
	Rank   []int     `json:"rank"`   // 0 without one
	Sheet  []int     `json:"sheet"`  // 1 when the page has a sheet

	Crater  []int     `json:"crater"` // one entry per finding from here on
	Species []int     `json:"species"`
	Status  []int     `json:"status"`
	Pattern []int     `json:"pattern"`
	Alarms  []int     `json:"alarms"`
	Excess  []rounded `json:"excess"`
	ExcessZ []rounded `json:"z"`
	ExcessQ []rounded `json:"q"`
	Rim     []rounded `json:"rim"`
	Limit   []rounded `json:"limit"`
	Axis    []rounded `json:"axis"`
	AsymQ   []rounded `json:"asym"`

	SpeciesNames []string          `json:"speciesNames"`
	Units        []string          `json:"units"`
	StatusNames  []string          `json:"statusNames"`
	PatternNames []string          `json:"patternNames"`
	AlarmNames   []string          `json:"alarmNames"`
	Words        map[string]string `json:"words"` // one line about each status, pattern and alarm
}

// rounded is a number with four significant digits, null when missing.
type rounded float64

// MarshalJSON implements json.Marshaler.
func (r rounded) MarshalJSON() ([]byte, error) {
	v := float64(r)
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return []byte("null"), nil
	}
	short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	if err != nil {
		return nil, err
	}
	return json.Marshal(short)
}

// dictionary numbers texts in the order in which they come.
type dictionary struct {
	list []string
	at   map[string]int
}

func (d *dictionary) number(s string) int {
	if i, ok := d.at[s]; ok {
		return i
	}
	if d.at == nil {
		d.at = map[string]int{}
	}
	d.at[s] = len(d.list)
	d.list = append(d.list, s)
	return len(d.list) - 1
}

func newTableData(s *Survey, sheets int) tableData {
	var d tableData
	kept := s.keptCraters()
	place := make([]int, len(s.Catalogue.Craters))
	for i, c := range s.Catalogue.Craters {
		place[i] = -1
		if !kept[i] {
			continue
		}
		place[i] = len(d.IDs)
		d.IDs, d.Names = append(d.IDs, DisplayText(c.ID)), append(d.Names, DisplayText(c.Name))
		d.Lon, d.Lat = append(d.Lon, rounded(eastLongitude(c.Centre.Lon))), append(d.Lat, rounded(c.Centre.Lat))
		d.Radius = append(d.Radius, rounded(c.Radius/1000))
	}
	d.Rank, d.Sheet = make([]int, len(d.IDs)), make([]int, len(d.IDs))
	for i, t := range s.Targets {
		at := place[t.CraterIndex]
		if at < 0 {
			continue
		}
		d.Rank[at] = t.Rank
		if i < sheets {
			d.Sheet[at] = t.CraterIndex + 1
		}
	}
	d.findings(s, place)
	return d
}

// keptCraters are the craters whose rows fit into the page.
func (s *Survey) keptCraters() []bool {
	kept := make([]bool, len(s.Catalogue.Craters))
	room := mostRows / max(len(s.Species), 1)
	if len(kept) <= room {
		for i := range kept {
			kept[i] = true
		}
		return kept
	}
	for _, t := range s.topTargets(room) {
		kept[t.CraterIndex] = true
	}
	return kept
}

func (d *tableData) findings(s *Survey, place []int) {
	var species, units, status, pattern, alarms dictionary
	for _, sp := range s.Species {
		species.number(sp.Name)
		units.list = append(units.list, DisplayText(sp.Unit))
	}
	for _, f := range s.All() {
		if place[f.CraterIndex] < 0 {
			continue
		}
		d.Crater = append(d.Crater, place[f.CraterIndex])
		d.Species = append(d.Species, species.number(f.Species))
		d.Status = append(d.Status, status.number(string(f.Status)))
		d.Pattern = append(d.Pattern, pattern.number(string(f.Pattern)))
		d.Alarms = append(d.Alarms, alarms.number(strings.Join(f.RaisedAlarms(), " ")))
		d.numbers(f)
	}
	d.SpeciesNames, d.Units = displayed(species.list), units.list
	d.StatusNames, d.PatternNames, d.AlarmNames = orEmpty(status.list), orEmpty(pattern.list), orEmpty(alarms.list)
	d.Words = wordsOf(d.StatusNames, d.PatternNames, d.AlarmNames)
}

func (d *tableData) numbers(f *ejecta.Finding) {
	nan := math.NaN()
	excess, z, q, rim, limit, axis, asym := nan, nan, nan, nan, nan, nan, nan
	if f.Status.Measured() {
		excess, z, q, rim, limit, asym = f.Excess, f.Excess/f.ExcessSE, f.ExcessQ, f.RimExcess, f.UpperLimit95, f.AsymmetryQ
	}
	if f.Pattern.Directional() {
		axis = f.Axis
	}
	d.Excess, d.ExcessZ, d.ExcessQ = append(d.Excess, rounded(excess)), append(d.ExcessZ, rounded(z)), append(d.ExcessQ, rounded(q))
	d.Rim, d.Limit = append(d.Rim, rounded(rim)), append(d.Limit, rounded(limit))
	d.Axis, d.AsymQ = append(d.Axis, rounded(axis)), append(d.AsymQ, rounded(asym))
}

func displayed(list []string) []string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = DisplayText(s)
	}
	return out
}

// wordsOf is one line about each word of the lists that has an explanation.
func wordsOf(lists ...[]string) map[string]string {
	words := map[string]string{}
	for _, list := range lists {
		for _, entry := range list {
			for _, w := range strings.Fields(entry) {
				if short, _, ok := Explain(w); ok {
					words[w] = short
				}
			}
		}
	}
	return words
}
