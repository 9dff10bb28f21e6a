package geom

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// rimFit is a rim drawn as a polygon, measured on the body.
type rimFit struct {
	centre       LonLat
	radius       float64 // of the circle with the same area, metres
	residual     float64 // root mean square of (r-radius)/radius along the outline
	major, minor float64 // semi-axes of the ellipse with the same second moments
	azimuth      float64 // of the long axis, degrees, 0..180
}

// fitRim measures a polygon in degrees (east positive, planetocentric). Vertices
// are taken into an equal-area plane centred on the rim itself, where area,
// centroid and second moments are those of a plane polygon; the plane is moved
// until the centroid is its origin. So neither the poles, nor the cut, nor the
// convergence of the meridians matters. Straight lines in longitude and
// latitude, which is what GeoJSON means, are followed by extra vertices. A hole
// is no part of the rim: a peak or a floor cut out of the crater leaves its size.
func fitRim(b Body, mp orb.MultiPolygon) (rimFit, string) {
	outline := densify(mp)
	var sum unit
	for _, ring := range outline {
		for _, v := range ring.pts {
			u := unitVector(v)
			for a := range sum {
				sum[a] += u[a]
			}
		}
	}
	if sum == (unit{}) {
		return rimFit{}, "polygon without a middle"
	}
	centre := sum.lonLat()
	for range 20 {
		f := NewFrame(b, centre)
		m, ok := momentsOf(f, outline)
		if !ok {
			return rimFit{}, "polygon reaches round the body"
		}
		if r := widest(f, outline); !(m.area > leastArea*r*r) {
			return rimFit{}, "polygon without area; does it cross itself?"
		}
		shift := math.Hypot(m.x, m.y)
		if shift < 1e-9*math.Sqrt(m.area) || shift < 1e-6 {
			return m.rim(f, outline)
		}
		centre = f.LonLat(fromEqualArea(b, shift), math.Atan2(m.x, m.y))
	}
	return rimFit{}, "polygon whose centroid does not settle"
}

// apartResidual is the departure from a circle from which the parts of a rim count
// as rims of their own: two equal circles that touch have 0.45.
const apartResidual = 0.4

// leastArea is the least area of a rim over the square of its reach: a figure
// of eight has next to none, and its centroid lies anywhere.
const leastArea = 1e-6

// farthestFromCircle is the departure of a rim from its circle, over its radius,
// from which on an outline is none: an ellipse of five to one departs by 0.8.
const farthestFromCircle = 1

// rim is the fit, or why the outline is no rim.
func (m moments) rim(f *Frame, outline []ringPath) (rimFit, string) {
	fit := m.fit(f, outline)
	switch n := len(outline); {
	case n > 1 && fit.residual > apartResidual:
		return fit, fmt.Sprintf("polygon of %d parts that lie apart: which is the crater? give each its own feature", n)
	case fit.residual > farthestFromCircle:
		return fit, fmt.Sprintf("outline that departs from a circle by %.0f %% of its radius: one rim, without other parts, is needed", 100*fit.residual)
	}
	return fit, ""
}

// widest is the largest range of a vertex.
func widest(f *Frame, outline []ringPath) float64 {
	worst := 0.0
	for _, ring := range outline {
		for _, p := range ring.pts {
			d, _ := f.Polar(p)
			worst = max(worst, d)
		}
	}
	return worst
}

// ringPath is a ring with the places where it is only a cut of the map.
type ringPath struct {
	pts  []LonLat
	seam []bool // vertex on the 180 degree meridian or at a pole
}

const (
	maxEdge    = 0.25   // degrees between vertices of a followed edge
	maxFollows = 200000 // extra vertices of one rim; drawn ones are always used
)

func densify(mp orb.MultiPolygon) []ringPath {
	var out []ringPath
	left := maxFollows
	for _, poly := range mp {
		for _, ring := range poly[:min(1, len(poly))] {
			var p ringPath
			for i := 0; i+1 < len(ring); i++ {
				left -= p.follow(ring[i], ring[i+1], left)
			}
			out = append(out, p)
		}
	}
	return out
}

