package geom

import (
	"cmp"
	"math"
	"slices"
)

// Neighbour is a crater seen from a place.
type Neighbour struct {
	Index    int     // into the slice given to NewNeighbours
	Distance float64 // from the place to the centre of the crater, metres
	Azimuth  float64 // at the place, radians clockwise from north
}

// Neighbours finds craters near a place, on the true surface of the body. It
// keeps one search tree for each octave of radius, so that one basin does not
// make every query for small craters look round half the body. A query takes
// microseconds at 10^6 craters. It may be used by several goroutines.
type Neighbours struct {
	body    Body
	craters []Crater
	classes []sizeClass // ascending radius
}

type sizeClass struct {
	maxRadius float64
	tree      *kdTree
}

// NewNeighbours builds the index. The craters are kept, not copied. It panics on
// an invalid body or centre.
func NewNeighbours(b Body, c []Crater) *Neighbours { return newNeighbours(b, c, (*Crater).Extent) }

// newNeighbours sorts craters into octaves of any size.
func newNeighbours(b Body, c []Crater, size func(*Crater) float64) *Neighbours {
	if err := b.Valid(); err != nil {
		panic("geom: neighbours on an invalid body: " + err.Error())
	}
	n := &Neighbours{body: b, craters: c}
	pts := make([]unit, len(c))
	byOctave := map[int][]int32{}
	for i := range c {
		if !c[i].Centre.Valid() {
			panic("geom: neighbour at an invalid place")
		}
		pts[i] = n.position(c[i].Centre)
		k := octave(size(&c[i]))
		byOctave[k] = append(byOctave[k], int32(i))
	}
	for _, members := range byOctave {
		n.classes = append(n.classes, sizeClass{largest(c, members, size), newKDTree(pts, members)})
	}
	slices.SortFunc(n.classes, func(a, b sizeClass) int { return cmp.Compare(a.maxRadius, b.maxRadius) })
	return n
}

// octave groups radii by factors of two; 0 and everything below a millimetre
// is one group.
func octave(r float64) int {
	if !(r > 1e-3) {
		return -1000
	}
	return math.Ilogb(r)
}

func largest(c []Crater, idx []int32, size func(*Crater) float64) float64 {
	r := 0.0
	for _, i := range idx {
		r = max(r, size(&c[i]))
	}
	return r
}

// position is the place in units of the equatorial radius.
func (n *Neighbours) position(p LonLat) unit {
	u := unitVector(p)
	if n.body.IsSphere() {
		return u
	}
	// Radius of the ellipsoid at planetocentric latitude: x^2+y^2+(z a/b)^2 = a^2.
	z := u[2] / (1 - n.body.Flattening())
	r := 1 / math.Sqrt(u[0]*u[0]+u[1]*u[1]+z*z)
	return unit{u[0] * r, u[1] * r, u[2] * r}
}

// chord returns a straight distance, in equatorial radii, that no geodesic of
// length dist exceeds; a little is added for rounding.
func (n *Neighbours) chord(dist float64) float64 {
	s := dist / n.body.SemiMajor
	if n.body.IsSphere() {
		s = 2 * math.Sin(min(s, math.Pi)/2)
	}
	return min(s, 2)*(1+1e-9) + 1e-14
}

// Near appends to dst the craters whose centre is within maxDist metres of a
// place, nearest first, and returns it. A crater at the place itself is
// included. Ties are in catalogue order.
func (n *Neighbours) Near(at LonLat, maxDist float64, dst []Neighbour) []Neighbour {
	from := len(dst)
	for _, c := range n.classes {
		dst = n.collect(c, at, maxDist, maxDist, 0, dst)
	}
	return sortNeighbours(dst, from)
}

// Reaching appends to dst the craters whose disc of k radii reaches into the
// disc of radius metres round a place: distance <= radius + k*R, with the long
// semi-axis for R where the rim is an ellipse. k = 1 asks for rims, k = 2.5 or so
// for continuous ejecta. Nearest first, ties in catalogue order.
func (n *Neighbours) Reaching(at LonLat, radius, k float64, dst []Neighbour) []Neighbour {
	from := len(dst)
	for _, c := range n.classes {
		dst = n.collect(c, at, radius+k*c.maxRadius, radius, k, dst)
	}
	return sortNeighbours(dst, from)
}

