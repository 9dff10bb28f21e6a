package raster

import (
	"math"

	"rimcast/geom"
)

// cellKernel sums the pixels round a crater over cells, row by row, without
// keeping a pixel. One worker has one.
type cellKernel struct {
	t      *cellTables
	sums   *CellSums
	p      Patch // place and scratch of the crater; without pixels
	cells  []uint16
	ends   blockEnds
	weight []float64
	use    []int // layers of the set
	from   rowSource
	row    rowValues
}

// rowSource has the values of pixels side by side in one row.
type rowSource interface {
	// row makes v the first of n pixels from a column and row on, absolute at the
	// level, columns unwrapped, and returns how many they are. The pixels lie in the
	// one box of p.
	row(p *Patch, v *rowValues, x, y, n int) (int, error)
}

// rowValues are what layers have of pixels side by side: values, and when the
// patch has within, their variances within blocks and numbers of valid map
// pixels. Without values the pixels are not on the map.
type rowValues struct{ values, vary, count [][]float32 }

func newCellKernel(l CellLayout, layers int) *cellKernel {
	use := l.layers(layers)
	return &cellKernel{t: newCellTables(l), use: use, sums: newCellSums(l, len(use)-len(l.Gates))}
}

// crater sums one crater. It panics and fails as Grid.Geometry does.
func (k *cellKernel) crater(g *Grid, job Job, from rowSource) error {
	k.from = from
	if k.p.tables == nil || k.p.tables.g != g {
		k.p.tables = &mapTables{g: g}
	}
	k.sums.reset(job.Level)
	k.p.within = k.t.layout.Within && job.Level > 0
	reach, err := k.p.begin(g, g.Body, job.Centre, job.Reach, job.Level)
	if err != nil {
		return err
	}
	switch q := g.fastPath(g.Body, job.Centre, reach).(type) {
	case *cylindrical:
		return k.cylinder(g, q, job.Centre, reach)
	case *stereographic:
		return k.stereo(g, q, job.Centre, reach)
	}
	return k.general(g, job.Centre, reach)
}

// haversines sets the limits of the rings for a reach on a sphere.
func (k *cellKernel) haversines(reach, radius float64) {
	k.t.rings(func(share float64) float64 { return haversineOf(share * reach / radius) })
}

func (k *cellKernel) cylinder(g *Grid, c *cylindrical, centre geom.LonLat, reach float64) error {
	m := cylinderKernel{p: &k.p}
	r0, r1, err := m.begin(g, g.Body, c, centre, reach)
	if err != nil || r0 > r1 {
		return err
	}
	k.haversines(reach, m.radius)
	k.p.boxes = append(k.p.boxes[:0], span{x0: k.p.col0 + m.first, y0: r0, x1: k.p.col0 + m.first + m.n, y1: r1 + 1})
	k.cells = sized(k.cells, m.n)
	skip := float64(m.n)/2 > leastRun*k.t.crossings
	if skip {
		k.ends.gather(m.S, m.sin)
	}
	even := k.sums.layers == 3 && !k.p.within && g.period()%k.p.Block == 0
	for row := r0; row <= r1; row++ {
		r, ok := m.rowOf(g, c, row)
		if !ok {
			continue
		}
		cells := k.cells[:r.hi-r.lo+1]
		if skip {
			k.t.skipping(cells, &r, &m, &k.ends, 1/m.hmax)
		} else {
			k.t.cylinder(cells, &r, m.S[r.lo:], m.sin[r.lo:], 1/m.hmax)
		}
		weight, unit := m.w[r.lo:], r.strip
		if even {
			weight, unit = nil, unit*m.w[0]
		}
		if err := k.add(cells, weight, unit, k.p.col0+m.first+r.lo, row); err != nil {
			return err
		}
	}
	return nil
}

func (k *cellKernel) stereo(g *Grid, q *stereographic, centre geom.LonLat, reach float64) error {
	m := newStereoKernel(g.Body, q, centre, reach, &k.p)
	f, err := m.frameOf(g, centre, reach)
	if err != nil || f.r0 > f.r1 {
		return err
	}
	k.haversines(reach, m.radius)
	k.p.boxes = append(k.p.boxes[:0], span{x0: f.x0 - 2, y0: f.r0, x1: f.x1 + 3, y1: f.r1 + 1})
	k.cells, k.weight = sized(k.cells, f.x1-f.x0+6), sized(k.weight, f.x1-f.x0+6)
	for row := f.r0; row <= f.r1; row++ {
		x0, x1, ok := f.columns(row)
		if !ok {
			continue
		}
		r, ok := m.rowOf(row, x0, x1)
		if !ok {
			continue
		}
		cells := k.cells[:r.hi-r.lo+1]
		if float64(len(cells))/2 > leastRun*k.t.crossings {
			k.t.stereoSkipping(cells, k.weight, &m, &r, &k.ends, 1/m.hmax)
		} else {
			k.t.stereo(cells, k.weight, &m, &r, 0, 1, 1/m.hmax)
		}
		if err := k.add(cells, k.weight, m.cell(r.du), r.lo, row); err != nil {
			return err
		}
	}
	return nil
}

// add sums a row of pixels from a column on, in as many pieces as there are.
func (k *cellKernel) add(cells []uint16, weight []float64, unit float64, x, y int) error {
	for len(cells) > 0 {
		n, err := k.from.row(&k.p, &k.row, x, y, len(cells))
		if err != nil {
			return err
		}
		k.gate(cells[:n])
		k.sums.add(cells[:n], weight, unit, k.row.values)
		if k.p.within && k.row.values != nil {
			k.sums.addWithin(cells[:n], weight, unit, &k.row)
		}
		cells, x = cells[n:], x+n
		if weight != nil {
			weight = weight[n:]
		}
	}
	return nil
}

// gate takes pixels that a gate finds bad out of their cells.
func (k *cellKernel) gate(cells []uint16) {
	if k.row.values == nil {
		return
	}
	none := uint16(k.t.layout.Cells())
	for l, bad := range k.t.layout.Gates {
		for i, v := range k.row.values[k.sums.given+l][:len(cells)] {
			if cells[i] != none && bad(v) {
				k.sums.shared[int(cells[i])*k.sums.stride+sumAll]++
				cells[i] = none
			}
		}
	}
}

// general serves every other projection and body, see generalPatch.
func (k *cellKernel) general(g *Grid, centre geom.LonLat, reach float64) error {
	m := &k.p.s.general
	m.cells, m.fault = k, nil
	k.t.rings(func(share float64) float64 { return share * share })
	if err := g.generalPatch(g.Body, centre, reach, &k.p); err != nil {
		return err
	}
	return m.fault
}

// squares finds the cells of pixels by squared range over that of the reach;
// those beyond it, and those that are no place, are in none.
func (t *cellTables) squares(dst []uint16, u, v []float64, scale float64) {
	u, v = u[:len(dst)], v[:len(dst)]
	none := uint16(t.layout.Cells())
	for i := range dst {
		x, y := u[i], v[i]
		q := (x*x + y*y) * scale
		dst[i] = none
		if !(q <= 1) {
			continue
		}
		k := t.ring[int(q*ringSteps)&(2*ringSteps-1)]
		for q >= t.limit[k] {
			k++
		}
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
