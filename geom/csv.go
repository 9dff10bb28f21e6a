package geom

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// table is a CSV file being read.
type table struct {
	b      *builder
	r      *csv.Reader
	comma  rune
	index  map[string]int
	width  int
	twice  []string // names of more than one column
	ragged int      // rows with another number of fields than the header

	points, commas int // numbers seen with a decimal point, with a decimal comma
	commaLine      int
	mixedLine      int
	thousandsLine  int // of a number such as "1,000" between commas
}

const maxColumns = 10000

// separatorNames are the separators that are looked for, as a person calls them.
var separatorNames = map[rune]string{',': "commas", ';': "semicolons", '\t': "tabs", '|': "vertical bars"}

func (b *builder) readCSV(br *bufio.Reader) error {
	t := &table{b: b, index: map[string]int{}}
	header, err := t.open(br)
	if err != nil {
		return err
	}
	if err := t.learn(header); err != nil {
		return err
	}
	for {
		row, err := t.r.Read()
		if errors.Is(err, io.EOF) {
			return t.close()
		}
		if err != nil {
			return t.fault(err)
		}
		t.addRow(row)
	}
}

// open sniffs the separator in the first line that is no comment.
func (t *table) open(br *bufio.Reader) ([]string, error) {
	head, err := br.Peek(64 << 10)
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, bufio.ErrBufferFull) {
		return nil, corrupt(-1, "", "", "reading failed: %v", err)
	}
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		return nil, refuse("", "save it with line feeds, as UTF-8", "its lines end in carriage returns alone")
	}
	t.comma = sniffSeparator(string(head))
	t.r = csv.NewReader(br)
	t.r.Comma, t.r.Comment, t.r.FieldsPerRecord, t.r.ReuseRecord = t.comma, '#', -1, true
	t.r.LazyQuotes = false
	header, err := t.r.Read()
	if err == nil && namesSeparator(header) {
		header, err = t.r.Read()
	}
	if err != nil {
		return nil, t.fault(err)
	}
	return append([]string(nil), header...), nil
}

// namesSeparator tells a first line such as "sep=;", which spreadsheets write.
func namesSeparator(row []string) bool {
	return len(row) == 2 && strings.EqualFold(row[0], "sep=") && row[1] == ""
}

// sniffSeparator counts separators outside quotes in the first line; a tie goes
// to the semicolon, for then the commas are decimal.
func sniffSeparator(head string) rune {
	line := ""
	for line = range strings.Lines(head) {
		if t := strings.TrimSpace(line); t != "" && t[0] != '#' {
			break
		}
	}
	quoted, n := false, map[rune]int{}
	for _, c := range line {
		if c == '"' {
			quoted = !quoted
		} else if !quoted {
			n[c]++
		}
	}
	switch {
	case n[';'] > 0 && n[';'] >= n[','] && n[';'] >= n['\t']:
		return ';'
	case n['\t'] > 0 && n['\t'] >= n[',']:
		return '\t'
	case n['|'] > 0 && n[','] == 0:
		return '|'
	}
	return ','
}

// fault words an error of the CSV reader.
func (t *table) fault(err error) error {
	var parse *csv.ParseError
	e := corrupt(t.b.count, "", "", "%v", err)
	switch {
	case errors.Is(err, io.EOF):
		return corrupt(-1, "", "", "there is no header line")
	case errors.As(err, &parse):
		e.Problem = fmt.Sprintf("line %d, column %d: %v", parse.Line, parse.Column, parse.Err)
		e.Remedy = "a quoted field must end with a quote and hold its own quotes doubled"
	}
	e.Err = err
	return e
}

// learn reads the header line.
func (t *table) learn(header []string) error {
	if len(header) > maxColumns {
		return corrupt(-1, "", "", "the header line has %d columns; the limit is %d", len(header), maxColumns)
	}
	t.width = len(header)
	numeric := true
	for i, h := range header {
		h = strings.TrimSpace(h)
		if _, twice := t.index[h]; twice {
			t.twice = append(t.twice, h)
		} else {
			t.index[h] = i
		}
		_, ok := parseNumber(strings.ReplaceAll(h, ",", "."))
		numeric = numeric && (ok || h == "")
		header[i] = h
	}
	if numeric {
		return refuse("", "put the names of the columns into the first line", "the first line holds numbers only")
	}
	t.b.roles.learn(header)
	for ro := range t.b.roles.forced {
		if name := t.b.roles.cols[ro].name; t.b.roles.forced[ro] && !t.has(name) {
			return refuse(t.b.optionOf(role(ro)), "the columns are "+t.b.roles.listed(), "there is no column %s", Quote(name))
		}
	}
	if err := t.checkTwice(); err != nil {
		return err
	}
	return t.checkPlace()
}

// checkTwice refuses two columns of one name where one of them would be read.
func (t *table) checkTwice() error {
	for ro, c := range t.b.roles.cols {
		if t.b.roles.found[ro] && slices.Contains(t.twice, c.name) {
			return refuse(label(c.name), "rename one of them", "two columns have this name")
		}
	}
	return nil
}

func (t *table) has(name string) bool { _, ok := t.index[name]; return ok }

