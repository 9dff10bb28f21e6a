package raster

import "math"

// cellRun is pixels of a row that are taken together: east and north, and the
// area of each.
type cellRun struct {
	x          int // column of the first, absolute
	u, v, area []float64
}

// cellRow hands the pixels of one row of blocks to the cells.
func (k *generalKernel) cellRow(by, row int) {
	for bx := 0; bx < k.nx; bx++ {
		if k.state[bx] == blockSkip {
			k.flush(by, row)
			continue
		}
		if len(k.at.u) == 0 {
			k.at.x = k.b.x0 + bx*k.side
		}
		n := min(k.side, k.b.x1-(k.b.x0+bx*k.side))
		if k.state[bx] == blockDirect {
			k.at.direct(k.direct[bx][row*k.side:row*k.side+n], k.curv)
			continue
		}
		q := k.quadratic(bx, by, float64(row-k.step)/float64(k.step))
		k.at.smooth(&q, n, k.step, k.curv, k.b.narrow)
	}
	k.flush(by, row)
}

// flush sums what has been gathered of a row.
func (k *generalKernel) flush(by, row int) {
	n := len(k.at.u)
	if n == 0 {
		return
	}
	c := k.cells
	c.cells = sized(c.cells, n)
	c.t.squares(c.cells, k.at.u, k.at.v, 1/(k.reach*k.reach))
	if err := c.add(c.cells, k.at.area, 1, k.at.x, k.b.y0+by*k.side+row); err != nil && k.fault == nil {
		k.fault = err
	}
	k.at.u, k.at.v, k.at.area = k.at.u[:0], k.at.v[:0], k.at.area[:0]
}

// extend makes room for n pixels.
func (r *cellRun) extend(n int) (u, v, area []float64) {
	from := len(r.u)
	r.u, r.v, r.area = grow(r.u, n)[:from+n], grow(r.v, n)[:from+n], grow(r.area, n)[:from+n]
	return r.u[from:], r.v[from:], r.area[from:]
}

func (r *cellRun) direct(pixels []pixelValue, curv float64) {
	u, v, area := r.extend(len(pixels))
	for i, p := range pixels {
		u[i], v[i], area[i] = p.u, p.v, p.area*sinc2((p.u*p.u+p.v*p.v)*curv)
	}
}

// smooth interpolates n pixels of a row of a block. Area, like east and north, is
// a quadratic, through its values at the nodes.
func (r *cellRun) smooth(q *quadratic, n, step int, curv, narrow float64) {
	u, v, area := r.extend(n)
	v, area = v[:len(u)], area[:len(u)]
	inv := 1 / float64(step)
	a, b, c := q.area(-1, curv), q.area(0, curv), q.area(1, curv)
	narrow *= inv * inv
	a0, a1, a2 := b*narrow, (c-a)/2*narrow, ((c+a)/2-b)*narrow
	u0, u1, u2, v0, v1, v2 := q.u0, q.u1, q.u2, q.v0, q.v1, q.v2
	for i := range u {
		t := float64(i-step) * inv
		u[i], v[i], area[i] = u0+t*(u1+t*u2), v0+t*(v1+t*v2), a0+t*(a1+t*a2)
	}
}

// area is the ground area of a square of the nodes at t.
func (q *quadratic) area(t, curv float64) float64 {
	u, v := q.at(t)
	ux, vx, uy, vy := q.slope(t, 1)
	return math.Abs(ux*vy-uy*vx) * sinc2((u*u+v*v)*curv)
}
