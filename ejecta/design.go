package ejecta

import "math"

// Orders is the highest azimuthal harmonic of the design: fine enough for the
// narrowest template, a ray of von Mises concentration 35.
const Orders = 16

// decayNodes are the exponents b at which rho^-b is painted; between them the
// fit interpolates.
var decayNodes = [...]float64{0.5, 1, 1.5, 2, 2.5, 3, 3.5, 4, 4.5, 5, 5.5, 6, 6.5, 7}

// directionalDecay is the fall-off of the directional templates: the customary
// exponent of ejecta thickness (McGetchin, Settle & Head 1973).
const directionalDecay = 3

// Column numbers of a design: the value first, then the templates, then the
// nuisance columns.
const (
	colValue  = 0
	colCos    = 1                   // rho^-3 cos k az, k = 1..Orders
	colSin    = colCos + Orders     // rho^-3 sin k az
	colDecay  = colSin + Orders     // rho^-b for each of decayNodes
	colCentre = colDecay + 14       // rho^-4 cos az, rho^-4 sin az: a displaced centre
	colConst  = colCentre + 2       // one
	colPlane  = colConst + 1        // rho sin az, rho cos az
	colRings  = colPlane + 2        // one column per ring
	painted   = colConst - colCos   // columns averaged over pixels
	fixedCols = colRings - colValue // columns before the rings
)

// design is the matrix of one crater: a row per cell, a column per template or
// nuisance, row-major.
type design struct {
	n, p  int
	rings int
	data  []float64
}

func (d *design) row(i int) []float64 { return d.data[i*d.p : (i+1)*d.p] }

// columns copies some columns, one slice each.
func (d *design) columns(from, to int) [][]float64 {
	out := make([][]float64, to-from)
	for j := range out {
		out[j] = make([]float64, d.n)
		for i := range d.n {
			out[j][i] = d.row(i)[from+j]
		}
	}
	return out
}

func span(from, to int) []int {
	s := make([]int, 0, to-from)
	for i := from; i < to; i++ {
		s = append(s, i)
	}
	return s
}

// newDesign averages the values over the cells, and the templates, painted on the
// pixels, exactly as these. extra holds the further nuisance columns (a neighbour's
// blanket, a covariate).
func newDesign(s *Samples, c *Cells, values []float64, extra []extraColumn) *design {
	return paintTemplates(s, c, len(extra)).average(s, c, values, extra)
}

// paintTemplates is the design without values, and with room for further columns.
func paintTemplates(s *Samples, c *Cells, extra int) *design {
	rings := c.Layout.Rings
	d := &design{n: c.N, p: fixedCols + rings + extra, rings: rings}
	d.data = make([]float64, d.n*d.p)
	weight := make([]float64, c.N)
	for i, m := range c.member {
		if m >= 0 && paintThis(s, i) {
			weight[m] += s.Area[i]
			paintPixel(s, i, d.row(int(m)))
		}
	}
	for i := range c.N {
		d.finishRow(c, i, weight[i])
	}
	return d
}

// average adds the means of the values and of the further columns.
func (d *design) average(s *Samples, c *Cells, values []float64, extra []extraColumn) *design {
	for i, m := range c.member {
		if m < 0 {
			continue
		}
		row := d.row(int(m))
		row[colValue] += s.Area[i] * values[i]
		for j := range extra {
			row[colRings+d.rings+j] += s.Area[i] * extra[j].at(i)
		}
	}
	for i := range c.N {
		row := d.row(i)
		row[colValue] /= c.Weight[i]
		for j := colRings + d.rings; j < d.p; j++ {
			row[j] /= c.Weight[i]
		}
	}
	return d
}

// paintThis thins the pixels of large craters far from the rim, where the
// templates are smooth on the scale of a pixel.
func paintThis(s *Samples, i int) bool {
	if s.PixelsPerRadius < 8 || s.Rho[i] < 2.5 {
		return true
	}
	if s.Rho[i] < 5 || s.PixelsPerRadius < 12 {
		return (s.X[i]|s.Y[i])&1 == 0
	}
	return (s.X[i]|s.Y[i])&3 == 0
}

// finishRow turns the sums of the templates into means; a cell without painted pixels takes the
// templates at its middle.
func (d *design) finishRow(c *Cells, i int, weight float64) {
	row := d.row(i)
	if weight > 0 {
		for j := colCos; j < colConst; j++ {
			row[j] /= weight
		}
	} else {
		sin, cos := math.Sincos(c.Az[i])
		paintPoint(c.Rho[i], sin, cos, 1, row)
	}
	sin, cos := math.Sincos(c.Az[i])
	row[colConst] = 1
	row[colPlane], row[colPlane+1] = c.Rho[i]*sin, c.Rho[i]*cos
	row[colRings+c.Ring[i]] = 1
}

// paintPixel adds one pixel's templates to a row, sub-sampled where the
// blanket bends within a pixel.
func paintPixel(s *Samples, i int, row []float64) {
	sub := 1
	switch {
	case s.PixelsPerRadius < 6 && s.Rho[i] < 3:
		sub = 3
	case s.PixelsPerRadius < 12 && s.Rho[i] < 2:
		sub = 2
	}
	if sub == 1 {
		paintPoint(s.Rho[i], s.Sin[i], s.Cos[i], s.Area[i], row)
		return
	}
	w := s.Area[i] / float64(sub*sub)
	for a := range sub {
		for b := range sub {
			fx := (float64(a)+0.5)/float64(sub) - 0.5
			fy := (float64(b)+0.5)/float64(sub) - 0.5
			rho, sin, cos := s.subRho(i, fx, fy)
			paintPoint(math.Max(rho, 1), sin, cos, w, row)
		}
	}
}

// paintPoint adds w times the templates at a point to a row.
func paintPoint(rho, sin, cos, w float64, row []float64) {
	half := 1 / math.Sqrt(rho)
	v := w * half
	for j := range decayNodes {
		row[colDecay+j] += v
		v *= half
	}
	inv := 1 / rho
	amp := w * inv * inv * inv
	row[colCentre] += amp * inv * cos
	row[colCentre+1] += amp * inv * sin
	c, q := amp*cos, amp*sin
	for k := range Orders {
		row[colCos+k] += c
		row[colSin+k] += q
		c, q = c*cos-q*sin, q*cos+c*sin
	}
}
