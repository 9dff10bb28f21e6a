package raster

import (
	"math"

	"rimcast/geom"
)

// The general path serves every projection and body. Pixel centres on nodes
// k.step pixels apart are turned into places and then into east and north
// along the geodesic from the crater; between nodes these two smooth functions
// are interpolated by quadratics. Each block of pixels is compared with the
// exact value at two places halfway between nodes, and is computed pixel by
// pixel where they differ, or where a node has no place.
const (
	// closeNodes and wideNodes are the pixels between nodes that are tried for a
	// patch, wide ones first, and widestNodes those for cells.
	closeNodes  = 8
	wideNodes   = 16
	widestNodes = 32
	// maxError is the largest difference accepted at the test places, in
	// pixels.
	maxError = 0.002
)

// generalBox is a rectangle of level pixels inside one copy of the map.
type generalBox struct {
	span
	shift  int     // columns to subtract for the column of the map
	dx     float64 // pixel centre less 0.5
	narrow float64 // width of the pixels relative to whole ones
}

func (g *Grid) generalPatch(b geom.Body, centre geom.LonLat, reach float64, p *Patch) error {
	k := &p.s.general
	k.p, k.l, k.f, k.reach, k.plain = p, g.level(p.Level), newFrame(b, centre), reach, 0
	k.firstStep(g.pixelAngle(b) * float64(p.Block))
	k.curv = k.f.curvature()
	k.plain = math.Abs(k.l.Geo[1]*k.l.Geo[5] - k.l.Geo[2]*k.l.Geo[4])
	if lib, ok := g.Proj.(*library); ok {
		k.plain *= lib.c.unit * lib.c.unit
	}
	boxes := g.generalBoxes(b, centre, reach, p)
	n := 0.0
	for _, box := range boxes {
		n += float64(box.x1-box.x0) * float64(box.y1-box.y0)
	}
	if n > 2*MaxPatch {
		return tooLarge(reach, n)
	}
	for _, box := range boxes {
		k.box(box)
	}
	if p.Len() > MaxPatch {
		return tooLarge(reach, float64(p.Len()))
	}
	return nil
}

// generalBoxes returns the rectangles that hold the cap.
func (g *Grid) generalBoxes(b geom.Body, centre geom.LonLat, reach float64, p *Patch) []generalBox {
	if c := g.cylinder(); c != nil && g.period() > 0 {
		return g.cylinderBoxes(b, c, centre, reach, p)
	}
	return g.capBoxes(b, centre, reach, p)
}

// pixelAngle returns about how much of the body's radius a pixel covers.
func (g *Grid) pixelAngle(b geom.Body) float64 {
	px := math.Sqrt(math.Abs(g.Geo[1]*g.Geo[5] - g.Geo[2]*g.Geo[4]))
	if c := g.cylinder(); c != nil {
		return px / math.Sqrt(math.Abs(c.kx*c.ky)) * degree
	}
	return px / b.SemiMajor
}

type generalKernel struct {
	p     *Patch
	first int // pixels between nodes that are tried first
	step  int // pixels between nodes
	side  int // pixels along the side of a block of 3 x 3 nodes
	l     Grid
	f     frame
	curv  float64
	reach float64
	plain float64 // area of a pixel on the map, for pixels that the edge of the outline cuts

	b      generalBox
	nx, ny int // blocks
	u, v   []float64
	ok     []bool
	state  []blockState // of one row of blocks
	direct [][]pixelValue
	dx, dy []float64 // of the pixels of one block
	dok    []bool

	cells *cellKernel // takes the pixels in place of the patch, unless nil
	fault error       // of that
	at    cellRun
}

type blockState int

const (
	blockSkip blockState = iota
	blockSmooth
	blockDirect
)

type pixelValue struct{ u, v, area float64 } // u = NaN: no place

// box appends the pixels of one box within reach, row by row.
func (k *generalKernel) box(b generalBox) {
	if b.x1 <= b.x0 || b.y1 <= b.y0 {
		return
	}
	k.b = b
	from := k.p.Len()
	if k.cells != nil {
		k.p.boxes = append(k.p.boxes[:0], b.span)
	}
	for k.step = k.first; ; k.step /= 2 {
		k.lattice()
		if k.step <= closeNodes || k.rough()*k.side*k.side <= 12*k.nx*k.ny {
			break // nodes half as far apart would cost more than single pixels
		}
	}
	k.state = sized(k.state, k.nx)
	k.direct = sized(k.direct, k.nx)
	for by := 0; by < k.ny; by++ {
		for bx := 0; bx < k.nx; bx++ {
			k.judge(bx, by)
		}
		for row := by * k.side; row < (by+1)*k.side && b.y0+row < b.y1; row++ {
			if k.cells != nil {
				k.cellRow(by, row-by*k.side)
				continue
			}
			for bx := 0; bx < k.nx; bx++ {
				k.emit(bx, by, row-by*k.side)
			}
		}
	}
	if to := k.p.Len(); to > from {
		b.from, b.to = from, to
		k.p.boxes = append(k.p.boxes, b.span)
	}
}

