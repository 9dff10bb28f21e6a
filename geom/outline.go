package geom

import (
	"math"

	"github.com/paulmach/orb"
)

// Outlines are written in degrees, longitude first, split at the 180 degree
// meridian and closed along it and along the poles, so that filling them on a
// map in longitude and latitude fills the true shape. Exterior rings run
// counter-clockwise, holes clockwise (RFC 7946, section 3.1.6).
//
// maxErr is the largest distance in metres, on the ground, between the true
// line and the straight segment in longitude and latitude drawn for it. A value
// of 0 or less stands for a thousandth of the outer range; less than a millionth
// of it, or a micrometre, is not tried for.

// CircleOutline returns the disc of range r metres round the centre. A range of
// half way round the body or more gives the whole body; r <= 0 gives nothing.
func CircleOutline(f *Frame, r, maxErr float64) orb.MultiPolygon {
	if !(r > 0) {
		return nil
	}
	if r >= wholeBody*f.HalfTurn() {
		return orb.MultiPolygon{orb.Polygon{worldRing()}}
	}
	return assemble([][]LonLat{f.circle(r, chordError(maxErr, r), false)})
}

// wholeBody is the share of half a turn from which a disc counts as everything.
const wholeBody = 0.999

// AnnulusSector returns the cell between ranges r0 and r1 (metres) and azimuths
// az0 to az1 (radians, clockwise from az0). An azimuth range of a whole turn or
// more gives the full annulus, with r0 <= 0 the disc. An empty cell gives nil.
func AnnulusSector(f *Frame, r0, r1, az0, az1, maxErr float64) orb.MultiPolygon {
	r0, r1 = max(r0, 0), min(r1, wholeBody*f.HalfTurn())
	if !(r1 > r0) || !(az1 > az0) {
		return nil
	}
	maxErr = chordError(maxErr, r1)
	if az1-az0 >= twoPi*(1-1e-12) {
		rings := [][]LonLat{f.circle(r1, maxErr, false)}
		if r0 > 0 {
			rings = append(rings, f.circle(r0, maxErr, true))
		}
		return assemble(rings)
	}
	// Interior on the left: out along az1, back along the outer arc, in along
	// az0, forth along the inner arc.
	ring := f.radial(nil, r0, r1, az1, maxErr)
	ring = f.arc(ring, r1, az1, az0, maxErr)
	ring = f.radial(ring, r1, r0, az0, maxErr)
	if r0 > 0 {
		ring = f.arc(ring, r0, az0, az1, maxErr)
	}
	return assemble([][]LonLat{ring})
}

// EllipseOutline returns the filled ellipse with semi-axes a >= b (metres, along
// the geodesics from the centre) whose long axis lies along azimuth (radians).
// It returns nil unless both axes are positive.
func EllipseOutline(f *Frame, a, b, azimuth, maxErr float64) orb.MultiPolygon {
	if !(a > 0) || !(b > 0) {
		return nil
	}
	a, b = min(a, wholeBody*f.HalfTurn()), min(b, wholeBody*f.HalfTurn())
	c := curve{
		at: func(t float64) LonLat {
			x, y := a*math.Cos(t), b*math.Sin(t)
			return f.LonLat(math.Hypot(x, y), azimuth+math.Atan2(y, x))
		},
		miss: func(p LonLat) float64 {
			r, az := f.Polar(p)
			s, k := math.Sincos(az - azimuth)
			return math.Abs(r - a*b/math.Hypot(b*k, a*s))
		},
		maxErr: chordError(maxErr, max(a, b)),
	}
	return assemble([][]LonLat{c.trace(nil, twoPi, 0, minSegments)})
}

// RayLine returns the geodesic from range r0 to r1 (metres) along azimuth az
// (radians), cut where it meets the 180 degree meridian or a pole.
func RayLine(f *Frame, r0, r1, az, maxErr float64) orb.MultiLineString {
	r0, r1 = max(r0, 0), min(r1, f.HalfTurn())
	if !(r1 > r0) {
		return nil
	}
	line := f.radial(nil, r0, r1, az, chordError(maxErr, r1))
	line = append(line, f.LonLat(r1, az))
	return cutLine(line)
}

// CutLine returns a line through places, cut where it meets the 180 degree
// meridian or a pole. Successive places must be less than half a turn apart.
func CutLine(line []LonLat) orb.MultiLineString {
	if len(line) < 2 {
		return nil
	}
	return cutLine(line)
}

