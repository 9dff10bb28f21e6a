// Package reports lays a finished [Survey] out as files: tables, overlays,
// figures and one page to read.
//
// # Rules
//
// Writers compute no science. A number that is not in the Survey is not in
// the result directory; what a writer may do is join, order, format and draw.
//
// The same Survey gives the same bytes. Nothing here reads a clock, walks a
// map in its own order or depends on how many workers ran.
//
// Names and ids come from other people's catalogues. They are data: escaped
// in HTML, JSON and XML, cleaned of control characters in figures, kept from
// being read as formulas in spreadsheets (see [NeutralText]), and never used
// as file names without [SafeName].
//
// A missing number is an empty cell or null. It is never 0 and never a magic
// value; the status column, or the note beside it, says why it is missing.
//
// # Layout
//
// One table is one list of columns (tables.go, columns.go): the header, the
// cells and the entry in schema.json come from the same line of code, so they
// cannot disagree. One overlay is one list of features (features.go), written
// as GeoJSON here and as GeoPackage or FlatGeobuf by reports/gpkg. One figure
// is one drawing function (figure.go) with the table of what it shows.
package reports