// firstStep chooses the nodes to try first for pixels of some angle.
func (k *generalKernel) firstStep(pixel float64) {
	k.first = wideNodes
	switch {
	case pixel > 1.5e-3:
		k.first = closeNodes
	case k.cells != nil && pixel < 5e-4:
		k.first = widestNodes
	}
}

// lattice lays nodes over the box.
func (k *generalKernel) lattice() {
	b := &k.b
	k.side = 2 * k.step
	k.nx, k.ny = (b.x1-b.x0+k.side-1)/k.side, (b.y1-b.y0+k.side-1)/k.side
	k.nodes()
}

// rough counts the blocks that nodes as far apart do not serve.
func (k *generalKernel) rough() (n int) {
	for i := range k.nx * k.ny {
		if s, any := k.kind(i%k.nx, i/k.nx); s == blockDirect && any {
			n++
		}
	}
	return n
}

// place returns the pixel coordinates on the map of a pixel coordinate of the
// box.
func (k *generalKernel) place(x, y float64) (mx, my float64) {
	return k.l.xy(float64(k.b.x0-k.b.shift)+x+k.b.dx, float64(k.b.y0)+y)
}

// nodes computes all nodes of the box, and after them two test places for each
// block.
func (k *generalKernel) nodes() {
	w, h := 2*k.nx+1, 2*k.ny+1
	n := w*h + 2*k.nx*k.ny
	k.u, k.v, k.ok = sized(k.p.s.f64[0], n), sized(k.p.s.f64[1], n), sized(k.p.s.ok, n)
	k.p.s.f64[0], k.p.s.f64[1], k.p.s.ok = k.u, k.v, k.ok
	for j := 0; j < h; j++ {
		for i := 0; i < w; i++ {
			k.u[j*w+i], k.v[j*w+i] = k.place(float64(k.step*i)+0.5, float64(k.step*j)+0.5)
		}
	}
	for i := 0; i < k.nx*k.ny; i++ {
		x, y := float64(i%k.nx*k.side)+0.5, float64(i/k.nx*k.side)+0.5
		t := w*h + 2*i
		near, far := float64(k.step)/2, float64(k.step)*3/2
		k.u[t], k.v[t] = k.place(x+near, y+far)
		k.u[t+1], k.v[t+1] = k.place(x+far, y+near)
	}
	k.offsets(k.u, k.v, k.ok)
}

// offsets turns map coordinates into east and north, in place.
func (k *generalKernel) offsets(x, y []float64, ok []bool) {
	inverseAll(k.l.Proj, x, y, ok)
	for i := range x {
		if ok[i] {
			x[i], y[i] = k.f.offset(geom.LonLat{Lon: x[i], Lat: y[i]})
		}
	}
}

// judge decides how a block is computed, and computes it where its nodes do not
// serve.
func (k *generalKernel) judge(bx, by int) {
	s, any := k.kind(bx, by)
	if s == blockDirect && !any && !k.hasPole(bx, by) && k.empty(bx, by) {
		s = blockSkip
	}
	if k.state[bx] = s; s == blockDirect {
		k.blockDirect(bx, by)
	}
}

// kind is how a block is computed, and whether any of its nodes is a place.
func (k *generalKernel) kind(bx, by int) (s blockState, any bool) {
	w := 2*k.nx + 1
	near, far, all := math.Inf(1), 0.0, true
	for j := 0; j < 3; j++ {
		for i := 0; i < 3; i++ {
			n := (2*by+j)*w + 2*bx + i
			all, any = all && k.ok[n], any || k.ok[n]
			if k.ok[n] {
				r := k.u[n]*k.u[n] + k.v[n]*k.v[n]
				near, far = math.Min(near, r), math.Max(far, r)
			}
		}
	}
	near, far = math.Sqrt(near), math.Sqrt(far)
	switch {
	case all && near > k.reach+(far-near):
		return blockSkip, any
	case all && k.smooth(bx, by):
		return blockSmooth, any
	}
	return blockDirect, any
}

// hasPole reports whether the image of a pole, where a map may come to a point,
// lies in a block.
func (k *generalKernel) hasPole(bx, by int) bool {
	for _, lat := range [2]float64{-90, 90} {
		x, y, ok := k.l.Proj.Forward(geom.LonLat{Lat: lat})
		if !ok {
			continue
		}
		px, py := k.l.pixel(x, y)
		px, py = px-float64(k.b.x0-k.b.shift+bx*k.side), py-float64(k.b.y0+by*k.side)
		if m := float64(k.side); px > -1 && px < m+1 && py > -1 && py < m+1 {
			return true
		}
	}
	return false
}

