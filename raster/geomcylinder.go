package raster

import (
	"math"

	"rimcast/geom"
)

// cylinderPatch is the fast path for maps whose columns are meridians and
// whose rows are parallels, on a sphere. All trigonometry is per row and per
// column: with A = sin^2(dphi/2), B = cos(phi) cos(phi0), S = sin^2(dlam/2) the
// haversine of a pixel is A + B S, and its direction is east = cos(phi)
// sin(dlam), north = sin(dphi) + 2 sin(phi0) cos(phi) S. Nothing cancels at
// short range.
func (g *Grid) cylinderPatch(b geom.Body, c *cylindrical, centre geom.LonLat, reach float64, p *Patch) error {
	k := cylinderKernel{p: p}
	r0, r1, err := k.begin(g, b, c, centre, reach)
	if r0, r1 = p.wanted(r0, r1); err != nil || r0 > r1 {
		return err
	}
	for row := r0; row <= r1; row++ {
		k.row(g, c, row)
	}
	if p.Len() > 0 {
		p.boxes = append(p.boxes, span{p.col0 + int(k.minX), r0, p.col0 + int(k.maxX) + 1, r1 + 1, 0, p.Len()})
	}
	return nil
}

// begin tabulates the columns and returns the rows of a crater; none when the
// map is not within reach.
func (k *cylinderKernel) begin(g *Grid, b geom.Body, c *cylindrical, centre geom.LonLat, reach float64) (r0, r1 int, err error) {
	k.radius, k.hmax, k.lat0 = b.SemiMajor, haversineOf(reach/b.SemiMajor), centre.Lat
	k.sin0, k.cos0 = sincosDeg(centre.Lat)
	k.columns(g, c, centre.Lon, g.columnReach(centre, reach/b.SemiMajor))
	r0, r1 = g.rowReach(c, centre.Lat, reach/b.SemiMajor, k.p.Block)
	if r1 < 0 || r0*k.p.Block >= g.Height || !g.columnsMeet(k.p.col0+k.first, k.n, k.p.Block) {
		return 0, -1, nil
	}
	if n := float64(r1-r0+1) * float64(k.n) * math.Pi / 4; n > MaxPatch {
		return 0, -1, tooLarge(reach, n)
	}
	return r0, r1, nil
}

// rowLatitude is the middle and the height of a row of blocks, degrees; false for
// one that is not on the body.
func (g *Grid) rowLatitude(c *cylindrical, row, block int) (lat, dlat float64, ok bool) {
	first, last, n := g.blockLatitudes(c, row, block)
	return (first + last) / 2, math.Abs(last-first) + math.Abs(g.Geo[5]/c.ky), n > 0
}

func haversineOf(angle float64) float64 {
	if angle >= math.Pi {
		return 1
	}
	s := math.Sin(angle / 2)
	return s * s
}

// columnReach returns the largest difference of longitude, in degrees, of a
// place within an angle of the centre; 180 when a pole is within.
func (g *Grid) columnReach(centre geom.LonLat, angle float64) float64 {
	if math.Abs(centre.Lat)+angle/degree >= 90 {
		return 180
	}
	return math.Asin(math.Min(1, math.Sin(angle)/math.Cos(centre.Lat*degree))) / degree
}

// rowReach returns the first and last row, at the level of a block, whose
// centre can lie within an angle of a latitude. Rows beyond a pole do not
// exist.
func (g *Grid) rowReach(c *cylindrical, lat, angle float64, block int) (r0, r1 int) {
	row := func(lat float64) float64 {
		return (c.y0 + c.ky*(lat-c.lat0) - g.Geo[3]) / g.Geo[5] / float64(block)
	}
	a := row(math.Max(-90, lat-angle/degree))
	b := row(math.Min(90, lat+angle/degree))
	return int(math.Floor(math.Min(a, b) - 0.5)), int(math.Ceil(math.Max(a, b) + 0.5))
}

// columnsMeet reports whether n blocks from a column on touch the map.
func (g *Grid) columnsMeet(col, n, block int) bool {
	period := (g.period() + block - 1) / block
	col = floorMod(col, period)
	return col*block < g.Width || col+n > period
}

// blockLatitudes returns the latitudes of the first and last row of a block
// that lie on the body, and the number of such rows.
func (g *Grid) blockLatitudes(c *cylindrical, row, block int) (first, last float64, n int) {
	lat := func(r int) float64 { return c.lat0 + (g.Geo[3]+(float64(r)+0.5)*g.Geo[5]-c.y0)/c.ky }
	a, b := row*block, row*block+block-1
	for a <= b && math.Abs(lat(a)) > 90 {
		a++
	}
	for b >= a && math.Abs(lat(b)) > 90 {
		b--
	}
	return lat(a), lat(b), b - a + 1
}