// checkPlace makes sure that longitude and latitude have a column.
func (t *table) checkPlace() error {
	r := &t.b.roles
	if !r.found[roleLon] && r.found[roleLonWest] {
		if t.b.opt.LonDirection == "" {
			return refuse(label(r.cols[roleLonWest].name), `give the longitude direction: "west", or "east" if the name misleads`,
				"the name says that longitude is positive to the west")
		}
		r.cols[roleLon], r.found[roleLon] = r.cols[roleLonWest], true
	}
	if !r.found[roleLat] && r.found[roleLatGraphic] {
		r.cols[roleLat], r.found[roleLat] = r.cols[roleLatGraphic], true
		if t.b.opt.Latitude == "" {
			t.b.opt.Latitude = PlanetographicLatitude
			t.b.note("latitude is taken to be planetographic, as the column %s says", Quote(r.cols[roleLat].name))
		}
	}
	for _, ro := range []role{roleLon, roleLat} {
		if !r.found[ro] {
			return refuse(t.b.optionOf(ro), "name the column; the columns are "+r.listed(), "no column was recognised as %s", synonymsOf(ro).Role)
		}
	}
	return nil
}

func synonymsOf(ro role) ColumnSynonyms {
	for _, s := range synonyms {
		if s.role == ro {
			return s
		}
	}
	return ColumnSynonyms{}
}

// optionOf is the name of the option that names a column for a role, in words
// that the survey file and the command line share.
func (b *builder) optionOf(ro role) string {
	return "catalogue." + strings.ToLower(synonymsOf(ro).Option)
}

func (t *table) addRow(row []string) {
	b := t.b
	index := b.count
	b.count++
	line, _ := t.r.FieldPos(0)
	value := func(ro role) (string, bool) { return t.value(row, ro) }
	id, _ := value(roleID)
	if id == "" {
		b.noID++
		id = "row-" + strconv.Itoa(index)
	}
	if len(row) != t.width {
		t.ragged++
		b.refused(index, id, "line %d has %d fields, the header has %d", line, len(row), t.width)
		return
	}
	f := feature{index: index, id: id, value: value}
	for _, c := range []struct {
		ro  role
		dst *float64
	}{{roleLon, &f.x}, {roleLat, &f.y}} {
		text, _ := value(c.ro)
		v, ok := parseNumber(text)
		if !ok {
			b.refused(index, id, "line %d: %s %s is not a number", line, label(b.roles.cols[c.ro].name), Quote(text))
			return
		}
		*c.dst = v
	}
	b.add(f)
}

// value returns the text of the field that serves a role, a decimal comma
// turned into a point where the role is a number.
func (t *table) value(row []string, ro role) (string, bool) {
	r := &t.b.roles
	if !r.usable(ro) {
		return "", false
	}
	i, ok := t.index[r.cols[ro].name]
	if !ok || i >= len(row) {
		return "", false
	}
	r.hits[ro]++
	s := strings.TrimSpace(row[i])
	if ro.isText() {
		return t.clean(s), true
	}
	return t.decimal(s), true
}

// isText reports whether a role is served by words rather than by a number.
func (ro role) isText() bool {
	return ro == roleID || ro == roleName || ro == roleKind || ro == roleClass
}

// usable reports whether the column of a role may be read: a bare letter must be
// named by option, for d and r have too many meanings.
func (r *roles) usable(ro role) bool {
	if !r.found[ro] {
		return false
	}
	c := r.cols[ro]
	size := ro == roleRadius || ro == roleDiameter
	return !size || !c.bare || c.factor != 0 || r.forced[ro]
}

// clean makes text UTF-8 and its own copy.
func (t *table) clean(s string) string {
	if !utf8.ValidString(s) {
		t.b.badText++
		return strings.ToValidUTF8(s, "\uFFFD")
	}
	return strings.Clone(s)
}

// decimal counts the two kinds of decimal mark and returns the number with a
// point. Text with both marks stays as it is, and is no number then.
func (t *table) decimal(s string) string {
	point, comma := strings.IndexByte(s, '.') >= 0, strings.Count(s, ",")
	line := 0
	if comma > 0 && t.mixedLine == 0 {
		line, _ = t.r.FieldPos(0)
	}
	switch {
	case comma == 1 && t.comma == ',' && thousands(s):
		if t.thousandsLine == 0 {
			t.thousandsLine, _ = t.r.FieldPos(0)
		}
		return s
	case point && comma > 0:
		if t.mixedLine == 0 {
			t.mixedLine = line
		}
		return s
	case point:
		t.points++
	case comma == 1:
		swapped := strings.Replace(s, ",", ".", 1)
		if _, ok := parseNumber(swapped); ok {
			if t.commas++; t.commaLine == 0 {
				t.commaLine = line
			}
			return swapped
		}
	}
	return s
}

// thousands reports whether a number has three digits after its comma and at
// least one other than 0 before: between commas that is no decimal comma for
// sure.
func thousands(s string) bool {
	before, after, _ := strings.Cut(s, ",")
	return len(after) == 3 && strings.Trim(after, "0123456789") == "" && strings.ContainsAny(before, "123456789")
}

// close checks what only the whole table shows.
func (t *table) close() error {
	switch {
	case t.thousandsLine > 0:
		return refuse("", "write numbers with a point and no thousands separator",
			"line %d has a number whose comma may part thousands or decimals", t.thousandsLine)
	case t.mixedLine > 0:
		return refuse("", "write numbers with one decimal mark and no thousands separator",
			"line %d has a number with both a point and a comma", t.mixedLine)
	case t.commas > 0 && t.points > 0:
		return refuse("", "write all numbers with the same decimal mark",
			"numbers with a decimal comma (line %d) and with a decimal point are mixed", t.commaLine)
	case t.ragged > 0 && 2*t.ragged > t.b.count:
		return corrupt(-1, "", "check the separator; decimal commas need a semicolon or a tab between the fields",
			"%d of %d rows do not have the %d fields of the header line, separated by %s", t.ragged, t.b.count, t.width, separatorNames[t.comma])
	case t.commas > 0:
		t.b.note("decimal comma assumed: %d numbers are written with one", t.commas)
	}
	if t.comma != ',' {
		t.b.note("fields are separated by %s", separatorNames[t.comma])
	}
	return nil
}
