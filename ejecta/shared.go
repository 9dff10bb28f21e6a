package ejecta

import "slices"

// Shared is what the species at one place have in common when the same pixels are
// valid for them: the cells and the templates painted on them. It belongs to the
// samples of one place, and the sites there use it one after the other.
type Shared struct {
	kept [sharedKinds]*sharedCells
}

// What is gathered at a place: the cells of the tests, the rings within the rim,
// and the sectors.
const (
	testCells = iota
	rimRings
	rimSectors
	sharedKinds
)

// sharedCells are the cells of one layout, on the pixels of a place out to a range,
// and the templates on them.
type sharedCells struct {
	samples *Samples // of the place
	layout  Layout
	valid   []bool

	at      []int32 // which of the samples are near
	near    *Samples
	cells   *Cells
	painted *design
}

// serves reports whether the cells are those of a layout and of valid pixels.
func (k *sharedCells) serves(s *Samples, l *Layout, valid []bool) bool {
	return k != nil && k.samples == s && k.layout.like(l) && slices.Equal(k.valid, valid)
}

// like reports whether two layouts at one place gather alike.
func (l *Layout) like(k *Layout) bool {
	return l.Sectors == k.Sectors && l.Wide == k.Wide && l.Blocks == k.Blocks && slices.Equal(l.Edges, k.Edges)
}

// of are the cells of a layout, made once for all species that agree. A kind of its
// own keeps one of each.
func (m *Shared) of(kind int, s *Samples, l *Layout, valid []bool) *sharedCells {
	if m != nil && m.kept[kind].serves(s, l, valid) {
		return m.kept[kind]
	}
	k := &sharedCells{samples: s, layout: *l, valid: valid}
	if kind == testCells {
		k.near, k.cells = s, Gather(s, &k.layout, valid)
	} else {
		k.gatherNear()
	}
	if m != nil {
		m.kept[kind] = k
	}
	return k
}

// gatherNear gathers the pixels nearer than the outer range of the layout alone.
func (k *sharedCells) gatherNear() {
	s, outer := k.samples, k.layout.Outer
	for i, rho := range s.Rho {
		if rho < outer {
			k.at = append(k.at, int32(i))
		}
	}
	k.near = s.room(len(k.at))
	valid := make([]bool, len(k.at))
	for n, i := range k.at {
		k.near.appendFrom(s, int(i))
		valid[n] = k.valid[i]
	}
	k.cells = gatherPolar(k.near, &k.layout, valid)
}

// means are the means of values by area. Every cell with a valid pixel counts.
func (k *sharedCells) means(values []float32) []float64 {
	mean := make([]float64, k.cells.N)
	for n, i := range k.at {
		if m := k.cells.member[n]; m >= 0 {
			mean[m] += k.near.Area[n] * float64(values[i])
		}
	}
	for m := range mean {
		mean[m] /= k.cells.Weight[m]
	}
	return mean
}

// templates are those painted on the cells, in a copy that may be changed, with
// room for further columns.
func (k *sharedCells) templates(extra int) *design {
	if k.painted == nil || k.painted.p != fixedCols+k.layout.Rings+extra {
		k.painted = paintTemplates(k.near, k.cells, extra)
	}
	d := *k.painted
	d.data = slices.Clone(d.data)
	return &d
}
