package raster

import "math"

// The cells of the pixels of a row, for each closed form. These loops have no
// transcendental function: what a row or a column shares is in tables.

// cylinderRow is what the pixels of a row of a cylindrical map share: see
// cylinderPatch.
type cylinderRow struct {
	A, B, C, D, E float64
	strip         float64 // area for each radian of longitude
	lo, hi        int     // table entries within reach, hi included
}

// cylinder finds the cells of a row; scale turns haversines into the measure of
// the tables.
func (t *cellTables) cylinder(dst []uint16, r *cylinderRow, S, sin []float64, scale float64) {
	A, B, C, D, E := r.A*scale, r.B*scale, r.C, r.D, r.E
	S, sin = S[:len(dst)], sin[:len(dst)]
	for i := range dst {
		v := S[i]
		q := A + B*v
		k := t.ring[int(q*ringSteps)&(2*ringSteps-1)]
		for q >= t.limit[k] {
			k++
		}
		x, y := E*sin[i], D+C*v
		p := x / (math.Abs(x) + math.Abs(y) + least)
		if y < 0 {
			p = 2 - p
		}
		j := t.turn[int((p+1)*turnSteps)&(8*turnSteps-1)]
		for p >= t.until[j] {
			j++
		}
		dst[i] = t.base[k] + t.place[j]
	}
}

// stereo finds the cells and areas of pixels of a row, from one on in steps, like
// stereoKernel.fill. Both divisions of a pixel are made at once.
func (t *cellTables) stereo(dst []uint16, area []float64, k *stereoKernel, r *stereoRow, from, step int, scale float64) {
	u0, v, du, first := r.u0, r.v, r.du, r.lo-r.x0+from
	dv, v1, m0, n0 := v-k.b, 1+v*v, 1+k.b*v, k.a*v
	scale /= k.c1
	area = area[:len(dst)]
	for i := range dst {
		u := u0 + float64(first)*du
		first += step
		d := u - k.a
		m, n := m0+k.a*u, n0-k.b*u
		re, im := d*m+dv*n, dv*m-d*n
		x, y := k.ns*re-k.nc*im, k.nc*re+k.ns*im
		l, w := math.Abs(x)+math.Abs(y)+least, v1+u*u
		both := 1 / (l * w)
		inv := both * l
		area[i] = inv * inv
		q := (d*d + dv*dv) * inv * scale
		p := x * (both * w)
		if y < 0 {
			p = 2 - p
		}
		z := t.ring[int(q*ringSteps)&(2*ringSteps-1)]
		for q >= t.limit[z] {
			z++
		}
		j := t.turn[int((p+1)*turnSteps)&(8*turnSteps-1)]
		for p >= t.until[j] {
			j++
		}
		dst[i] = t.base[z] + t.place[j]
	}
}
