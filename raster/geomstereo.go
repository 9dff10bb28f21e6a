package raster

import (
	"math"

	"rimcast/geom"
)

// wholeCap reports whether the cap round a centre stays away from the
// opposite pole, whose image is at infinity.
func (p *stereographic) wholeCap(centre geom.LonLat, angle float64) bool {
	colat := (90 - centre.Lat) * degree
	if !p.north {
		colat = math.Pi - colat
	}
	return colat+angle < 2.6
}

// plane turns a map coordinate into the plane in which a pole distance c has
// the length tan(c/2).
func (p *stereographic) plane(x, y float64) (u, v float64) {
	return (x - p.x0) / p.scale, (y - p.y0) / p.scale
}

// stereoPatch is the fast path for polar stereographic maps of a sphere: with
// plane points P and C the haversine of their distance is
// |P-C|^2 / ((1+|P|^2)(1+|C|^2)), and the direction is the argument of
// (P-C) conj(1+conj(C)P), turned by the direction of north at C. A circle on
// the sphere is a circle on the map.
func (g *Grid) stereoPatch(b geom.Body, q *stereographic, centre geom.LonLat, reach float64, p *Patch) error {
	k := newStereoKernel(b, q, centre, reach, p)
	f, err := k.frameOf(g, centre, reach)
	if err != nil || f.r0 > f.r1 {
		return err
	}
	for row := f.r0; row <= f.r1; row++ {
		if x0, x1, ok := f.columns(row); ok {
			k.row(row, x0, x1)
		}
	}
	if p.Len() > 0 {
		p.boxes = append(p.boxes, span{f.x0 - 2, f.r0, f.x1 + 3, f.r1 + 1, 0, p.Len()})
	}
	return nil
}

// stereoFrame is the image of a cap in pixels of the level: its middle, half
// axes, rows and columns.
type stereoFrame struct {
	x, y, rx, ry   float64
	r0, r1, x0, x1 int
}

// frameOf finds where the cap lies; without rows when the map is not within
// reach.
func (k *stereoKernel) frameOf(g *Grid, centre geom.LonLat, reach float64) (f stereoFrame, err error) {
	k.l = g.level(k.p.Level)
	cx, cy, rad := k.circle(centre, reach/k.radius)
	f.x, f.y = k.l.pixel(k.q.x0+k.q.scale*cx, k.q.y0+k.q.scale*cy)
	f.rx, f.ry = math.Abs(k.q.scale*rad/k.l.Geo[1]), math.Abs(k.q.scale*rad/k.l.Geo[5])
	f.r1 = -1
	if f.x+f.rx < -1 || f.y+f.ry < -1 || f.x-f.rx > float64(k.l.Width+1) || f.y-f.ry > float64(k.l.Height+1) {
		return f, nil
	}
	if n := math.Pi * (f.rx + 1) * (f.ry + 1); n > MaxPatch {
		return f, tooLarge(reach, n)
	}
	f.r0, f.r1 = int(math.Floor(f.y-f.ry-0.5)), int(math.Ceil(f.y+f.ry+0.5))
	f.x0, f.x1 = int(math.Floor(f.x-f.rx-0.5)), int(math.Ceil(f.x+f.rx+0.5))
	return f, nil
}

// columns are those of a row that can be within reach, the last included.
func (f *stereoFrame) columns(row int) (x0, x1 int, ok bool) {
	t := (float64(row) + 0.5 - f.y) / f.ry
	half := f.rx * math.Sqrt(math.Max(0, 1-t*t))
	return int(math.Floor(f.x - half - 1.5)), int(math.Ceil(f.x + half + 1.5)), math.Abs(t) <= 1+1/f.ry
}

type stereoKernel struct {
	p      *Patch
	l      Grid
	q      *stereographic
	radius float64
	hmax   float64
	a, b   float64 // the centre in the plane
	c1     float64 // 1 + |C|^2
	ns, nc float64 // sine and cosine of the plane direction of north at the centre
}

func newStereoKernel(b geom.Body, q *stereographic, centre geom.LonLat, reach float64, p *Patch) stereoKernel {
	k := stereoKernel{p: p, q: q, radius: b.SemiMajor, hmax: haversineOf(reach / b.SemiMajor)}
	t, lon := k.pole(centre.Lat), (centre.Lon-q.lon0)*degree
	s, c := math.Sincos(lon)
	k.ns, k.nc = c, -s // direction of north: lon + 90 degrees
	k.a, k.b = t*s, -t*c
	if !q.north {
		k.ns, k.nc = c, s // 90 degrees - lon
		k.b = t * c
	}
	k.c1 = 1 + t*t
	return k
}

