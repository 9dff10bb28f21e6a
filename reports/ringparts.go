package reports

import (
	"bytes"
	"math"

	"github.com/parquet-go/parquet-go"

	"rimcast/ejecta"
)

// PlainPart is rows of a [PlainTable] that are encoded apart from others, as a
// table of their own, so that several goroutines can each fill one.
type PlainPart struct {
	layout *PlainLayout
	rows   []plainRow
	cells  []PlainCell // of the rows, which point to them; it never grows
	text   bytes.Buffer
	out    *parquet.GenericWriter[plainRow]
}

// PlainCrater is a crater of the table; its neighbours are the other craters that
// reach into its sectors.
type PlainCrater struct {
	ID         string
	Radius     float64 // metres
	Neighbours int
}

// Part makes an empty part.
func (t *PlainTable) Part() *PlainPart {
	room := cellsAtOnce + t.layout.Cells()
	p := &PlainPart{layout: &t.layout, rows: make([]plainRow, 0, room), cells: make([]PlainCell, 0, room)}
	p.out = parquet.NewGenericWriter[plainRow](&p.text, parquetOptions()...)
	return p
}

// Add writes the cells of a crater and a layer, rings first; those of another
// status than ok are not looked at.
func (p *PlainPart) Add(c PlainCrater, layer, unit string, status ejecta.Status, cells []PlainCell) error {
	head := plainRow{CraterID: c.ID, Layer: layer, Unit: unit, Status: string(status), Neighbours: int32(c.Neighbours)}
	if status != ejecta.StatusOK {
		p.rows = append(p.rows, head)
		return p.flush(cellsAtOnce)
	}
	from := len(p.cells)
	p.cells = append(p.cells, cells[:p.layout.Cells()]...)
	for i := range p.layout.Cells() {
		p.rows = append(p.rows, p.row(head, c.Radius, i, &p.cells[from+i]))
	}
	return p.flush(cellsAtOnce)
}

// End ends a part before it is joined to its table.
func (p *PlainPart) End() error {
	if err := p.flush(1); err != nil {
		return err
	}
	return p.out.Close()
}

// flush hands the rows on once there are as many as said.
func (p *PlainPart) flush(least int) error {
	if len(p.rows) < least {
		return nil
	}
	_, err := p.out.Write(p.rows)
	p.rows, p.cells = p.rows[:0], p.cells[:0]
	return err
}

// Join appends the rows of a part, which is then empty. What has been encoded is
// copied as it is.
func (t *PlainTable) Join(p *PlainPart) error {
	f, err := parquet.OpenFile(bytes.NewReader(p.text.Bytes()), int64(p.text.Len()))
	if err != nil {
		return err
	}
	for _, g := range f.RowGroups() {
		if _, err := t.out.WriteRowGroup(g); err != nil {
			return err
		}
	}
	p.text.Reset()
	p.out.Reset(&p.text)
	return nil
}

// row is the row of a cell of a crater.
func (p *PlainPart) row(r plainRow, radius float64, i int, cell *PlainCell) plainRow {
	l := p.layout
	lo, hi, az0, az1 := 0.0, 0.0, 0.0, 360.0
	if k := i - l.Rings(); k < 0 {
		r.Kind, r.Number, lo, hi = "ring", int32(i), l.Edges[i], l.Edges[i+1]
	} else {
		r.Kind, r.Number, lo, hi = "sector", int32(k), l.Edges[l.First], l.Edges[l.Last+1]
		az0, az1 = 360*float64(k)/float64(l.Sectors), 360*float64(k+1)/float64(l.Sectors)
	}
	r.RhoLo, r.RhoHi, r.AzLo, r.AzHi = float32(lo), float32(hi), float32(az0), float32(az1)
	r.Area = float32(planeArea(lo, hi, az0, az1, radius))
	r.Mean, r.SD = unlessNaN(&cell.Mean), unlessNaN(&cell.SD)
	r.Pixels, r.Coverage = int32(cell.Pixels), cell.Coverage
	return r
}

// planeArea is the area of a piece of a ring on a plane; ranges in radii,
// azimuths in degrees.
func planeArea(lo, hi, az0, az1, radius float64) float64 {
	return (hi*hi - lo*lo) * radius * radius * (az1 - az0) / 360 * math.Pi
}

// unlessNaN is a number, or nil when it is none.
func unlessNaN(v *float32) *float32 {
	if x := float64(*v); math.IsNaN(x) || math.IsInf(x, 0) {
		return nil
	}
	return v
}
