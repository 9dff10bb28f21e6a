package raster

import (
	"math"

	"rimcast/geom"
)

// Nearest returns the values that the first layer of another patch, of grid og
// and round the same place, has at the pixel centres of a patch of grid g: those
// of the pixels that hold them, NaN for none.
func (p *Patch) Nearest(g *Grid, other *Patch, og *Grid, place geom.LonLat) []float64 {
	n := nearest{p: p, g: g, og: og, other: other, turn: (og.Width + other.Block - 1) / other.Block}
	n.index()
	out := make([]float64, p.Len())
	if g.cylinder() != nil && og.cylinder() != nil {
		n.byColumns(out)
		return out
	}
	frame := geom.NewFrame(g.Body, place)
	for i := range out {
		x, y, ok := og.Pixel(frame.LonLat(p.R[i], p.Az[i]))
		out[i] = math.NaN()
		if ok {
			out[i] = n.value(n.pixel(x), n.pixel(y))
		}
	}
	return out
}

// nearest looks up pixels of a patch by column and row.
type nearest struct {
	p, other *Patch
	g, og    *Grid
	turn     int // columns of the other grid in one turn
	x0, y0   int
	w, h     int
	at       []int32 // number of a pixel and 1
}

// noPixel is no column and no row.
const noPixel = math.MinInt32

// index notes where each pixel of the other patch is.
func (n *nearest) index() {
	x, y := bounds(n.other.X), bounds(n.other.Y)
	n.x0, n.w = n.other.col0+x[0], x[1]-x[0]+1
	n.y0, n.h = n.other.row0+y[0], y[1]-y[0]+1
	n.at = make([]int32, n.w*n.h)
	for i := range n.other.X {
		n.at[(n.other.Row(i)-n.y0)*n.w+n.other.Column(i)-n.x0] = int32(i + 1)
	}
}

// bounds are the least and the largest of some numbers.
func bounds(v []int32) [2]int {
	if len(v) == 0 {
		return [2]int{0, -1}
	}
	lo, hi := v[0], v[0]
	for _, x := range v {
		lo, hi = min(lo, x), max(hi, x)
	}
	return [2]int{int(lo), int(hi)}
}

// pixel is the pixel of the other patch at a coordinate of its grid.
func (n *nearest) pixel(x float64) int { return int(math.Floor(x / float64(n.other.Block))) }

// value is the value in a column, or a turn from it, and row.
func (n *nearest) value(col, row int) float64 {
	if row -= n.y0; row < 0 || row >= n.h || col == noPixel {
		return math.NaN()
	}
	for _, c := range [3]int{col - n.x0, col - n.x0 - n.turn, col - n.x0 + n.turn} {
		if c >= 0 && c < n.w {
			if i := n.at[row*n.w+c]; i > 0 {
				return float64(n.other.Values[0][i-1])
			}
		}
	}
	return math.NaN()
}

// byColumns is for two grids whose columns are meridians and whose rows are
// parallels: each is looked up once.
func (n *nearest) byColumns(out []float64) {
	x, y := bounds(n.p.X), bounds(n.p.Y)
	cols, rows := make([]int, x[1]-x[0]+1), make([]int, y[1]-y[0]+1)
	for i := range cols {
		cols[i] = n.column(n.p.col0 + x[0] + i)
	}
	for i := range rows {
		rows[i] = n.row(n.p.row0 + y[0] + i)
	}
	for i := range out {
		out[i] = n.value(cols[int(n.p.X[i])-x[0]], rows[int(n.p.Y[i])-y[0]])
	}
}

// column is the column of the other patch at the middle of one of the patch.
func (n *nearest) column(col int) int {
	c, b, width := n.g.cylinder(), n.p.Block, float64(n.p.Block)
	at := float64(col) * width
	if period := n.g.period(); period > 0 {
		turn := (period + b - 1) / b
		at = float64(floorMod(col, turn)) * float64(b)
		width = math.Min(width, float64(period)-at)
	}
	lon := c.lon0 + (n.g.Geo[0]+(at+width/2)*n.g.Geo[1]-c.x0)/c.kx
	x, _, ok := n.og.Pixel(geom.LonLat{Lon: lon})
	if !ok {
		return noPixel
	}
	return n.pixel(x)
}

// row is the row of the other patch at the middle of one of the patch.
func (n *nearest) row(row int) int {
	lat, _, ok := n.g.rowLatitude(n.g.cylinder(), row, n.p.Block)
	if !ok {
		return noPixel
	}
	lat = toCentric(lat, n.g.cylinder().rf)
	_, y, ok := n.og.Pixel(geom.LonLat{Lat: lat})
	if !ok {
		return noPixel
	}
	return n.pixel(y)
}