// Each calls fn with the number of every crater that Reaching finds, in no order,
// and perhaps with some that lie a little farther: it looks at no geodesic.
func (n *Neighbours) Each(at LonLat, radius, k float64, fn func(i int)) {
	for _, c := range n.classes {
		search := radius + k*c.maxRadius
		if !(search >= 0) {
			continue
		}
		c.tree.within(n.position(at), n.chord(search), func(i int32, _ float64) bool {
			fn(int(i))
			return true
		})
	}
}

// Within appends to dst the other craters that reach, with k of their radii,
// into the disc of radius metres round crater i. See [Neighbours.Reaching].
func (n *Neighbours) Within(i int, radius, k float64, dst []Neighbour) []Neighbour {
	from := len(dst)
	dst = n.Reaching(n.craters[i].Centre, radius, k, dst)
	for j := from; j < len(dst); j++ {
		if dst[j].Index == i {
			return append(dst[:j], dst[j+1:]...)
		}
	}
	return dst
}

// Free reports whether no crater of a radius up to largest reaches, with k of its
// radii, into the disc of radius metres round a place. See [Neighbours.Reaching].
func (n *Neighbours) Free(at LonLat, radius, k, largest float64) bool {
	free := true
	for _, c := range n.classes {
		c.tree.within(n.position(at), n.chord(radius+k*c.maxRadius), func(i int32, _ float64) bool {
			if n.craters[i].Radius <= largest {
				d, _ := n.body.Inverse(at, n.craters[i].Centre)
				free = d > radius+k*n.craters[i].Extent()
			}
			return free
		})
		if !free {
			return false
		}
	}
	return true
}

// collect searches one class out to search metres and keeps what is within
// radius + k*R.
func (n *Neighbours) collect(c sizeClass, at LonLat, search, radius, k float64, dst []Neighbour) []Neighbour {
	if !(search >= 0) {
		return dst
	}
	c.tree.within(n.position(at), n.chord(search), func(i int32, _ float64) bool {
		d, az := n.body.Inverse(at, n.craters[i].Centre)
		if d <= radius+k*n.craters[i].Extent() {
			dst = append(dst, Neighbour{int(i), d, az})
		}
		return true
	})
	return dst
}

// Nearest appends to dst the count craters nearest to a place, nearest first.
func (n *Neighbours) Nearest(at LonLat, count int, dst []Neighbour) []Neighbour {
	if count <= 0 {
		return dst
	}
	from, limit := len(dst), math.Inf(1)
	p := n.position(at)
	for _, c := range n.classes {
		limit = c.tree.nearest(p, limit, func(i int32, _ float64) float64 {
			d, az := n.body.Inverse(at, n.craters[i].Centre)
			dst = insertNearest(dst, from, count, Neighbour{int(i), d, az})
			if len(dst)-from < count {
				return math.Inf(1)
			}
			s := n.chord(dst[len(dst)-1].Distance)
			return s * s
		})
	}
	return dst
}

// insertNearest keeps dst[from:] sorted and at most count long.
func insertNearest(dst []Neighbour, from, count int, x Neighbour) []Neighbour {
	at, _ := slices.BinarySearchFunc(dst[from:], x, compareNeighbours)
	if at >= count {
		return dst
	}
	if len(dst)-from == count {
		dst = dst[:len(dst)-1]
	}
	return slices.Insert(dst, from+at, x)
}

func sortNeighbours(dst []Neighbour, from int) []Neighbour {
	slices.SortFunc(dst[from:], compareNeighbours)
	return dst
}

func compareNeighbours(a, b Neighbour) int {
	return cmp.Or(cmp.Compare(a.Distance, b.Distance), cmp.Compare(a.Index, b.Index))
}
