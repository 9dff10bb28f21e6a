package geom

import (
	"math"
	"slices"

	"github.com/paulmach/orb"
)

// This file turns closed lines on the body into polygons of the rectangle
// -180..180 x -90..90. A line is unrolled in longitude and cut where it crosses
// the 180 degree meridian; the pieces are then joined by walking along the
// border of the rectangle with the inside on the left. That rule alone closes
// outlines round one pole, both, or neither.

// snap is the distance in degrees within which a point counts as lying on the
// meridian or the pole: a micrometre on bodies up to the size of the Moon.
const snap = 1e-11

type vertex struct{ lon, lat float64 } // lon unrolled, any number of turns

// unroll returns the ring as a plane line without jumps. A pole becomes two
// vertices, joined along the edge of the map on the side of the interior.
// closing is the total change of longitude, a multiple of 360.
func unroll(ring []LonLat) (line []vertex, closing float64) {
	ring = startOffPole(ring)
	var lon float64
	put := func(lat float64) { line = append(line, vertex{onCut(lon), lat}) }
	for i, p := range ring {
		p = snapped(p)
		switch {
		case i == 0:
			lon = p.Lon
		case atPole(p):
			put(p.Lat)
			next := snapped(ring[(i+1)%len(ring)])
			if !atPole(next) {
				lon = poleStep(lon, next.Lon, p.Lat)
				put(p.Lat)
			}
			continue
		default:
			lon += lonDiff(lon, p.Lon)
		}
		put(p.Lat)
	}
	first := line[0].lon
	last := lon + lonDiff(lon, first)
	return line, 360 * math.Round((last-first)/360)
}

// startOffPole rotates the ring so that it does not begin at a pole.
func startOffPole(ring []LonLat) []LonLat {
	for i, p := range ring {
		if !atPole(snapped(p)) {
			return append(slices.Clone(ring[i:]), ring[:i]...)
		}
	}
	return ring
}

func atPole(p LonLat) bool { return math.Abs(p.Lat) == 90 }

func snapped(p LonLat) LonLat {
	if 90-math.Abs(p.Lat) < snap {
		p.Lat = math.Copysign(90, p.Lat)
	}
	return p
}

// onCut moves a longitude that is all but on the cut onto it.
func onCut(lon float64) float64 {
	k := math.Round((lon-180)/360)*360 + 180
	if math.Abs(lon-k) < snap {
		return k
	}
	return lon
}

// poleStep turns at a pole from one meridian to another, through the interior
// on the left: westward at the north pole, eastward at the south pole.
func poleStep(from, to, lat float64) float64 {
	d := math.Mod(to-from, 360)
	switch {
	case lat > 0 && d > 0:
		d -= 360
	case lat < 0 && d < 0:
		d += 360
	}
	return from + d
}

// sheet is the number of the 360 degree strip that a longitude lies in.
func sheet(lon float64) int { return int(math.Floor((lon + 180) / 360)) }

// arc is a piece of outline inside the rectangle. Open arcs begin and end on its
// left or right side.
type arc struct {
	pts    []orb.Point
	closed bool
}

// cutRing cuts a closed line into arcs.
func cutRing(ring []LonLat) []arc {
	line, closing := unroll(ring)
	line = append(line, vertex{line[0].lon + closing, line[0].lat})
	arcs := cutOpen(line)
	if len(arcs) == 1 {
		arcs[0].closed = true
		return arcs
	}
	// The line began in the middle of an arc: its last piece belongs in front.
	last := arcs[len(arcs)-1].pts
	arcs[0].pts = append(last[:len(last)-1:len(last)-1], arcs[0].pts...)
	return arcs[:len(arcs)-1]
}

// cutOpen cuts a plane line at every passage from one sheet to another.
func cutOpen(line []vertex) []arc {
	k := sheet(line[0].lon)
	var arcs []arc
	cur := []orb.Point{line[0].on(k)}
	for i, v := range line[1:] {
		prev := line[i]
		for k != sheet(v.lon) {
			dir := 1
			if sheet(v.lon) < k {
				dir = -1
			}
			cut := float64(k)*360 + 180*float64(dir)
			lat := v.lat
			if v.lon != prev.lon {
				lat = prev.lat + (v.lat-prev.lat)*(cut-prev.lon)/(v.lon-prev.lon)
			}
			cur = appendPoint(cur, orb.Point{180 * float64(dir), lat})
			arcs = append(arcs, arc{pts: cur})
			cur = []orb.Point{{-180 * float64(dir), lat}}
			k += dir
		}
		cur = appendPoint(cur, v.on(k))
	}
	return append(arcs, arc{pts: cur})
}

func (v vertex) on(k int) orb.Point { return orb.Point{v.lon - 360*float64(k), v.lat} }

func appendPoint(pts []orb.Point, p orb.Point) []orb.Point {
	if n := len(pts); n > 0 && pts[n-1] == p {
		return pts
	}
	return append(pts, p)
}

// assemble makes polygons of the region to the left of all the rings.
func assemble(rings [][]LonLat) orb.MultiPolygon {
	var open []arc
	var shells, holes []orb.Ring
	keep := func(r orb.Ring) {
		switch a := ringArea(r); {
		case len(r) < 4 || math.Abs(a) < snap*snap:
		case a > 0:
			shells = append(shells, r)
		default:
			holes = append(holes, r)
		}
	}
	for _, ring := range rings {
		for _, a := range cutRing(ring) {
			if a.closed {
				keep(closeRing(a.pts))
			} else {
				open = append(open, a)
			}
		}
	}
	for _, r := range joinArcs(open) {
		keep(r)
	}
	return nest(shells, holes)
}

