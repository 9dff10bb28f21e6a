package reports

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"
)

// Write writes every file of a result directory into dir, which must exist
// and should be empty: the caller makes a temporary directory and renames it
// when Write returns nil. An error names the file that could not be written.
//
// The GeoPackage needs GDAL and is written by reports/gpkg.
func Write(dir string, s *Survey, opt Options) error {
	for _, write := range Steps(dir, s, opt) {
		if err := write(); err != nil {
			return err
		}
	}
	return s.Lost()
}

// Steps are what [Write] does, one after the other. They may as well be done at the
// same time and in any order: none changes the survey or needs what another wrote.
// The longest come first. What was written is whole when no step and not
// [Survey.Lost] has an error.
func Steps(dir string, s *Survey, opt Options) (steps []func() error) {
	if !opt.NoFigures {
		steps = append(steps, func() error { return WriteFigures(dir, s, opt) })
	}
	for _, f := range files(s, opt) {
		steps = append(steps, func() error { return writeFile(filepath.Join(dir, f.name), f.write) })
	}
	return steps
}

// A file is a name relative to the result directory and what fills it.
type file struct {
	name  string
	write func(io.Writer) error
}

func files(s *Survey, opt Options) (list []file) {
	if !opt.NoReport {
		list = append(list, file{"report.html", func(w io.Writer) error { return WriteReport(w, s, opt) }})
	}
	return append(list, slices.Concat(tableFiles(s), otherFiles(s, opt))...)
}

func tableFiles(s *Survey) []file {
	return []file{
		{findingsTable.file, s.writeFindings},
		{contrastsTable.file, func(w io.Writer) error { return contrastsTable.write(w, s.contrastRows()) }},
		{targetsTable.file, func(w io.Writer) error { return targetsTable.write(w, s.targetRows()) }},
		{radialTable.file, func(w io.Writer) error { return radialTable.write(w, s.ringRows()) }},
		{azimuthalTable.file, func(w io.Writer) error { return azimuthalTable.write(w, s.sectorRows()) }},
		{alarmsTable.file, func(w io.Writer) error { return alarmsTable.write(w, s.alarmRows()) }},
		{refusedTable.file, func(w io.Writer) error { return refusedTable.write(w, slices.Values(s.Catalogue.Refused)) }},
		{epochsTable.file, func(w io.Writer) error { return epochsTable.write(w, s.epochRows()) }},
		{persistenceTable.file, func(w io.Writer) error { return persistenceTable.write(w, s.persistenceRows()) }},
		{populationTable.file, func(w io.Writer) error { return populationTable.write(w, s.populationRows()) }},
		{controlsTable.file, func(w io.Writer) error { return controlsTable.write(w, s.pairRows()) }},
		{controlSummaryTable.file, func(w io.Writer) error { return controlSummaryTable.write(w, s.controlRows()) }},
		{balanceTable.file, func(w io.Writer) error { return balanceTable.write(w, s.balanceRows()) }},
		{covariatesTable.file, func(w io.Writer) error { return covariatesTable.write(w, s.covariateRows()) }},
	}
}

// otherFiles are the files that are neither tables nor the page.
func otherFiles(s *Survey, opt Options) []file {
	list := []file{
		{"schema.json", WriteSchema},
		{"manifest.json", func(w io.Writer) error { return WriteManifest(w, s) }},
		{"overlay.geojson", func(w io.Writer) error { return WriteOverlay(w, s, opt) }},
	}
	list = append(list, file{CellsFile, s.writeCells})
	if s.hasSums() {
		list = append(list, file{SumsFile, s.writeSums})
	}
	if slices.Contains(opt.Vector, "parquet") {
		list = append(list, file{ParquetFile, func(w io.Writer) error { return WriteGeoParquet(w, s, opt) }})
	}
	if opt.Styles {
		list = append(list, styleFiles(s, opt)...)
	}
	return list
}

func (s *Survey) writeFindings(w io.Writer) error {
	return findingsTable.write(w, s.findingRows())
}

// writeFile creates a file, with its directory, and fills it through a buffer.
func writeFile(path string, fill func(io.Writer) error) (err error) {
	if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
		return fmt.Errorf("reports: %w", err)
	}
	f, err := os.Create(path)
	if err != nil {
		return fmt.Errorf("reports: %w", err)
	}
	defer func() {
		if cerr := f.Close(); err == nil && cerr != nil {
			err = fmt.Errorf("reports: %s: %w", path, cerr)
		}
	}()
	buf := bufio.NewWriterSize(f, 1<<16)
	if err := fill(buf); err != nil {
		return fmt.Errorf("reports: %s: %w", path, err)
	}
	if err := buf.Flush(); err != nil {
		return fmt.Errorf("reports: %s: %w", path, err)
	}
	return nil
}