// pole returns the length in the plane of the pole distance of a latitude.
func (k *stereoKernel) pole(lat float64) float64 {
	if !k.q.north {
		lat = -lat
	}
	return math.Tan((90 - lat) * degree / 2)
}

// circle returns the image of the cap in the plane.
func (k *stereoKernel) circle(centre geom.LonLat, angle float64) (x, y, r float64) {
	lat := centre.Lat
	if !k.q.north {
		lat = -lat
	}
	colat := (90 - lat) * degree
	near, far := math.Tan((colat-angle)/2), math.Tan((colat+angle)/2)
	mid := (near + far) / 2
	s, c := math.Sincos((centre.Lon - k.q.lon0) * degree)
	if k.q.north {
		c = -c
	}
	return mid * s, mid * c, (far - near) / 2
}

// stereoRow is what the pixels of a row share: the plane coordinates of column
// x0, the step of a column, and the columns within reach, hi included.
type stereoRow struct {
	u0, v, du  float64
	x0, lo, hi int
}

// rowOf is a row between two columns, or false when no pixel is within reach.
func (k *stereoKernel) rowOf(row, x0, x1 int) (r stereoRow, ok bool) {
	mx, my := k.l.xy(float64(x0)+0.5, float64(row)+0.5)
	u0, v := k.q.plane(mx, my)
	du := k.l.Geo[1] / k.q.scale
	dv := v - k.b
	h := func(x int) float64 {
		u := u0 + float64(x-x0)*du
		return ((u-k.a)*(u-k.a) + dv*dv) / ((1 + u*u + v*v) * k.c1)
	}
	lo, hi := x0, x1
	for lo <= hi && h(lo) > k.hmax {
		lo++
	}
	for lo <= hi && h(hi) > k.hmax {
		hi--
	}
	return stereoRow{u0, v, du, x0, lo, hi}, lo <= hi
}

// row appends the pixels of one row between two columns within reach.
func (k *stereoKernel) row(row, x0, x1 int) {
	r, ok := k.rowOf(row, x0, x1)
	if !ok {
		return
	}
	k.fill(k.p.extend(r.hi-r.lo+1, r.lo-k.p.col0, row-k.p.row0), r.u0, r.v, r.du, r.lo-x0)
}

// cell is the area of a pixel at the pole of the map.
func (k *stereoKernel) cell(du float64) float64 {
	return math.Abs(du*k.l.Geo[5]/k.q.scale) * 4 * k.radius * k.radius
}

// fill computes the pixels of a row from the first pixel on, u0 being that of
// pixel 0.
func (k *stereoKernel) fill(r newRow, u0, v, du float64, first int) {
	u0 += float64(first) * du
	if !k.p.ranges {
		k.vectors(r, u0, v, du)
		directions(r.h, r.az, r.east, r.north)
		if k.hmax <= seriesLimit {
			arcs(r.h, k.radius, k.hmax)
			return
		}
	}
	dv, v1 := v-k.b, 1+v*v
	for i := range r.h {
		u := u0 + float64(i)*du
		d := u - k.a
		r.h[i] = (d*d + dv*dv) / ((v1 + u*u) * k.c1)
	}
	ranges(r.h, k.radius, k.hmax)
}

// vectors finds the areas of the pixels of a row, and their directions, as long
// as the sine of the angle from the centre.
func (k *stereoKernel) vectors(r newRow, u0, v, du float64) {
	cell := k.cell(du)
	dv, v1, m0, n0 := v-k.b, 1+v*v, 1+k.b*v, k.a*v
	ns, nc := k.ns*2/k.c1, k.nc*2/k.c1
	for i := range r.h {
		u := u0 + float64(i)*du
		d := u - k.a
		q := 1 / (v1 + u*u)
		// w = (P-C) conj(1 + conj(C) P); azimuth = north - arg w
		m, n := m0+k.a*u, n0-k.b*u
		re, im := d*m+dv*n, dv*m-d*n
		r.east[i], r.north[i] = (ns*re-nc*im)*q, (nc*re+ns*im)*q
		r.area[i] = cell * q * q
	}
}
