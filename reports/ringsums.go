package reports

import (
	"io"

	"github.com/parquet-go/parquet-go"
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

// PlainTable writes the sums of craters as Parquet, part by part.
type PlainTable struct {
	layout PlainLayout
	out    *parquet.GenericWriter[plainRow]
}

// NewPlainTable begins a table.
func NewPlainTable(w io.Writer, l PlainLayout) *PlainTable {
	return &PlainTable{layout: l, out: parquet.NewGenericWriter[plainRow](w, parquetOptions()...)}
}

// CratersAtOnce is how many craters with a number of layers fill a part.
func (t *PlainTable) CratersAtOnce(layers int) int {
	return max(1, rowGroup/max(1, layers*t.layout.Cells()))
}

// Close ends the table.
func (t *PlainTable) Close() error { return t.out.Close() }
