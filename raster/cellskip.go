package raster

import "math"

// Where the cells of a map are wider than some pixels, most pixels of a row lie
// between two of the same cell. Along a row of a map of meridians and parallels, on
// one side of the meridian of the crater, the range grows with the difference of
// longitude, and the azimuth turns one way but for one place: with S the haversine
// of the difference, its derivative has the sign of D - S(C+2D). So a block whose
// two ends lie in one cell, and which has neither the meridian nor that place
// within it, lies in that cell as a whole, to the last pixel. On polar
// stereographic maps the same holds between other places.

// leastRun is the mean run of pixels of a row in a cell from which on looking at
// blocks pays.
var leastRun = 7.0

// skipBlock is the pixels of a block.
const skipBlock = 8

// blockEnds are the columns at the ends of blocks, of all rows of a crater.
type blockEnds struct {
	S, sin []float64 // of every skipBlock-th column
	cells  []uint16  // of a row
	area   []float64 // of a row, where that of each pixel is its own
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

// stereoSkipping is stereo for a whole row. A row is a circle through the centre of
// the projection: range and azimuth turn where it is nearest to the crater and
// where a meridian of the crater touches it, see turns.
func (t *cellTables) stereoSkipping(dst []uint16, area []float64, k *stereoKernel, r *stereoRow, e *blockEnds, scale float64) {
	blocks, from := (len(dst)-1)/skipBlock, 0
	e.cells, e.area = sized(e.cells, blocks+1), sized(e.area, blocks+1)
	t.stereo(e.cells, e.area, k, r, 0, skipBlock, scale)
	for i := range blocks {
		at := i * skipBlock
		if e.cells[i] != e.cells[i+1] || k.turns(r, at, at+skipBlock) {
			continue
		}
		if from < at {
			t.stereo(dst[from:at], area[from:], k, r, from, 1, scale)
		}
		from = at + skipBlock
		fillCells((*[skipBlock]uint16)(dst[at:]), e.cells[i])
		k.areas(area[at:from], r, at)
	}
	if from < len(dst) {
		t.stereo(dst[from:], area[from:], k, r, from, 1, scale)
	}
}

// turns reports whether range or azimuth may turn between two pixels of a row: one
// part of the derivative of the logarithm of the place, seen from the crater,
// changes its sign. With P and C of stereoPatch that derivative is a positive
// number over (P-C)(1+conj(C)P).
func (k *stereoKernel) turns(r *stereoRow, i, j int) bool {
	outward0, sideward0 := k.motion(r, i)
	outward1, sideward1 := k.motion(r, j)
	return !(outward0*outward1 > 0 && sideward0*sideward1 > 0)
}

// motion is (P-C)(1+conj(C)P) at a pixel of a row.
func (k *stereoKernel) motion(r *stereoRow, i int) (re, im float64) {
	u := r.u0 + float64(r.lo-r.x0+i)*r.du
	d, dv := u-k.a, r.v-k.b
	m, n := 1+k.a*u+k.b*r.v, k.a*r.v-k.b*u
	return d*m - dv*n, d*n + dv*m
}

// areas are those of pixels of a row from one on, as stereo finds them but for the
// last bit.
func (k *stereoKernel) areas(area []float64, r *stereoRow, from int) {
	first, v1 := r.lo-r.x0+from, 1+r.v*r.v
	for i := range area {
		u := r.u0 + float64(first+i)*r.du
		inv := 1 / (v1 + u*u)
		area[i] = inv * inv
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
