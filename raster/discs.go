package raster

import (
	"math"

	"rimcast/geom"
)

// Discs marks which pixels of a window lie near craters. It needs no range of any
// pixel where the map has a closed form: each row of a disc is an interval of
// columns. A Discs must not be shared by goroutines; see Another.
type Discs struct {
	// Marks has a byte for each pixel of the window, row by row: bit k is set where
	// the pixel lies within radius k of a crater.
	Marks []uint8

	g    *Grid
	body geom.Body
	w    LevelWindow
	p    Patch     // tables, and the pixels of maps without a closed form
	mids []float64 // of a crater and its copies, columns from the edge of the window
	row  []discRow // of each disc
}

// discRow is what a row has of a disc: columns from a middle, half as many as they
// are, below zero for none.
type discRow struct{ mid, half float64 }

// mostDiscs is the largest number of radii of one crater.
const mostDiscs = 8

// NewDiscs prepares marks for windows of a map, by ranges on a body.
func NewDiscs(g *Grid, b geom.Body) *Discs {
	return &Discs{g: g, body: b, p: Patch{tables: &mapTables{g: g}}}
}

// Another is the same for another worker.
func (d *Discs) Another() *Discs {
	return &Discs{g: d.g, body: d.body, p: Patch{tables: d.p.tables}}
}

// Begin takes a window without marks.
func (d *Discs) Begin(w LevelWindow) {
	w.check()
	d.w, d.Marks = w, sized(d.Marks, w.Width*w.Height)
	clear(d.Marks)
}

// Add marks the pixels within radii, in metres, the widest first, of a centre. It
// panics for more than eight. Pixels within the rounding of a radius may be marked
// or not. A crater that is no place marks nothing, nor does one whose discs hold too
// many pixels for a patch on a map without a closed form.
func (d *Discs) Add(centre geom.LonLat, radii []float64) {
	if len(radii) > mostDiscs {
		panic("raster: too many radii")
	}
	if len(radii) == 0 || !(radii[0] > 0) || !(math.Abs(centre.Lat) <= 90) || !finite(centre.Lon) {
		return
	}
	d.p.Level, d.p.Block = d.w.Level, 1<<d.w.Level
	d.row = sized(d.row, len(radii))
	switch q := d.g.fastPath(d.body, centre, math.Min(radii[0], 4*d.body.SemiMajor)).(type) {
	case *cylindrical:
		if d.g.period()%d.p.Block == 0 {
			d.cylinder(q, centre, radii)
			return
		}
	case *stereographic:
		d.stereo(q, centre, radii)
		return
	}
	d.general(centre, radii)
}

// cylinder marks discs on a map of meridians and parallels: with A = sin^2(dphi/2)
// and B = cos(phi) cos(phi0) a row is within haversine h where sin^2(dlam/2) is at
// most (h - A)/B.
func (d *Discs) cylinder(c *cylindrical, centre geom.LonLat, radii []float64) {
	block, angle := float64(d.p.Block), radii[0]/d.body.SemiMajor
	x, _, ok := d.g.Pixel(centre)
	dlon := math.Abs(d.g.Geo[1]/c.kx) * block
	if !ok || !d.copies(x/block, d.g.columnReach(centre, math.Min(angle, math.Pi))/dlon) {
		return
	}
	var h [mostDiscs]float64
	for k, r := range radii {
		s := sinNear(math.Min(r/d.body.SemiMajor, math.Pi) / 2)
		h[k] = s * s
	}
	_, cos0 := sincosDeg(centre.Lat)
	rows, _ := d.p.tables.at(c, d.w.Level)
	r0, r1 := d.g.rowReach(c, centre.Lat, angle, d.p.Block)
	for row := max(r0, d.w.Y); row <= min(r1, d.w.Y+d.w.Height-1); row++ {
		m := d.rowAt(c, rows, row)
		A := sinNear((m.lat - centre.Lat) * degree / 2)
		A *= A
		if m.none || A > h[0] {
			continue
		}
		per := 1 / (m.cos * cos0)
		for k := range d.row {
			if d.row[k] = (discRow{0, -1}); h[k] < A {
				break
			}
			d.row[k].half = columnsWithin((h[k]-A)*per, dlon)
		}
		d.mark(row)
	}
}

// rowAt is a row of blocks, which may lie beyond the edge of the map.
func (d *Discs) rowAt(c *cylindrical, rows []mapRow, row int) mapRow {
	if row >= 0 && row < len(rows) {
		return rows[row]
	}
	return d.g.rowOf(c, row, d.p.Block)
}