// cylinderKernel holds the column tables of one crater.
type cylinderKernel struct {
	p          *Patch
	radius     float64
	hmax       float64
	lat0       float64
	sin0, cos0 float64

	rows       []mapRow // of the map, nil without tables
	first      int      // relative column of table entry 0
	n          int
	centre     int // table entry nearest to the crater's meridian
	S, sin, w  []float64
	dlon       float64 // degrees per column
	minX, maxX int32
}

// columns tabulates the columns within half degrees of longitude lon. When
// that is the full circle, each column occurs once and the window is centred
// on the crater.
func (k *cylinderKernel) columns(g *Grid, c *cylindrical, lon, half float64) {
	p := k.p
	period := (g.period() + p.Block - 1) / p.Block
	k.dlon = math.Abs(g.Geo[1]/c.kx) * float64(p.Block)
	reach := int(math.Ceil(half/k.dlon)) + 2
	k.first, k.n = -reach, 2*reach+1
	if k.n >= period {
		k.first, k.n = -(period / 2), period
	}
	k.centre = -k.first
	k.minX, k.maxX = math.MaxInt32, math.MinInt32
	p.s.colS, p.s.colSin, p.s.colN = sized(p.s.colS, k.n), sized(p.s.colSin, k.n), sized(p.s.colN, k.n)
	k.S, k.sin, k.w = p.s.colS, p.s.colSin, p.s.colN
	var table []mapColumn
	k.rows, table = p.tablesOf(g).at(c, p.Level)
	col, whole := floorMod(p.col0+k.first, period), g.period()
	for i := range k.S {
		var m mapColumn
		if table != nil {
			m = table[col]
		} else {
			m = g.columnOf(c, col, p.Block, whole)
		}
		if col++; col == period {
			col = 0
		}
		dl := wrap180(m.lon-lon) * degree
		s := sinNear(dl / 2)
		k.S[i], k.sin[i], k.w[i] = s*s, sinNear(dl), m.width
	}
}

func floorMod(a, n int) int {
	a %= n
	if a < 0 {
		a += n
	}
	return a
}

// rowOf is what a row has, or false when no pixel of it is within reach.
func (k *cylinderKernel) rowOf(g *Grid, c *cylindrical, row int) (r cylinderRow, ok bool) {
	m := mapRow{none: true}
	if row >= 0 && row < len(k.rows) {
		m = k.rows[row]
	} else {
		m = g.rowOf(c, row, k.p.Block)
	}
	dphi := (m.lat - k.lat0) * degree
	A := sinNear(dphi / 2)
	A *= A
	B := m.cos * k.cos0
	if m.none || A > k.hmax {
		return r, false
	}
	lo, hi := k.span((k.hmax - A) / B)
	for lo <= hi && A+B*k.S[lo] > k.hmax {
		lo++
	}
	for lo <= hi && A+B*k.S[hi] > k.hmax {
		hi--
	}
	return cylinderRow{A, B, 2 * k.sin0 * m.cos, sinNear(dphi), m.cos, m.area(k.radius), lo, hi}, lo <= hi
}

// row appends the pixels of one row within reach.
func (k *cylinderKernel) row(g *Grid, proj *cylindrical, row int) {
	c, ok := k.rowOf(g, proj, row)
	if !ok {
		return
	}
	if !k.p.ranges {
		k.piece(&c, row, c.lo, c.hi)
		return
	}
	first, turn := k.p.col0+k.first, (g.Width+k.p.Block-1)/k.p.Block
	k.p.pieces(first+c.lo, first+c.hi, turn, func(lo, hi int) { k.piece(&c, row, lo-first, hi-first) })
}

// piece appends the pixels of a row from table entry lo to hi.
func (k *cylinderKernel) piece(c *cylinderRow, row, lo, hi int) {
	k.minX, k.maxX = min(k.minX, int32(k.first+lo)), max(k.maxX, int32(k.first+hi))
	r := k.p.extend(hi-lo+1, k.first+lo, row-k.p.row0)
	S, sin, w := k.S[lo:hi+1], k.sin[lo:hi+1], k.w[lo:hi+1]
	if !k.p.ranges {
		for i, s := range S {
			r.east[i] = c.E * sin[i]
			r.north[i] = c.D + c.C*s
			r.area[i] = c.strip * w[i]
		}
		directions(r.h, r.az, r.east, r.north)
		if k.hmax <= seriesLimit {
			arcs(r.h, k.radius, k.hmax)
			return
		}
	}
	for i, s := range S {
		r.h[i] = c.A + c.B*s
	}
	ranges(r.h, k.radius, k.hmax)
}

// span returns the table entries whose sin^2(dlam/2) can be within q.
func (k *cylinderKernel) span(q float64) (lo, hi int) {
	if !(q < 1) {
		return 0, k.n - 1
	}
	half := int(arcOfHaversine(q)/degree/k.dlon) + 2
	return max(0, k.centre-half), min(k.n-1, k.centre+half)
}
