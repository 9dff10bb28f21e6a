package ejecta

import (
	"fmt"
	"math"
)

// fail records why a site cannot be measured, or not wholly.
func (e *Evidence) fail(status Status, format string, args ...any) *Evidence {
	e.Status, e.Note = status, fmt.Sprintf(format, args...)
	return e
}

// ringSums takes the plain means of the rings, those inside the rim included.
// Within the tests the error of a ring mean comes from the covariance of its
// cells, which is at hand; elsewhere its own squares are summed.
func (e *Evidence) ringSums(site Site, valid []bool, tested []float64) {
	inner := Layout{Edges: []float64{0, 0.5, 0.8, 1, e.Layout.Inner}, Rings: 4, Sectors: 1}
	e.Rings = e.sumRings(site, &inner, valid, site.Shared)
	rows := e.meanRings(site, valid)
	for k := range rows {
		if rows[k].Variance = tested[k]; math.IsNaN(tested[k]) && rows[k].Pixels > 0 {
			one := Layout{Edges: e.Layout.Edges[k : k+2], Rings: 1, Sectors: 1}
			rows[k] = e.sumRings(site, &one, valid, nil)[0]
		}
	}
	e.Rings = append(e.Rings, rows...)
}

// blankRings are rings without a mean.
func blankRings(edges []float64) []RingSum {
	rows := make([]RingSum, len(edges)-1)
	for k := range rows {
		rows[k] = RingSum{RhoLo: edges[k], RhoHi: edges[k+1], Mean: math.NaN(), Variance: math.NaN()}
	}
	return rows
}

// meanRings takes the means over the rings of the tests.
func (e *Evidence) meanRings(site Site, valid []bool) []RingSum {
	s := site.Samples
	rows := blankRings(e.Layout.Edges)
	sum, area := make([]float64, len(rows)), make([]float64, len(rows))
	k := -1
	for i, rho := range s.Rho {
		if k = e.Layout.ringNear(rho, k); k < 0 {
			continue
		}
		rows[k].Full++
		if valid[i] {
			rows[k].Pixels++
			sum[k] += s.Area[i] * float64(site.Values[i])
			area[k] += s.Area[i]
		}
	}
	for k := range rows {
		rows[k].Mean = sum[k] / area[k] // NaN without a pixel
	}
	return rows
}

// sumRings takes the means over any rings, with the error by summing the
// squares of each.
func (e *Evidence) sumRings(site Site, l *Layout, valid []bool, shared *Shared) []RingSum {
	l.Inner, l.Outer = l.Edges[0], l.Edges[l.Rings]
	rows := blankRings(l.Edges)
	near := shared.of(rimRings, site.Samples, l, valid)
	c, mean := near.cells, near.means(site.Values)
	squares := site.Noise.lattice(c)
	for i := range c.N {
		r := &rows[c.Ring[i]]
		r.Mean = mean[i]
		r.Pixels, r.Full = c.Pixels[i], c.Full[i]
		r.Variance = squares.covariance(i, i)
	}
	return rows
}

// room is samples of the same crater, with room for n pixels.
func (s *Samples) room(n int) *Samples {
	out := *s
	out.X, out.Y = make([]int32, 0, n), make([]int32, 0, n)
	for _, p := range []*[]float64{&out.Rho, &out.Az, &out.Sin, &out.Cos, &out.Area} {
		*p = make([]float64, 0, n)
	}
	return &out
}

func (s *Samples) appendFrom(t *Samples, i int) {
	s.X, s.Y = append(s.X, t.X[i]), append(s.Y, t.Y[i])
	s.Rho, s.Az = append(s.Rho, t.Rho[i]), append(s.Az, t.Az[i])
	s.Sin, s.Cos = append(s.Sin, t.Sin[i]), append(s.Cos, t.Cos[i])
	s.Area = append(s.Area, t.Area[i])
}

// sectorsBySize is the number of sectors of the azimuthal profile.
func sectorsBySize(pixels float64) int {
	switch {
	case pixels < 3:
		return 8
	case pixels < 5:
		return 12
	case pixels < 8:
		return 16
	}
	return 24
}

// sectorSums takes the plain means of the sectors over the ejecta range.
func (e *Evidence) sectorSums(site Site, valid []bool) {
	lo := math.Max(excessInner, e.Layout.Inner)
	l := Layout{Inner: lo, Outer: math.Max(excessOuter, 1.3*lo), Rings: 1, Sectors: sectorsBySize(e.PixelsPer)}
	l.Edges = []float64{l.Inner, l.Outer}
	e.Sectors = make([]SectorSum, l.Sectors)
	step := 360 / float64(l.Sectors)
	for i := range e.Sectors {
		e.Sectors[i] = SectorSum{AzLo: step * float64(i), AzHi: step * float64(i+1), Mean: math.NaN(), Variance: math.NaN()}
	}
	near := site.Shared.of(rimSectors, site.Samples, &l, valid)
	c, mean := near.cells, near.means(site.Values)
	squares := site.Noise.lattice(c)
	for i := range c.N {
		s := &e.Sectors[l.sector(c.Az[i])]
		s.Mean = mean[i]
		s.Pixels, s.Full = c.Pixels[i], c.Full[i]
		s.Variance = squares.covariance(i, i)
		sin, cos := math.Sincos(c.Az[i])
		s.East, s.North = c.Rho[i]*sin, c.Rho[i]*cos
	}
	e.setOwn(squares.shared())
}

// setOwn splits the variance that all sectors share from each one's own: noise
// that lifts the whole ring makes no direction. A tenth always stays.
func (e *Evidence) setOwn(shared float64) {
	for i := range e.Sectors {
		s := &e.Sectors[i]
		s.Own = math.Max(s.Variance-shared, 0.1*s.Variance)
	}
}

// shared is the variance of the mean of all cells, by area. The mean covariance
// of a cell with the others is that variance; two cells, a quarter of the list
// apart, stand for all.
func (l *lattice) shared() float64 {
	n := l.cells.N
	if n == 0 {
		return 0
	}
	total := 0.0
	for _, w := range l.cells.Weight {
		total += w
	}
	return (l.withMean(0, total) + l.withMean(n/4, total)) / 2
}

// withMean is the covariance of a cell with the mean of all by area.
func (l *lattice) withMean(i int, total float64) float64 {
	row := make([]float64, l.cells.N)
	l.row(i, 0, row)
	sum := 0.0
	for j, c := range row {
		sum += c * l.cells.Weight[j] / total
	}
	return sum
}
