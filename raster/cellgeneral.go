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

// smooth interpolates n pixels of a row of a block.
func (r *cellRun) smooth(q *quadratic, n, step int, curv, narrow float64) {
	u, v, area := r.extend(n)
	v, area = v[:len(u)], area[:len(u)]
	inv := 1 / float64(step)
	narrow *= inv * inv
	for i := range u {
		t := float64(i-step) * inv
		x, y := q.u0+t*(q.u1+t*q.u2), q.v0+t*(q.v1+t*q.v2)
		ux, vx := q.u1+2*t*q.u2, q.v1+2*t*q.v2
		uy, vy := q.du0+t*(q.du1+t*q.du2), q.dv0+t*(q.dv1+t*q.dv2)
		u[i], v[i], area[i] = x, y, math.Abs(ux*vy-uy*vx)*narrow*sinc2((x*x+y*y)*curv)
	}
}
