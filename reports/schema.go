package reports

import (
	"encoding/json"
	"io"
)

// The schema follows the Table Schema layout (fields with name, type and
// description; missingValues; primaryKey) and adds a unit to every field.
type (
	schemaFile struct {
		Description string           `json:"description"`
		Resources   []schemaResource `json:"resources"`
	}
	schemaResource struct {
		Path    string       `json:"path"`
		Title   string       `json:"title"`
		Dialect dialect      `json:"dialect"`
		Schema  schemaFields `json:"schema"`
	}
	dialect struct {
		Delimiter      string `json:"delimiter"`
		LineTerminator string `json:"lineTerminator"`
		QuoteChar      string `json:"quoteChar"`
		DoubleQuote    bool   `json:"doubleQuote"`
		Header         bool   `json:"header"`
	}
	schemaFields struct {
		Fields        []schemaField `json:"fields"`
		MissingValues []string      `json:"missingValues"`
		PrimaryKey    []string      `json:"primaryKey"`
	}
	schemaField struct {
		Name        string `json:"name"`
		Type        string `json:"type"`
		Unit        string `json:"unit"`
		Description string `json:"description"`
	}
)

const schemaText = "Tables of one screening. A cell without a value is empty and the status column says why. " +
	"A unit of \"species\" means the unit named in the row. Numbers carry six significant digits, coordinates six decimals. " +
	"Text that a spreadsheet would run as a formula (it begins with = + - @ and is not a plain number) " +
	"has one apostrophe in front; remove it to get the original. Control characters and line ends in text are written as " +
	"their Unicode pictures, U+2400 to U+2421. Longitudes are east positive unless the name says west; " +
	"latitudes are planetocentric; directions are degrees clockwise from north."

// WriteSchema writes the name, type, unit and meaning of every column of
// every table.
func WriteSchema(w io.Writer) error {
	return writeJSON(w, schemaFile{schemaText, []schemaResource{
		resource(findingsTable), resource(contrastsTable), resource(targetsTable), resource(radialTable),
		resource(azimuthalTable), resource(alarmsTable), resource(refusedTable),
		resource(epochsTable), resource(persistenceTable),
		resource(populationTable), resource(controlsTable), resource(controlSummaryTable), resource(balanceTable),
		resource(covariatesTable),
	}})
}

func resource[T any](t table[T]) schemaResource {
	fields := make([]schemaField, len(t.columns))
	for i, c := range t.columns {
		fields[i] = schemaField{c.name, c.kind, c.unit, c.doc}
	}
	return schemaResource{
		Path: t.file, Title: t.title,
		Dialect: dialect{",", "\n", `"`, true, true},
		Schema:  schemaFields{fields, []string{""}, t.key},
	}
}

// writeJSON writes v indented, with < > & escaped.
func writeJSON(w io.Writer, v any) error {
	out := json.NewEncoder(w)
	out.SetIndent("", "  ")
	return out.Encode(v)
}
