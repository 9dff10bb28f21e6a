package geom

import (
	"fmt"
	"math"

	"github.com/paulmach/orb"
)

// geometryText is the members of a geometry that are looked at.
type geometryText struct {
	kind               string
	coords, geometries []byte
}

func geometryOf(raw []byte, n names) (g geometryText) {
	eachMember(raw, n, func(key string, value []byte) {
		switch key {
		case "type":
			g.kind, _ = scalarText(value)
		case "coordinates":
			g.coords = value
		case "geometries":
			g.geometries = value
		}
	})
	return g
}

// place decodes the geometry of a feature: a point, or a rim drawn as polygon
// or closed line, alone or in a collection.
func (f *feature) place(raw []byte, n names) (reason string) {
	g := geometryOf(raw, n)
	if g.kind == "GeometryCollection" {
		return f.placeCollection(g.geometries, n)
	}
	return f.placeOne(g)
}

func (f *feature) placeOne(g geometryText) (reason string) {
	if g.kind == "" {
		return "no geometry"
	}
	decode, known := geometryKinds[g.kind]
	if !known {
		return "geometry " + Quote(g.kind) + " is neither a point nor a polygon"
	}
	return decode(f, g.coords)
}

var geometryKinds = map[string]func(f *feature, coords []byte) string{
	"Point":           (*feature).point,
	"MultiPoint":      (*feature).onePoint,
	"Polygon":         (*feature).onePolygon,
	"MultiPolygon":    (*feature).polygons,
	"LineString":      (*feature).closedLine,
	"MultiLineString": (*feature).oneClosedLine,
}

// placeCollection takes the rim of a collection, else its only point.
func (f *feature) placeCollection(raw []byte, n names) (reason string) {
	points, reason := 0, ""
	ok := eachElement(raw, func(v []byte) bool {
		var part feature
		g := geometryOf(v, n)
		if reason = part.placeOne(g); reason != "" {
			return false
		}
		f.rim = append(f.rim, part.rim...)
		if part.rim == nil {
			f.x, f.y = part.x, part.y
			points++
		}
		return true
	})
	switch {
	case reason != "":
		return "GeometryCollection: " + reason
	case !ok || points == 0 && f.rim == nil:
		return "GeometryCollection with empty or broken geometries"
	case points > 1 && f.rim == nil:
		return fmt.Sprintf("GeometryCollection of %d points: which is the centre?", points)
	}
	return ""
}

func broken(kind string) string { return kind + " with empty or broken coordinates" }

// brokenRing is that of a polygon.
func brokenRing(kind string) string { return broken(kind) + ", or a ring that is not closed" }

func (f *feature) point(coords []byte) string {
	p, ok := position(coords)
	f.x, f.y = p[0], p[1]
	if !ok {
		return broken("Point")
	}
	return ""
}

// onePoint reads a list that should hold a single point.
func (f *feature) onePoint(coords []byte) string {
	list, ok := positions(coords)
	switch {
	case !ok || len(list) == 0:
		return broken("MultiPoint")
	case len(list) > 1:
		return fmt.Sprintf("MultiPoint of %d points: which is the centre?", len(list))
	}
	f.x, f.y = list[0][0], list[0][1]
	return ""
}

func (f *feature) onePolygon(coords []byte) string {
	p, ok := polygon(coords)
	if f.rim = (orb.MultiPolygon{p}); !ok {
		return brokenRing("Polygon")
	}
	return ""
}

func (f *feature) polygons(coords []byte) string {
	ok := eachElement(coords, func(v []byte) bool {
		p, good := polygon(v)
		f.rim = append(f.rim, p)
		return good
	})
	if !ok || len(f.rim) == 0 {
		return brokenRing("MultiPolygon")
	}
	return ""
}

// closedLine reads a rim that was drawn as a line.
func (f *feature) closedLine(coords []byte) string {
	line, ok := positions(coords)
	if !ok || len(line) < 4 || !meets(line) {
		return "a line that is not closed is no rim"
	}
	line[len(line)-1] = line[0]
	f.rim = orb.MultiPolygon{{line}}
	return ""
}

// closedWithin is the gap between the ends of a line that is closed, as a share of
// the sides of its box: what rounding leaves of a rim that was worked out.
const closedWithin = 1e-6

// meets reports whether a line ends where it begins.
func meets(line orb.Ring) bool {
	first, last, box := line[0], line[len(line)-1], line.Bound()
	size := math.Max(box.Max[0]-box.Min[0], box.Max[1]-box.Min[1])
	return math.Hypot(last[0]-first[0], last[1]-first[1]) <= closedWithin*size
}

func (f *feature) oneClosedLine(coords []byte) string {
	n, reason := 0, ""
	ok := eachElement(coords, func(v []byte) bool {
		n++
		reason = f.closedLine(v)
		return reason == "" && n == 1
	})
	switch {
	case n > 1:
		return "several lines: which is the rim?"
	case !ok || n == 0:
		return broken("MultiLineString")
	}
	return ""
}

// positions reads a list of positions.
func positions(raw []byte) (list orb.Ring, ok bool) {
	ok = eachElement(raw, func(v []byte) bool {
		p, good := position(v)
		list = append(list, p)
		return good
	})
	return list, ok
}

// position reads two numbers or more.
func position(raw []byte) (p orb.Point, ok bool) {
	n := 0
	ok = eachElement(raw, func(v []byte) bool {
		x, good := parseNumber(string(v))
		if n < 2 {
			p[n] = x
		}
		n++
		return good || n > 2
	})
	return p, ok && n >= 2
}

func polygon(raw []byte) (p orb.Polygon, ok bool) {
	ok = eachElement(raw, func(v []byte) bool {
		ring, good := positions(v)
		p = append(p, ring)
		return good && len(ring) >= 4 && ring[0] == ring[len(ring)-1]
	})
	return p, ok && len(p) > 0
}
