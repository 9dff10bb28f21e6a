package raster

import "math"

// CellLayout cuts the ground round a crater into cells. Edges are the ranges
// between rings as shares of the reach, rising, at most 1 at the end: a pixel is
// in ring k from Edges[k] on, up to Edges[k+1] and without it. Sectors are equal,
// clockwise from north.
type CellLayout struct {
	Edges   []float64
	Sectors int
	// Within asks for what the means of blocks hide, see [Moments.Within].
	Within bool
	// Gates are for the last layers of a set, which only say where the others count:
	// a pixel whose value is bad in one of them is in no sum, but for
	// [CellSums.Pixels]. They have no sums of their own.
	Gates []func(value float32) (bad bool)
	// Layers are the numbers of those of the set that are read, the gates' last;
	// nil is all.
	Layers []int
}

// mostRings bounds rings and sectors, so that their numbers fit into a byte.
const mostRings = 250

// Rings is the number of rings.
func (l *CellLayout) Rings() int { return len(l.Edges) - 1 }

// Cells is the number of cells; cell ring*Sectors + sector.
func (l *CellLayout) Cells() int { return l.Rings() * l.Sectors }

// layers are those of a set of n that are read.
func (l *CellLayout) layers(n int) []int {
	if l.Layers != nil {
		return l.Layers
	}
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}

// check panics for a layout that is none.
func (l *CellLayout) check() {
	if l.Rings() < 1 || l.Rings() > mostRings || l.Sectors < 1 || l.Sectors > mostRings {
		panic("raster: a layout has 1 to 250 rings and sectors")
	}
	for k, e := range l.Edges {
		if !(e >= 0 && e <= 1) || k > 0 && e <= l.Edges[k-1] {
			panic("raster: the edges of a layout rise from 0 to 1")
		}
	}
}

// Steps of the tables that find ring and sector.
const (
	ringSteps = 4096
	turnSteps = 512 // of a quarter turn
)

// cellTables finds the cell of a pixel from a measure of its range, which grows
// with it and is 1 at the reach, and from any vector in its direction: a table
// tells where to begin, and comparison with the exact limits where to end.
//
// A pixel passes zones outward: inside the first ring, each ring, beyond the
// last. Directions pass zones clockwise from west. The cells of no ring follow
// those of the rings.
type cellTables struct {
	layout    CellLayout
	ring      [2 * ringSteps]uint8
	limit     [256]float64 // end of each zone
	base      [256]uint16  // its first cell
	turn      [8 * turnSteps]uint8
	until     [256]float64 // end of each zone of directions
	place     [256]uint16  // its sector
	crossings float64      // of the layout
	first     [256]int32   // step of the table in which each zone ends
}

func newCellTables(l CellLayout) *cellTables {
	l.check()
	t := &cellTables{layout: l, crossings: l.crossings()}
	for k := range t.base {
		t.base[k] = uint16(l.Cells())
		if k > 0 && k <= l.Rings() {
			t.base[k] = uint16((k - 1) * l.Sectors)
		}
	}
	t.directions()
	return t
}

// rings sets the limits of the rings to a measure of their edges over that of
// the reach. The table is made again only when a limit has left its step.
func (t *cellTables) rings(measure func(share float64) float64) {
	whole, same := measure(1), true
	for k, e := range t.layout.Edges {
		q := measure(e) / whole
		t.limit[k] = q
		step := int32(q*ringSteps) + 1
		same, t.first[k] = same && step == t.first[k], step
	}
	for k := len(t.layout.Edges); k < len(t.limit); k++ {
		t.limit[k] = math.Inf(1)
	}
	if !same {
		t.fillRings()
	}
}

func (t *cellTables) fillRings() {
	from := 0
	for k := range t.layout.Edges {
		to := max(from, int(t.first[k]))
		for i := from; i < min(to, len(t.ring)); i++ {
			t.ring[i] = uint8(k)
		}
		from = to
	}
	for i := from; i < len(t.ring); i++ {
		t.ring[i] = uint8(len(t.layout.Edges))
	}
}

// least keeps a sum of coordinates from being zero.
const least = 1e-300

// pseudo grows with the azimuth like an angle, from -1 in the west over 0 in the
// north and 1 in the east to 3.
func pseudo(east, north float64) float64 {
	p := east / (math.Abs(east) + math.Abs(north) + least)
	if north < 0 {
		p = 2 - p
	}
	return p
}

// directions fills the table of sectors.
func (t *cellTables) directions() {
	n, zone := t.layout.Sectors, 0
	for k := 3*n/4 + 1; k <= 3*n/4+n; k++ {
		s, c := sincosTurn(k%n, n)
		p := pseudo(s, c)
		if p <= -1 {
			continue
		}
		t.until[zone], t.place[zone] = p, uint16((k-1)%n)
		zone++
	}
	t.place[zone] = uint16((3*n - 1) / 4) // again the first when west lies within it
	for k := zone; k < len(t.until); k++ {
		t.until[k] = math.Inf(1)
	}
	zone = 0
	for i := range t.turn {
		for t.until[zone] <= float64(i)/turnSteps-1 {
			zone++
		}
		t.turn[i] = uint8(zone)
	}
}

// sincosTurn is sine and cosine of k nths of a turn, exact at the quarters.
func sincosTurn(k, n int) (sin, cos float64) {
	switch 4 * k {
	case 0:
		return 0, 1
	case n:
		return 1, 0
	case 2 * n:
		return 0, -1
	case 3 * n:
		return -1, 0
	}
	return math.Sincos(2 * math.Pi * float64(k) / float64(n))
}
