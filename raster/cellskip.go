package raster

import "math"

// Where the cells of a map are wider than some pixels, most pixels of a row lie
// between two of the same cell. Along a row of a map of meridians and parallels, on
// one side of the meridian of the crater, the range grows with the difference of
// longitude, and the azimuth turns one way but for one place: with S the haversine
// of the difference, its derivative has the sign of D - S(C+2D). So a block whose
// two ends lie in one cell, and which has neither the meridian nor that place
// within it, lies in that cell as a whole, to the last pixel.

// leastRun is the mean run of pixels of a row in a cell from which on looking at
// blocks pays.
var leastRun = 8.0

// skipBlock is the pixels of a block.
const skipBlock = 8

// blockEnds are the columns at the ends of blocks, of all rows of a crater.
type blockEnds struct {
	S, sin []float64 // of every skipBlock-th column
	cells  []uint16  // of a row
}

// gather takes the ends from the columns.
func (e *blockEnds) gather(S, sin []float64) {
	n := (len(S) + skipBlock - 1) / skipBlock
	e.S, e.sin, e.cells = sized(e.S, n), sized(e.sin, n), sized(e.cells, n)
	for i := range n {
		e.S[i], e.sin[i] = S[i*skipBlock], sin[i*skipBlock]
	}
}

// skipping is cylinder for the columns of a row from lo to hi, hi included.
func (t *cellTables) skipping(dst []uint16, r *cylinderRow, m *cylinderKernel, e *blockEnds, scale float64) {
	first, last := (r.lo+skipBlock-1)/skipBlock, r.hi/skipBlock
	from, to := r.lo, r.hi+1 // columns not done
	if first < last {
		t.cylinder(e.cells[first:last+1], r, e.S[first:], e.sin[first:], scale)
		turn := r.C + 2*r.D
		for i := first; i < last; i++ {
			if e.cells[i] != e.cells[i+1] || !(e.sin[i]*e.sin[i+1] > 0) || !((r.D-e.S[i]*turn)*(r.D-e.S[i+1]*turn) > 0) {
				continue
			}
			at := i * skipBlock
			if from < at {
				t.cylinder(dst[from-r.lo:at-r.lo], r, m.S[from:], m.sin[from:], scale)
			}
			from = at + skipBlock
			fillCells((*[skipBlock]uint16)(dst[at-r.lo:]), e.cells[i])
		}
	}
	if from < to {
		t.cylinder(dst[from-r.lo:], r, m.S[from:], m.sin[from:], scale)
	}
}

func fillCells(block *[skipBlock]uint16, cell uint16) {
	*block = [skipBlock]uint16{cell, cell, cell, cell, cell, cell, cell, cell}
}

// crossings is how many cells a straight line as long as the reach crosses, on the
// mean over all pixels and directions.
func (l *CellLayout) crossings() float64 {
	sum := float64(l.Sectors) / math.Pi
	for k := range l.Rings() {
		sum += l.Edges[k] + l.Edges[k+1]
	}
	return sum * 2 / math.Pi
}