// columnsWithin is how many columns of some degrees a haversine of longitude
// reaches; all for one or more.
func columnsWithin(q, dlon float64) float64 {
	switch {
	case q < 5e-4: // the next term is below 1e-18
		return 2 * math.Sqrt(q) * (1 + q*(1.0/6+q*(3.0/40+q*(15.0/336+q*(105.0/3456))))) / (degree * dlon)
	case q < 1:
		return arcOfHaversine(q) / (degree * dlon)
	}
	return 360 / dlon
}

// stereo marks discs on a polar stereographic map, where they are discs too.
func (d *Discs) stereo(q *stereographic, centre geom.LonLat, radii []float64) {
	k := stereoKernel{p: &d.p, q: q, radius: d.body.SemiMajor}
	var discs [mostDiscs]stereoFrame
	for i, r := range radii {
		var err error
		if discs[i], err = k.frameOf(d.g, centre, r); err != nil {
			return
		}
	}
	first := &discs[0]
	d.mids = append(d.mids[:0], float64(-d.w.X))
	for row := max(first.r0, d.w.Y); row <= min(first.r1, d.w.Y+d.w.Height-1); row++ {
		for i := range d.row {
			d.row[i] = discs[i].chord(row)
		}
		d.mark(row)
	}
}

// chord is where a row meets the image of a cap.
func (f *stereoFrame) chord(row int) discRow {
	t := (float64(row) + 0.5 - f.y) / f.ry
	if s := 1 - t*t; s >= 0 {
		return discRow{f.x, f.rx * math.Sqrt(s)}
	}
	return discRow{f.x, -1}
}

// copies finds the middles of the copies of a crater whose columns can reach into
// the window, from its left edge on; false when there is none.
func (d *Discs) copies(mid, half float64) bool {
	d.mids = d.mids[:0]
	turn, width := float64(d.turn()), float64(d.w.Width)
	mid -= float64(d.w.X)
	if turn > 0 {
		mid -= turn * math.Floor((mid+half+1)/turn) // the last that ends before column 0
	}
	for ; mid-half < width+1; mid += turn {
		if mid+half > -1 {
			d.mids = append(d.mids, mid)
		}
		if turn == 0 {
			break
		}
	}
	return len(d.mids) > 0
}

// turn is the number of columns of the level after which the map repeats.
func (d *Discs) turn() int { return (d.g.period() + d.p.Block - 1) / d.p.Block }

// mark marks the pixels of a row between the limits, from those of the widest disc
// inwards.
func (d *Discs) mark(row int) {
	from := (row - d.w.Y) * d.w.Width
	marks := d.Marks[from : from+d.w.Width]
	for _, mid := range d.mids {
		a, b := d.row[0].within(mid, 0, len(marks))
		last := len(d.row) - 1
		for k := range last {
			lo, hi := d.row[k+1].within(mid, a, b)
			if lo >= hi {
				last = k
				break
			}
			markAll(marks[a:lo], k)
			markAll(marks[hi:b], k)
			a, b = lo, hi
		}
		if a < b {
			markAll(marks[a:b], last)
		}
	}
}

// within are the columns from lo to hi-1 whose middles a disc holds.
func (r discRow) within(mid float64, lo, hi int) (int, int) {
	mid += r.mid - 0.5
	return max(lo, int(math.Floor(mid-r.half))+1), min(hi, int(math.Ceil(mid+r.half)))
}

// markAll marks pixels within radii 0 to k.
func markAll(marks []uint8, k int) {
	bits := uint8(2<<k - 1)
	for i := range marks {
		marks[i] |= bits
	}
}

// general marks discs by the range of each pixel.
func (d *Discs) general(centre geom.LonLat, radii []float64) {
	w, p := &d.w, &d.p
	if d.g.Ranges(d.body, centre, radii[0], w.Level, p, Window{w.X, w.Y, w.Width, w.Height}) != nil {
		return
	}
	turn := d.turn()
	for i, r := range p.R {
		y, x := p.Row(i)-w.Y, p.Column(i)-w.X
		if y < 0 || y >= w.Height {
			continue
		}
		k := 0
		for k < len(radii) && r < radii[k] {
			k++
		}
		if turn > 0 {
			x = floorMod(x, turn)
		}
		for ; x >= 0 && x < w.Width; x += max(turn, w.Width) {
			d.Marks[y*w.Width+x] |= uint8(1<<k - 1)
		}
	}
}
