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
func (e *Evidence) ringSums(site Site, valid []bool) {
	inner := Layout{Edges: []float64{0, 0.5, 0.8, 1, e.Layout.Inner}, Rings: 4, Sectors: 1}
	outer := e.Layout
	outer.Blocks, outer.Sectors = false, 1
	for _, l := range []*Layout{&inner, &outer} {
		l.Inner, l.Outer = l.Edges[0], l.Edges[l.Rings]
		rows := make([]RingSum, l.Rings)
		for k := range rows {
			rows[k] = RingSum{RhoLo: l.Edges[k], RhoHi: l.Edges[k+1], Mean: math.NaN(), Variance: math.NaN()}
		}
		c, mean := e.plainMeans(site, l, valid)
		squares := site.Noise.lattice(c)
		for i := range c.N {
			r := &rows[c.Ring[i]]
			r.Mean = mean[i]
			r.Pixels, r.Full = c.Pixels[i], c.Full[i]
			r.Variance = squares.covariance(i, i)
		}
		e.Rings = append(e.Rings, rows...)
	}
}

// plainMeans gathers into a layout and averages the values by area. Every cell
// with a valid pixel counts.
func (e *Evidence) plainMeans(site Site, l *Layout, valid []bool) (c *Cells, mean []float64) {
	c = gatherPolar(site.Samples, l, valid)
	mean = make([]float64, c.N)
	for i, m := range c.member {
		if m >= 0 {
			mean[m] += site.Samples.Area[i] * float64(site.Values[i])
		}
	}
	for m := range mean {
		mean[m] /= c.Weight[m]
	}
	return c, mean
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
	c, mean := e.plainMeans(site, &l, valid)
	squares := site.Noise.lattice(c)
	for i := range c.N {
		s := &e.Sectors[l.sector(c.Az[i])]
		s.Mean = mean[i]
		s.Pixels, s.Full = c.Pixels[i], c.Full[i]
		s.Variance = squares.covariance(i, i)
		sin, cos := math.Sincos(c.Az[i])
		s.East, s.North = c.Rho[i]*sin, c.Rho[i]*cos
	}
}