// follow adds the vertices of an edge but its last, with at most spare extra
// ones, and returns the number of those.
func (p *ringPath) follow(a, b orb.Point, spare int) int {
	dx, dy := b[0]-a[0], b[1]-a[1]
	if math.Abs(dx) > 180 { // across the cut, or along a pole
		dx = WrapLon(dx)
	}
	n := int(math.Ceil(max(math.Abs(dx), math.Abs(dy), maxEdge/2) / maxEdge))
	if n-1 > spare {
		n = 1
	}
	for s := range n {
		t := float64(s) / float64(n)
		v := LonLat{a[0] + t*dx, a[1] + t*dy}
		p.pts = append(p.pts, v)
		p.seam = append(p.seam, math.Abs(math.Abs(v.Lon)-180) < 1e-9 || math.Abs(v.Lat) > 90-1e-9)
	}
	return n - 1
}

// moments of a region in the equal-area plane: x east, y north.
type moments struct{ area, x, y, xx, xy, yy float64 }

// momentsOf sums over triangles from the origin, whatever way a ring is drawn.
// ok is false when a vertex is too far for the plane.
func momentsOf(f *Frame, outline []ringPath) (m moments, ok bool) {
	for _, ring := range outline {
		var r moments
		var px, py float64
		for i := 0; i <= len(ring.pts); i++ {
			d, az := f.Polar(ring.pts[i%len(ring.pts)])
			if d > 0.9*f.HalfTurn() {
				return m, false
			}
			rho := toEqualArea(f.body, d)
			s, c := math.Sincos(az)
			x, y := rho*s, rho*c
			if i > 0 {
				r.triangle(px, py, x, y)
			}
			px, py = x, y
		}
		sign := 1.0
		if r.area < 0 {
			sign = -1
		}
		m.add(r, sign)
	}
	m.x, m.y = m.x/m.area, m.y/m.area
	m.xx, m.xy, m.yy = m.xx/m.area-m.x*m.x, m.xy/m.area-m.x*m.y, m.yy/m.area-m.y*m.y
	return m, true
}

func (m *moments) triangle(x1, y1, x2, y2 float64) {
	a := (x1*y2 - x2*y1) / 2
	m.area += a
	m.x += a * (x1 + x2) / 3
	m.y += a * (y1 + y2) / 3
	m.xx += a * (x1*x1 + x1*x2 + x2*x2) / 6
	m.yy += a * (y1*y1 + y1*y2 + y2*y2) / 6
	m.xy += a * (2*x1*y1 + x1*y2 + x2*y1 + 2*x2*y2) / 12
}

func (m *moments) add(r moments, sign float64) {
	m.area += sign * r.area
	m.x += sign * r.x
	m.y += sign * r.y
	m.xx += sign * r.xx
	m.xy += sign * r.xy
	m.yy += sign * r.yy
}

// fit turns moments about the centroid into a circle and an ellipse: a filled
// ellipse has second moments a^2/4 and b^2/4 about its axes.
func (m moments) fit(f *Frame, outline []ringPath) rimFit {
	radius := fromEqualArea(f.body, math.Sqrt(m.area/math.Pi))
	mean, half := (m.xx+m.yy)/2, math.Hypot((m.xx-m.yy)/2, m.xy)
	az := math.Atan2(2*m.xy, m.yy-m.xx) / 2 / degree
	if az < 0 {
		az += 180
	}
	return rimFit{
		centre: f.Centre(), radius: radius, residual: residual(f, outline, radius),
		major: 2 * math.Sqrt(mean+half), minor: 2 * math.Sqrt(max(mean-half, 0)), azimuth: az,
	}
}

// residual leaves out vertices that are there only because the map is cut.
func residual(f *Frame, outline []ringPath, radius float64) float64 {
	sum, n := 0.0, 0
	for _, seams := range [2]bool{false, true} {
		for _, ring := range outline {
			for i, v := range ring.pts {
				if ring.seam[i] != seams {
					continue
				}
				r, _ := f.Polar(v)
				sum += (r/radius - 1) * (r/radius - 1)
				n++
			}
		}
		if n >= 8 {
			break
		}
	}
	return math.Sqrt(sum / float64(max(n, 1)))
}

// toEqualArea is the Lambert azimuthal equal-area radius 2R sin(r/2R) of a
// range. Source: Snyder (1987), USGS Professional Paper 1395, p. 182. On an
// ellipsoid R is the mean radius: a rim is small beside its body.
func toEqualArea(b Body, r float64) float64 {
	d := 2 * b.MeanRadius()
	return d * math.Sin(r/d)
}

func fromEqualArea(b Body, rho float64) float64 {
	d := 2 * b.MeanRadius()
	return d * math.Asin(min(rho/d, 1))
}