// smooth compares the interpolation with the two test places of a block.
func (k *generalKernel) smooth(bx, by int) bool {
	t := (2*k.nx+1)*(2*k.ny+1) + 2*(by*k.nx+bx)
	for n, at := range [2][2]float64{{-0.5, 0.5}, {0.5, -0.5}} {
		q := k.quadratic(bx, by, at[1])
		u, v := q.at(at[0])
		ux, vx, uy, vy := q.slope(at[0], 1/float64(k.step))
		size := math.Sqrt(math.Abs(ux*vy - uy*vx))
		if !k.ok[t+n] || !(math.Hypot(u-k.u[t+n], v-k.v[t+n]) <= maxError*size) {
			return false
		}
	}
	return true
}

// quadratic is the interpolation along one row of a block: u = u0 + t u1 +
// t^2 u2 with t from -1 to 1, and the same for v and for their slopes across
// rows.
type quadratic struct{ u0, u1, u2, v0, v1, v2, du0, du1, du2, dv0, dv1, dv2 float64 }

func (q *quadratic) at(t float64) (u, v float64) {
	return q.u0 + t*(q.u1+t*q.u2), q.v0 + t*(q.v1+t*q.v2)
}

// slope returns the derivatives per pixel; s is 1 over the step of the nodes.
func (q *quadratic) slope(t, s float64) (ux, vx, uy, vy float64) {
	return s * (q.u1 + 2*t*q.u2), s * (q.v1 + 2*t*q.v2),
		s * (q.du0 + t*(q.du1+t*q.du2)), s * (q.dv0 + t*(q.dv1+t*q.dv2))
}

// quadratic returns the interpolation along the row at s of a block, with s
// from -1 at its first nodes to 1 at its last.
func (k *generalKernel) quadratic(bx, by int, s float64) (q quadratic) {
	w := 2*k.nx + 1
	n := 2*by*w + 2*bx
	var c, d [2][3]float64
	for i := 0; i < 3; i++ {
		for m, f := range [2][]float64{k.u, k.v} {
			a, b, e := f[n+i], f[n+w+i], f[n+2*w+i]
			one, two := (e-a)/2, (e+a)/2-b
			c[m][i], d[m][i] = b+s*(one+s*two), one+2*s*two
		}
	}
	q.u0, q.u1, q.u2 = c[0][1], (c[0][2]-c[0][0])/2, (c[0][2]+c[0][0])/2-c[0][1]
	q.v0, q.v1, q.v2 = c[1][1], (c[1][2]-c[1][0])/2, (c[1][2]+c[1][0])/2-c[1][1]
	q.du0, q.du1, q.du2 = d[0][1], (d[0][2]-d[0][0])/2, (d[0][2]+d[0][0])/2-d[0][1]
	q.dv0, q.dv1, q.dv2 = d[1][1], (d[1][2]-d[1][0])/2, (d[1][2]+d[1][0])/2-d[1][1]
	return q
}

// emit appends the pixels of one row of a block.
func (k *generalKernel) emit(bx, by, row int) {
	if k.state[bx] == blockSkip {
		return
	}
	p := k.p
	x0 := k.b.x0 + bx*k.side
	n := min(k.side, k.b.x1-x0)
	X, Y := int32(x0-p.col0), int32(k.b.y0+by*k.side+row-p.row0)
	if k.state[bx] == blockDirect {
		for i, d := range k.direct[bx][row*k.side : row*k.side+n] {
			k.add(X+int32(i), Y, d.u, d.v, d.area)
		}
		return
	}
	q := k.quadratic(bx, by, float64(row-k.step)/float64(k.step))
	k.at.u, k.at.v, k.at.area = k.at.u[:0], k.at.v[:0], k.at.area[:0]
	k.at.smooth(&q, n, k.step, k.curv, k.b.narrow)
	for from := 0; from < n; {
		to := k.at.within(from, k.reach*k.reach)
		if to > from {
			k.addRun(X+int32(from), Y, from, to)
		}
		from = max(to, from+1)
	}
}

// within is the end of the pixels from one on that are within reach.
func (r *cellRun) within(from int, reach2 float64) int {
	u, v := r.u[from:], r.v[from:]
	for i := range u {
		if u[i]*u[i]+v[i]*v[i] > reach2 {
			return from + i
		}
	}
	return len(r.u)
}

// addRun appends gathered pixels, all within reach.
func (k *generalKernel) addRun(x, y int32, from, to int) {
	r := k.p.extend(to-from, int(x), int(y))
	copy(r.area, k.at.area[from:to])
	copy(r.east, k.at.u[from:to])
	copy(r.north, k.at.v[from:to])
	directions(r.h, r.az, r.east, r.north)
}

// add appends a pixel; area is that on the plane of east and north.
func (k *generalKernel) add(x, y int32, u, v, area float64) {
	r2 := u*u + v*v
	if !(r2 <= k.reach*k.reach) {
		return
	}
	p := k.p
	n := p.extend(1, int(x), int(y))
	n.area[0], n.east[0], n.north[0] = area*sinc2(r2*k.curv), u, v
	directions(n.h, n.az, n.east, n.north)
}