// minSegments keeps a circle round to the eye when the error allows fewer.
const minSegments = 24

func chordError(maxErr, r float64) float64 {
	if !(maxErr > 0) {
		return r / 1000
	}
	return max(maxErr, r*1e-6, 1e-6)
}

// circle traces a closed ring without its last point: interior on the left, or
// on the right for a hole.
func (f *Frame) circle(r, maxErr float64, hole bool) []LonLat {
	if hole {
		return f.arc(nil, r, 0, twoPi, maxErr)
	}
	return f.arc(nil, r, twoPi, 0, maxErr)
}

// arc appends the points of a circle from azimuth az0 to, but without, az1.
func (f *Frame) arc(dst []LonLat, r, az0, az1, maxErr float64) []LonLat {
	c := curve{
		at:     func(az float64) LonLat { return f.LonLat(r, az) },
		miss:   func(p LonLat) float64 { d, _ := f.Polar(p); return math.Abs(d - r) },
		maxErr: maxErr,
	}
	n := max(1, int(math.Ceil(math.Abs(az1-az0)/twoPi*minSegments)))
	return c.trace(dst, az0, az1, n)
}

// radial appends the points of a geodesic from range r0 to, but without, r1.
func (f *Frame) radial(dst []LonLat, r0, r1, az, maxErr float64) []LonLat {
	radius := f.body.SemiMajor
	c := curve{
		at: func(r float64) LonLat { return f.LonLat(r, az) },
		miss: func(p LonLat) float64 { // distance across the line
			r, a := f.Polar(p)
			return radius * math.Abs(math.Sin(r/radius)*math.Sin(a-az))
		},
		maxErr: maxErr,
	}
	return c.trace(dst, r0, r1, 4)
}

// curve is a line on the body, given by a parameter, with the distance in metres
// of any place from it.
type curve struct {
	at     func(t float64) LonLat
	miss   func(p LonLat) float64
	maxErr float64
}

const (
	maxHalvings  = 14
	poleHalvings = 36 // more of them, until a line through a pole has a vertex there
)

// trace appends the points from t0 to, but without, t1: n equal pieces, each
// halved until its chord is good.
func (c curve) trace(dst []LonLat, t0, t1 float64, n int) []LonLat {
	prev := c.at(t0)
	for i := 1; i <= n; i++ {
		a, b := t0+(t1-t0)*float64(i-1)/float64(n), t0+(t1-t0)*float64(i)/float64(n)
		next := c.at(b)
		dst = append(dst, prev)
		dst = c.refine(dst, a, b, prev, next, maxHalvings)
		prev = next
	}
	return dst
}

// refine appends the points strictly between a and b that the chord needs.
func (c curve) refine(dst []LonLat, a, b float64, p, q LonLat, halvings int) []LonLat {
	mid := (a + b) / 2
	m := c.at(mid)
	if halvings <= 0 && (halvings <= -poleHalvings || !swings(p, m, q)) || c.straight(p, m, q) {
		return dst
	}
	dst = c.refine(dst, a, mid, p, m, halvings-1)
	dst = append(dst, m)
	return c.refine(dst, mid, b, m, q, halvings-1)
}

// swings reports whether longitude turns by more than 90 degrees between
// neighbouring points, as it does beside a pole. A point at the pole has any
// longitude.
func swings(p, m, q LonLat) bool {
	turn := func(a, b LonLat) bool {
		return math.Abs(lonDiff(a.Lon, b.Lon)) > 90 && !atPole(snapped(a)) && !atPole(snapped(b))
	}
	return turn(p, m) || turn(m, q) || turn(p, q)
}

// straight reports whether the segment from p to q, drawn in longitude and
// latitude, stays close enough to the curve through m. The short way round in
// longitude must be the way of the curve.
func (c curve) straight(p, m, q LonLat) bool {
	if atPole(snapped(p)) {
		p.Lon = q.Lon
	}
	if atPole(snapped(q)) {
		q.Lon = p.Lon
	}
	return !swings(p, m, q) && c.near(p, q)
}

// near reports whether the drawn segment is close to the curve.
func (c curve) near(p, q LonLat) bool {
	step := lonDiff(p.Lon, q.Lon)
	for _, t := range [3]float64{0.25, 0.5, 0.75} {
		if !(c.miss(LonLat{p.Lon + t*step, p.Lat + t*(q.Lat-p.Lat)}) <= c.maxErr) {
			return false
		}
	}
	return true
}
