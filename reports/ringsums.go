package reports

import (
	"io"
	"math"

	"github.com/parquet-go/parquet-go"

	"rimcast/ejecta"
	"rimcast/geom"
)

// PlainCell is what the pixels of a layer are over a ring or a sector, without
// any test: valid pixels of the map, valid share of the cell, mean and standard
// deviation by area. Without a valid pixel mean and deviation are NaN.
type PlainCell struct {
	Pixels, Coverage, Mean, SD float32
}

// PlainLayout are the cells round every crater: rings between rising ranges, in
// crater radii, and equal sectors, clockwise from north, over some of the rings.
type PlainLayout struct {
	Edges   []float64
	Sectors int
	// First and Last are the rings that the sectors cover.
	First, Last int
}

// NewPlainLayout puts the sectors over the rings of the ejecta, 1.1 to 2.5 radii;
// without such a ring there are none.
func NewPlainLayout(edges []float64, sectors int) PlainLayout {
	l := PlainLayout{Edges: edges, Sectors: sectors, First: -1}
	for k := range l.Rings() {
		if l.Edges[k] >= ejectaLo && l.Edges[k+1] <= ejectaHi {
			if l.Last = k; l.First < 0 {
				l.First = k
			}
		}
	}
	if l.First < 0 {
		l.Sectors = 0
	}
	return l
}

// Rings is the number of rings.
func (l *PlainLayout) Rings() int { return len(l.Edges) - 1 }

// Cells is the number of rings and sectors.
func (l *PlainLayout) Cells() int { return l.Rings() + l.Sectors }

// plainRow is a ring or a sector of a crater and a layer. A crater that has no
// sums has one row with its status. Names and meanings: README.
type plainRow struct {
	CraterID   string   `parquet:"crater_id,dict"`
	Layer      string   `parquet:"layer,dict"`
	Unit       string   `parquet:"unit,dict"`
	Status     string   `parquet:"status,dict"`
	Neighbours int32    `parquet:"neighbours"`
	Kind       string   `parquet:"kind,dict"` // ring, sector, or empty
	Number     int32    `parquet:"number"`
	RhoLo      float32  `parquet:"rho_lo"`
	RhoHi      float32  `parquet:"rho_hi"`
	AzLo       float32  `parquet:"az_lo_deg"`
	AzHi       float32  `parquet:"az_hi_deg"`
	Area       float32  `parquet:"area_m2"` // of the whole cell, on a plane
	Mean       *float32 `parquet:"mean,optional"`
	SD         *float32 `parquet:"sd,optional"`
	Pixels     int32    `parquet:"pixels"`
	Coverage   float32  `parquet:"coverage"`
}

// PlainTable writes the sums of craters one after the other as Parquet.
type PlainTable struct {
	layout PlainLayout
	out    *parquet.GenericWriter[plainRow]
	rows   []plainRow
}

// NewPlainTable begins a table.
func NewPlainTable(w io.Writer, l PlainLayout) *PlainTable {
	return &PlainTable{layout: l, out: parquet.NewGenericWriter[plainRow](w, parquetOptions()...)}
}

// Add writes the cells of a crater and a layer, rings first; those of another
// status than ok are not looked at. neighbours are the other craters that reach
// into its sectors.
func (t *PlainTable) Add(c *geom.Crater, layer, unit string, status ejecta.Status, neighbours int, cells []PlainCell) error {
	head := plainRow{CraterID: c.ID, Layer: layer, Unit: unit, Status: string(status), Neighbours: int32(neighbours)}
	if status != ejecta.StatusOK {
		t.rows = append(t.rows, head)
		return t.flush(cellsAtOnce)
	}
	for i := range t.layout.Cells() {
		t.rows = append(t.rows, t.row(head, c.Radius, i, cells[i]))
	}
	return t.flush(cellsAtOnce)
}

// row is the row of a cell of a crater.
func (t *PlainTable) row(r plainRow, radius float64, i int, cell PlainCell) plainRow {
	l := &t.layout
	lo, hi, az0, az1 := 0.0, 0.0, 0.0, 360.0
	if k := i - l.Rings(); k < 0 {
		r.Kind, r.Number, lo, hi = "ring", int32(i), l.Edges[i], l.Edges[i+1]
	} else {
		r.Kind, r.Number, lo, hi = "sector", int32(k), l.Edges[l.First], l.Edges[l.Last+1]
		az0, az1 = 360*float64(k)/float64(l.Sectors), 360*float64(k+1)/float64(l.Sectors)
	}
	r.RhoLo, r.RhoHi, r.AzLo, r.AzHi = float32(lo), float32(hi), float32(az0), float32(az1)
	r.Area = float32(planeArea(lo, hi, az0, az1, radius))
	r.Mean, r.SD = orNull(float64(cell.Mean)), orNull(float64(cell.SD))
	r.Pixels, r.Coverage = int32(cell.Pixels), cell.Coverage
	return r
}

// planeArea is the area of a piece of a ring on a plane; ranges in radii,
// azimuths in degrees.
func planeArea(lo, hi, az0, az1, radius float64) float64 {
	return (hi*hi - lo*lo) * radius * radius * (az1 - az0) / 360 * math.Pi
}

// flush hands the rows on once there are as many as said.
func (t *PlainTable) flush(least int) error {
	if len(t.rows) < least {
		return nil
	}
	_, err := t.out.Write(t.rows)
	t.rows = t.rows[:0]
	return err
}

// Close ends the table.
func (t *PlainTable) Close() error {
	if err := t.flush(1); err != nil {
		return err
	}
	return t.out.Close()
}
