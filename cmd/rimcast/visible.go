package main

import (
	"cmp"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"rimcast/geom"
	"rimcast/reports"
)

// visibility says which craters can be observed.
type visibility struct {
	cat       geom.Catalogue
	lat, lon  []float64
	listed    bool // by a file
	windows   map[string][]reports.Window
	strangers []string // ids of the file that the catalogue does not have
	words     string
}

// newVisibility reads the filter of a command line.
func (a *app) newVisibility(s *reports.Survey, o followUpOpts) (*visibility, error) {
	v := &visibility{cat: s.Catalogue, lat: o.lat, lon: o.lon}
	var words []string
	if o.visible != "" {
		if err := v.read(a.stdin, o.visible); err != nil {
			return nil, err
		}
		v.warnOfStrangers(a.msg)
		words = append(words, fmt.Sprintf("the %d craters of the file of visibility", len(v.windows)))
	}
	if o.lat != nil {
		words = append(words, fmt.Sprintf("latitudes %g to %g", o.lat[0], o.lat[1]))
	}
	if o.lon != nil {
		words = append(words, fmt.Sprintf("longitudes %g eastward to %g", o.lon[0], o.lon[1]))
	}
	v.words = strings.Join(words, ", ")
	return v, nil
}

func (v *visibility) read(stdin io.Reader, path string) error {
	r, name := stdin, "standard input"
	if path != "-" {
		f, err := openInput(path)
		if err != nil {
			return inputFault(err, "give the CSV file that says when craters can be seen")
		}
		defer f.Close()
		r, name = f, path
	}
	var err error
	v.listed = true
	v.windows, err = readWindows(r)
	if err != nil {
		return inputFault(fmt.Errorf("%s: %w", name, err), "the columns are crater_id and any of "+strings.Join(windowColumns, ", "))
	}
	v.dropStrangers()
	return nil
}

// dropStrangers leaves out the craters that the catalogue does not have, and
// remembers them.
func (v *visibility) dropStrangers() {
	ours := make(map[string]bool, len(v.cat.Craters))
	for i := range v.cat.Craters {
		ours[v.cat.Craters[i].ID] = true
	}
	for id := range v.windows {
		if !ours[id] {
			v.strangers = append(v.strangers, id)
			delete(v.windows, id)
		}
	}
	slices.Sort(v.strangers)
}

// warnOfStrangers says which craters of the file are not in the catalogue.
func (v *visibility) warnOfStrangers(m *messages) {
	n := len(v.strangers)
	if n == 0 {
		return
	}
	texts := make([]string, min(n, maxListed))
	for i := range texts {
		texts[i] = tableText(v.strangers[i])
	}
	more := ""
	if n > maxListed {
		more = ", ..."
	}
	m.warn("the file of visibility names craters that the catalogue does not have, %d of them: %s%s", n, strings.Join(texts, ", "), more)
}

// keeps reports whether a crater passes.
func (v *visibility) keeps(i int) bool {
	c := v.cat.Craters[i]
	if v.lat != nil && !(c.Centre.Lat >= v.lat[0] && c.Centre.Lat <= v.lat[1]) {
		return false
	}
	if v.lon != nil && !withinLon(c.Centre.Lon, v.lon[0], v.lon[1]) {
		return false
	}
	return !v.listed || v.windows[c.ID] != nil
}

// withinLon reports whether a longitude lies between west and east, going east.
// Ends a whole turn apart are everything.
func withinLon(lon, west, east float64) bool {
	if math.Abs(east-west) >= 360 {
		return true
	}
	turn := func(x float64) float64 { return x - 360*math.Floor(x/360) }
	return turn(lon-west) <= turn(east-west)
}

// windowColumns are the columns of a file of visibility beside crater_id.
var windowColumns = []string{"from", "to", "min_incidence", "max_incidence", "local_time"}

// maxWindows bounds the rows of a file of visibility.
const maxWindows = 10_000_000

// readWindows reads the occasions on which craters can be seen, by crater id in
// the order of the rows.
func readWindows(r io.Reader) (map[string][]reports.Window, error) {
	in := csv.NewReader(r)
	in.ReuseRecord, in.TrimLeadingSpace = true, true
	at, err := windowHeader(in)
	if err != nil {
		return nil, err
	}
	out := map[string][]reports.Window{}
	for n := 0; ; n++ {
		record, err := in.Read()
		if errors.Is(err, io.EOF) {
			return out, nil
		}
		if err != nil {
			return nil, err
		}
		id, w, err := at.window(record)
		line, _ := in.FieldPos(0)
		if err != nil {
			return nil, fmt.Errorf("line %d: %w", line, err)
		}
		if n == maxWindows {
			return nil, fmt.Errorf("line %d: a table of visibility has at most %d rows", line, maxWindows)
		}
		out[id] = append(out[id], w)
	}
}

// windowPlaces are the places of the columns by name.
type windowPlaces map[string]int

func windowHeader(in *csv.Reader) (windowPlaces, error) {
	record, err := in.Read()
	if err != nil {
		return nil, fmt.Errorf("has no header: %w", err)
	}
	at := windowPlaces{}
	for i, name := range record {
		name = strings.ToLower(strings.TrimSpace(strings.TrimPrefix(name, "\ufeff")))
		if name != "crater_id" && !slices.Contains(windowColumns, name) {
			continue // what else a planner keeps
		}
		if _, twice := at[name]; twice {
			return nil, errors.New("has the column " + name + " twice")
		}
		at[name] = i
	}
	if _, ok := at["crater_id"]; !ok {
		return nil, errors.New("has no column crater_id")
	}
	return at, nil
}

func (at windowPlaces) text(record []string, name string) string {
	if i, ok := at[name]; ok && i < len(record) {
		return strings.TrimSpace(record[i])
	}
	return ""
}

func (at windowPlaces) window(record []string) (id string, w reports.Window, err error) {
	id = reports.OriginalText(at.text(record, "crater_id"))
	w.From, w.To = at.text(record, "from"), at.text(record, "to")
	switch {
	case id == "":
		return "", w, errors.New("there is no crater_id")
	case !utf8.ValidString(id + w.From + w.To):
		return "", w, errors.New("the text is not UTF-8; save the table as UTF-8")
	}
	var e1, e2, e3 error
	w.MinIncidence, e1 = at.number(record, "min_incidence", 180)
	w.MaxIncidence, e2 = at.number(record, "max_incidence", 180)
	w.LocalTime, e3 = at.number(record, "local_time", 24)
	if w.MinIncidence > w.MaxIncidence {
		e1 = cmp.Or(e1, errors.New("min_incidence is above max_incidence"))
	}
	return id, w, cmp.Or(e1, e2, e3)
}

// number is a cell from 0 to most; NaN when it is empty.
func (at windowPlaces) number(record []string, name string, most float64) (float64, error) {
	text := at.text(record, name)
	if text == "" {
		return math.NaN(), nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v <= most) {
		return math.NaN(), fmt.Errorf("%s is %s, not a number from 0 to %g", name, printable(text), most)
	}
	return v, nil
}
