package reports

import (
	"encoding/csv"
	"io"
	"iter"
	"strconv"
)

// A column is one column of a table of rows of type T. Header, cell and
// schema entry live side by side so that they cannot drift apart.
type column[T any] struct {
	name string
	kind string // "string", "number", "integer", "boolean"
	unit string // "" for none; "species" for the unit column of the row
	doc  string
	cell func(T) string
}

// A table is a file of rows of type T.
type table[T any] struct {
	file    string
	title   string
	key     []string // columns that identify a row
	columns []column[T]
}

func words[T any](name, doc string, get func(T) string) column[T] {
	return column[T]{name, "string", "", doc, func(r T) string { return NeutralText(get(r)) }}
}

func amount[T any](name, unit, doc string, get func(T) float64) column[T] {
	return column[T]{name, "number", unit, doc, func(r T) string { return number(get(r)) }}
}

func angle[T any](name, doc string, get func(T) float64) column[T] {
	return column[T]{name, "number", "deg", doc, func(r T) string { return degrees(get(r)) }}
}

func count[T any](name, unit, doc string, get func(T) int) column[T] {
	return column[T]{name, "integer", unit, doc, func(r T) string { return strconv.Itoa(get(r)) }}
}

func truth[T any](name, doc string, get func(T) bool) column[T] {
	return column[T]{name, "boolean", "", doc, func(r T) string { return strconv.FormatBool(get(r)) }}
}

// header returns the column names.
func (t table[T]) header() []string {
	names := make([]string, len(t.columns))
	for i, c := range t.columns {
		names[i] = c.name
	}
	return names
}

// write writes the header and the rows as RFC 4180 records with LF ends.
func (t table[T]) write(w io.Writer, rows iter.Seq[T]) error {
	out := csv.NewWriter(w)
	if err := out.Write(t.header()); err != nil {
		return err
	}
	record := make([]string, len(t.columns))
	for row := range rows {
		for i, c := range t.columns {
			record[i] = c.cell(row)
		}
		if err := out.Write(record); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}