// border gives the place of a point on the rectangle's border as a length,
// counter-clockwise from the lower right corner.
func border(p orb.Point) float64 {
	if p[0] > 0 {
		return p[1] + 90
	}
	return 180 + 360 + (90 - p[1])
}

// corners of the rectangle in the same order, with their place on the border.
var corners = []struct {
	at float64
	p  orb.Point
}{{180, orb.Point{180, 90}}, {540, orb.Point{-180, 90}}, {720, orb.Point{-180, -90}}, {1080, orb.Point{180, -90}}}

const perimeter = 1080.0

// joinArcs links open arcs to closed rings along the border.
func joinArcs(arcs []arc) []orb.Ring {
	used := make([]bool, len(arcs))
	var rings []orb.Ring
	for i := range arcs {
		if used[i] {
			continue
		}
		var r []orb.Point
		for j := i; !used[j]; {
			used[j] = true
			for _, p := range arcs[j].pts {
				r = appendPoint(r, p)
			}
			var gap float64
			j, gap = nextArc(arcs, arcs[j].pts[len(arcs[j].pts)-1])
			r = walk(r, r[len(r)-1], gap)
		}
		rings = append(rings, closeRing(r))
	}
	return rings
}

// nextArc finds the arc that begins first after p along the border.
func nextArc(arcs []arc, p orb.Point) (next int, gap float64) {
	gap = math.Inf(1)
	for j, a := range arcs {
		d := border(a.pts[0]) - border(p)
		if d < 0 {
			d += perimeter
		}
		if d < gap {
			next, gap = j, d
		}
	}
	return next, gap
}

// walk appends the corners within gap of p.
func walk(r []orb.Point, p orb.Point, gap float64) []orb.Point {
	from := border(p)
	for turn := 0.0; turn <= perimeter; turn += perimeter {
		for _, c := range corners {
			if at := c.at + turn - from; at > 0 && at < gap {
				r = appendPoint(r, c.p)
			}
		}
	}
	return r
}

func closeRing(pts []orb.Point) orb.Ring {
	if len(pts) > 0 && pts[0] != pts[len(pts)-1] {
		pts = append(pts, pts[0])
	}
	return orb.Ring(pts)
}

func worldRing() orb.Ring {
	return orb.Ring{{-180, -90}, {180, -90}, {180, 90}, {-180, 90}, {-180, -90}}
}

// ringArea is the signed area in square degrees, positive counter-clockwise.
// It is summed from the first vertex so that small rings keep their digits.
func ringArea(r orb.Ring) float64 {
	a := 0.0
	for i := 1; i+1 < len(r); i++ {
		a += (r[i][0]-r[0][0])*(r[i+1][1]-r[0][1]) - (r[i+1][0]-r[0][0])*(r[i][1]-r[0][1])
	}
	return a / 2
}

// nest puts each hole into the smallest shell around it. A hole without one
// means that the region reaches all round: the whole map is its shell.
func nest(shells, holes []orb.Ring) orb.MultiPolygon {
	var mp orb.MultiPolygon
	for _, s := range shells {
		mp = append(mp, orb.Polygon{s})
	}
	world := -1
	for _, h := range holes {
		best := -1
		for i, s := range shells {
			if ringContains(s, h[0]) && (best < 0 || ringArea(s) < ringArea(shells[best])) {
				best = i
			}
		}
		if best < 0 {
			if world < 0 {
				world = len(mp)
				mp = append(mp, orb.Polygon{worldRing()})
			}
			best = world
		}
		mp[best] = append(mp[best], h)
	}
	return mp
}

// ringContains reports whether a point lies inside a closed ring (even-odd).
func ringContains(r orb.Ring, p orb.Point) bool {
	in := false
	for i := 0; i+1 < len(r); i++ {
		a, b := r[i], r[i+1]
		if (a[1] > p[1]) != (b[1] > p[1]) && p[0] < a[0]+(b[0]-a[0])*(p[1]-a[1])/(b[1]-a[1]) {
			in = !in
		}
	}
	return in
}

// cutLine splits an open line at the cut and at the poles.
func cutLine(pts []LonLat) orb.MultiLineString {
	var out orb.MultiLineString
	var part []vertex
	flush := func() {
		if len(part) > 1 {
			for _, a := range cutOpen(part) {
				if len(a.pts) > 1 {
					out = append(out, orb.LineString(a.pts))
				}
			}
		}
		part = nil
	}
	for i, p := range pts {
		p = snapped(p)
		if atPole(p) {
			if n := len(part); n > 0 {
				part = append(part, vertex{part[n-1].lon, p.Lat}) // up the meridian
			}
			flush()
			if i+1 < len(pts) {
				part = []vertex{{onCut(pts[i+1].Lon), p.Lat}}
			}
			continue
		}
		lon := p.Lon
		if n := len(part); n > 0 {
			lon = part[n-1].lon + lonDiff(part[n-1].lon, p.Lon)
		}
		part = append(part, vertex{onCut(lon), p.Lat})
	}
	flush()
	return out
}
