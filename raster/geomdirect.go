package raster

import (
	"math"
	"slices"
)

// blockDirect computes every pixel of a block: its centre, and its corners for
// the area.
func (k *generalKernel) blockDirect(bx, by int) {
	side := k.side
	c, n := side+1, side*side
	total := n + c*c
	k.dx, k.dy, k.dok = sized(k.dx, total), sized(k.dy, total), sized(k.dok, total)
	x, y, ok := k.dx, k.dy, k.dok
	for i := 0; i < n; i++ {
		x[i], y[i] = k.place(float64(bx*side+i%side)+0.5, float64(by*side+i/side)+0.5)
	}
	for i := 0; i < c*c; i++ {
		x[n+i], y[n+i] = k.place(float64(bx*side+i%c), float64(by*side+i/c))
	}
	k.offsets(x, y, ok)
	out := sized(k.direct[bx], n)
	k.direct[bx] = out
	for i := range out {
		out[i] = pixelValue{math.NaN(), 0, 0}
		if !ok[i] {
			continue
		}
		at := n + i/side*c + i%side
		area, whole := cornerArea(x, y, ok, [4]int{at, at + 1, at + c + 1, at + c}, i)
		if !whole {
			area = k.plain
		}
		out[i] = pixelValue{x[i], y[i], area * k.b.narrow}
	}
}

// empty reports whether a block none of whose nodes is a place has no place
// halfway between them either.
func (k *generalKernel) empty(bx, by int) bool {
	k.dx, k.dy, k.dok = k.dx[:0], k.dy[:0], sized(k.dok, 16)
	for i := 0; i < 16; i++ {
		h := float64(k.step) / 2
		x, y := k.place(float64(bx*k.side)+0.5+h*float64(i%4), float64(by*k.side)+0.5+h*float64(i/4))
		k.dx, k.dy = append(k.dx, x), append(k.dy, y)
	}
	inverseAll(k.l.Proj, k.dx, k.dy, k.dok)
	return !slices.Contains(k.dok, true)
}

// cornerArea returns the area of a pixel from its four corners, in order round
// it. Where the outline of the map cuts some off, it takes twice the half on
// the side of two good ones.
func cornerArea(x, y []float64, ok []bool, corner [4]int, centre int) (float64, bool) {
	good := func(i int) bool { return ok[corner[i&3]] }
	if good(0) && good(1) && good(2) && good(3) {
		d1x, d1y := x[corner[2]]-x[corner[0]], y[corner[2]]-y[corner[0]]
		d2x, d2y := x[corner[3]]-x[corner[1]], y[corner[3]]-y[corner[1]]
		return math.Abs(d1x*d2y-d1y*d2x) / 2, true
	}
	for i := range corner {
		if good(i) && good(i+1) {
			a, b := corner[i], corner[(i+1)&3]
			sx, sy := x[b]-x[a], y[b]-y[a]
			hx, hy := (x[a]+x[b])/2-x[centre], (y[a]+y[b])/2-y[centre]
			return 2 * math.Abs(sx*hy-sy*hx), true
		}
	}
	return 0, false
}
