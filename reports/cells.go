package reports

import (
	"io"
	"math"

	"github.com/parquet-go/parquet-go"

	"rimcast/ejecta"
)

// CellsFile holds the polar sums of a survey, in a form that data tools read.
const CellsFile = "cells.parquet"

// cellRow is a ring or a sector of a crater and species. A number that could
// not be measured is null. Names and meanings: README.
type cellRow struct {
	CraterID string   `parquet:"crater_id,dict"`
	Species  string   `parquet:"species,dict"`
	Unit     string   `parquet:"unit,dict"`
	Kind     string   `parquet:"kind,dict"` // ring or sector
	Number   int32    `parquet:"number"`
	RhoLo    float32  `parquet:"rho_lo"`
	RhoHi    float32  `parquet:"rho_hi"`
	AzLo     float32  `parquet:"az_lo_deg"`
	AzHi     float32  `parquet:"az_hi_deg"`
	Area     float32  `parquet:"area_m2"` // of the whole cell; on a plane
	Mean     *float32 `parquet:"mean,optional"`
	Excess   *float32 `parquet:"excess,optional"`
	SE       *float32 `parquet:"se,optional"`
	Variance *float32 `parquet:"variance,optional"`
	Pixels   int32    `parquet:"pixels"`
	Coverage float32  `parquet:"coverage"`
}

// rowGroup is the number of rows that are written together.
const rowGroup = 1 << 16

// parquetOptions fix what could change the bytes of a table.
func parquetOptions() []parquet.WriterOption {
	return []parquet.WriterOption{parquet.Compression(&parquet.Snappy), parquet.MaxRowsPerRowGroup(rowGroup), parquet.CreatedBy("rimcast", "1", "0")}
}

func (s *Survey) writeCells(w io.Writer) error {
	out := parquet.NewGenericWriter[cellRow](w, parquetOptions()...)
	var rows []cellRow
	for i, f := range s.wholeFindings() {
		rows = s.cellRows(rows, f)
		if len(rows) < cellsAtOnce && i+1 < len(s.Findings) {
			continue
		}
		if _, err := out.Write(rows); err != nil {
			return err
		}
		rows = rows[:0]
	}
	return out.Close()
}

// cellsAtOnce is the number of rows that are handed on together.
const cellsAtOnce = 4096

// cellRows appends the rings of a finding, then its sectors.
func (s *Survey) cellRows(rows []cellRow, f *ejecta.Finding) []cellRow {
	c := s.crater(f.CraterIndex)
	row := func(kind string, k int, rho0, rho1, az0, az1, mean, excess, se float64, pixels int, coverage float64) {
		area := planeArea(rho0, rho1, az0, az1, c.Radius)
		rows = append(rows, cellRow{c.ID, f.Species, f.Unit, kind, int32(k), float32(rho0), float32(rho1), float32(az0), float32(az1), float32(area),
			orNull(mean), orNull(excess), orNull(se), orNull(se * se), int32(pixels), float32(coverage)})
	}
	for k, r := range f.Radial {
		row("ring", k, r.RhoLo, r.RhoHi, 0, 360, r.Mean, r.Excess, r.SE, r.Pixels, r.Coverage)
	}
	for k, v := range f.Azimuthal {
		row("sector", k, ejectaLo, ejectaHi, v.AzLo, v.AzHi, math.NaN(), v.Mean, v.SE, v.Pixels, v.Coverage)
	}
	return rows
}

// orNull is a number, or null where there is none.
func orNull(v float64) *float32 {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	x := float32(v)
	return &x
}
