package ejecta

import (
	"math"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// A sieve looks at every crater of a long catalogue before any is measured: sums
// over rings and sectors, a blanket of rho^-3 and its harmonics to order 6, and the
// covariance of complete cells, kept by class of geometry. It knows nothing of
// neighbours, covariates, seams and alarms. It says which craters to measure
// first, and its p stand in for those that are not measured.

// SieveSectors is the number of sectors of a sieve.
const SieveSectors = 16

const (
	sieveOrders = 6
	sieveFew    = 2            // orders of the test for broad directions, and all of craters too small for one
	sieveDecay  = colDecay + 5 // rho^-3
	sieveRing   = 1.3          // least width of a ring, pixels
)

// sieveEdges are ranges between rings, crater radii.
var sieveEdges = []float64{1.08, 1.16, 1.27, 1.38, 1.5, 1.77, 2.1, 2.48, 2.93, 3.46, 4.09, 4.84, 5.72, 6.77, 8}

// SieveEdges are the ranges between the rings of a sieve that ends at outer,
// crater radii, rising.
func SieveEdges(outer float64) []float64 {
	var edges []float64
	for _, e := range sieveEdges {
		if e < 0.93*outer {
			edges = append(edges, e)
		}
	}
	for e := sieveEdges[len(sieveEdges)-1]; e < 0.93*outer; e *= 1.18 {
		if e > edges[len(edges)-1] {
			edges = append(edges, e)
		}
	}
	return append(edges, outer)
}

// SieveShape is how a crater lies on its pixels: ground length of a column and
// of a row step, crater radii, and azimuth of map-up, radians.
type SieveShape struct{ Col, Row, Rotation float64 }

// SieveClass is a class of shapes, which share one covariance.
type SieveClass struct{ col, row, turn int16 }

// sieveStep is the width of a class: pixel sides of one differ by 12 per cent, or
// twice that for craters of some size, whose rings lie well apart. At the edge of
// such a class weights of its middle have at least .93 of the information of their
// own (TestWeightsOfTheClass).
const sieveStep = 0.12

// coarsePixels is the radius in pixels beyond which classes are wide.
const coarsePixels = 5

// Class is the class of a shape.
func (g SieveShape) Class() SieveClass {
	turn := math.Mod(g.Rotation*SieveSectors/(2*math.Pi), SieveSectors)
	wide := 1.0
	if g.pixels() > coarsePixels {
		wide = 2
	}
	side := func(x float64) int16 { return int16(wide * math.Round(math.Log(x)/(wide*sieveStep))) }
	return SieveClass{side(g.Col), side(g.Row), int16(math.Mod(math.Round(turn)+SieveSectors, SieveSectors))}
}

// Stretch is by what the variance of coefficients differs from that of the middle
// of the class: by the area of a pixel where noise is white, not at all where it is
// smooth over cells. The root of the area lies 13 per cent from either.
func (g SieveShape) Stretch() float64 {
	middle := g.Class().shape()
	return math.Sqrt(g.Col * g.Row / (middle.Col * middle.Row))
}

// shape is the middle of a class.
func (c SieveClass) shape() SieveShape {
	side := func(k int16) float64 { return math.Exp(float64(k) * sieveStep) }
	return SieveShape{side(c.col), side(c.row), float64(c.turn) * 2 * math.Pi / SieveSectors}
}

// pixels is the radius in pixels of the longer side.
func (g SieveShape) pixels() float64 { return 1 / math.Max(g.Col, g.Row) }

// Sieve is the engine of one class of geometry and one noise model: templates,
// precision and weights of complete cells. It takes 0.1 to 0.5 MB and may be used by
// several goroutines.
type Sieve struct {
	sieveCells
	w     []float64 // weights C^-1 X, by cell
	p     []float64 // precision C^-1, by cell
	whole []float64 // X' C^-1 X
}

// sieveCells is what the engines of a class have in common.
type sieveCells struct {
	orders int
	cells  []SieveCell
	near   int       // the first so many cells lie near the rim
	x      []float64 // templates X, by cell
}

// SieveCell is a cell of a sieve: rings From to To-1, and Wide sectors from Sector.
type SieveCell struct{ From, To, Sector, Wide int }

// nearSieve is where cells are near the rim, crater radii.
const nearSieve = 2.5

// NewSieves makes the engines of a class, one for each noise model; they share cells
// and templates. One is nil when its model is, when the covariance of its cells cannot
// be factorised, or when too few cells hold a pixel.
func NewSieves(class SieveClass, edges []float64, noises []*Noise) []*Sieve {
	middle := class.shape()
	return newSieves(middle, middle.pixels(), edges, noises)
}

// newSieves makes engines of a shape with the cells for a radius in pixels.
func newSieves(shape SieveShape, pixels float64, edges []float64, noises []*Noise) []*Sieve {
	s, out := shape.samples(edges[len(edges)-1]), make([]*Sieve, len(noises))
	of, wide := sieveCells{orders: sieveOrders}, 1
	if pixels < MinDirectionalPixels*math.Exp(-sieveStep/2) {
		of.orders, wide = sieveFew, 2
	}
	rings := sieveRings(edges, pixels)
	c := Gather(s, sieveLayout(edges, rings, wide), everyPixel(s.Len()))
	of.number(s, c, rings, wide)
	if !of.paint(newDesign(s, c, make([]float64, s.Len()), nil)) {
		return out
	}
	for k, noise := range noises {
		if noise != nil {
			out[k] = of.engine(c, noise)
		}
	}
	return out
}

func sieveLayout(edges []float64, rings []int, wide int) *Layout {
	l := &Layout{Rings: len(rings) - 1, Sectors: SieveSectors / wide}
	for _, k := range rings {
		l.Edges = append(l.Edges, edges[k])
	}
	l.Inner, l.Outer = l.Edges[0], l.Edges[l.Rings]
	return l
}

func everyPixel(n int) []bool {
	b := make([]bool, n)
	for i := range b {
		b[i] = true
	}
	return b
}

// sieveRings chooses the edges of the rings for a radius in pixels: none nearer
// than pixels allow, none narrower than cells that always hold some need.
func sieveRings(edges []float64, pixels float64) (rings []int) {
	for k, e := range edges {
		last := k == len(edges)-1
		switch {
		case len(rings) == 0 && e >= 1+1.4/pixels, len(rings) > 0 && (e-edges[rings[len(rings)-1]])*pixels >= sieveRing:
			rings = append(rings, k)
		case last && len(rings) > 1:
			rings[len(rings)-1] = k
		}
	}
	return rings
}

// samples are the pixels round a crater of a shape, its centre in the middle of
// a pixel's quarter.
func (g SieveShape) samples(outer float64) *Samples {
	s := &Samples{PixelsPerRadius: g.pixels(), ColRho: g.Col, RowRho: g.Row, Rotation: g.Rotation}
	sin, cos := math.Sincos(g.Rotation)
	wide, high := int(outer/g.Col)+1, int(outer/g.Row)+1
	for y := -high; y <= high; y++ {
		for x := -wide; x <= wide; x++ {
			dx, up := (float64(x)+0.25)*g.Col, -(float64(y)+0.25)*g.Row
			east, north := dx*cos+up*sin, up*cos-dx*sin
			if rho := math.Hypot(east, north); rho > 0 && rho < outer {
				s.X, s.Y = append(s.X, int32(x)), append(s.Y, int32(y))
				s.Rho, s.Az = append(s.Rho, rho), append(s.Az, math.Atan2(east, north))
				s.Area = append(s.Area, 1)
			}
		}
	}
	return s.withUnits()
}

// Bytes is the memory that the engine takes, beside what those of a class share.
func (v *Sieve) Bytes() int64 { return 8 * int64(len(v.w)+len(v.p)+len(v.whole)) }

// SharedBytes is the memory that the engines of a class share.
func (v *Sieve) SharedBytes() int64 { return 8 * int64(len(v.x)+4*len(v.cells)) }

// number notes which rings and sectors the gathered cells are.
func (v *sieveCells) number(s *Samples, c *Cells, rings []int, wide int) {
	v.cells = make([]SieveCell, c.N)
	for i, m := range c.member {
		if m >= 0 {
			k := c.Ring[m]
			v.cells[m] = SieveCell{rings[k], rings[k+1], wide * sectorOf(s.Az[i], SieveSectors/wide), wide}
		}
	}
	for _, k := range c.Ring {
		if c.Layout.Edges[k] < nearSieve {
			v.near++
		}
	}
}

// templates are the columns of a design that a sieve uses: the blanket, the
// harmonics order by order, and the background with its slope.
func (v *sieveCells) templates() []int {
	cols := []int{sieveDecay}
	for k := range v.orders {
		cols = append(cols, colCos+k, colSin+k)
	}
	return append(cols, colConst, colPlane, colPlane+1)
}

// paint notes the templates; false when there are too few cells for them.
func (v *sieveCells) paint(d *design) bool {
	cols := v.templates()
	for i := range v.cells {
		for _, col := range cols {
			v.x = append(v.x, d.row(i)[col])
		}
	}
	return len(v.cells) >= 2*len(cols)
}

// engine makes precision and weights under a noise model; nil when its covariance
// cannot be factorised.
func (v *sieveCells) engine(c *Cells, noise *Noise) *Sieve {
	white, err := newWhitener(c, noise)
	if err != nil {
		return nil
	}
	n := len(v.cells)
	k := len(v.x) / n
	lapack64.Potri(white.l)
	p := white.l.Data
	for i := range n {
		for j := range i {
			p[j*n+i] = p[i*n+j]
		}
	}
	e := &Sieve{*v, make([]float64, n*k), p, make([]float64, k*k)}
	x, w := general(n, k, v.x), general(n, k, e.w)
	blas64.Gemm(blas.NoTrans, blas.NoTrans, 1, general(n, n, p), x, 0, w)
	blas64.Gemm(blas.Trans, blas.NoTrans, 1, x, w, 0, general(k, k, e.whole))
	return e
}

func general(rows, cols int, data []float64) blas64.General {
	return blas64.General{Rows: rows, Cols: cols, Stride: cols, Data: data}
}

// QuickLook is what a sieve sees at one crater: the score of the blanket, and
// chi-squares of the harmonics to order 2 and 6, with 4 and 12 degrees of freedom;
// NaN for craters too small for a direction.
type QuickLook struct{ Blanket, Few, All float64 }

// sieveShare is the least share of the cells that a sieve looks at, near the rim
// and in all: in a crowded catalogue neighbours mask half of the ground.
const sieveShare = 0.25

// Look looks at a crater: mean tells the mean of a cell, NaN without enough
// pixels; variance is that of a pixel. It is false where too many cells lack a
// mean.
//
// Missing cells M are taken from the normal equations of the complete ones by
//
//	X' (P - P_M P_MM^-1 P_M') X
//
// with P the precision, which is what the covariance of the others gives.
func (v *Sieve) Look(mean func(SieveCell) float64, variance float64) (QuickLook, bool) {
	values, missing := v.values(mean)
	near := 0
	for near < len(missing) && missing[near] < v.near {
		near++
	}
	few := func(lost, of int) bool { return float64(of-lost) < sieveShare*float64(of) }
	if few(near, v.near) || few(len(missing), len(v.cells)) || !(variance > 0) {
		return QuickLook{}, false
	}
	a, rhs := v.equations(values)
	if len(missing) > 0 && !v.without(missing, values, a, rhs) {
		return QuickLook{}, false
	}
	cov := inverse(a, len(rhs))
	if cov == nil {
		return QuickLook{}, false
	}
	return v.look(cov, multiply(cov, len(rhs), rhs), variance), true
}

// values are the means of the cells less the mean of all, 0 where one is missing.
func (v *Sieve) values(mean func(SieveCell) float64) (values []float64, missing []int) {
	values = make([]float64, len(v.cells))
	level := 0.0
	for i, c := range v.cells {
		if values[i] = mean(c); values[i] == values[i] {
			level += values[i]
		} else {
			missing = append(missing, i)
		}
	}
	level /= float64(len(values) - len(missing))
	for i := range values {
		values[i] -= level
	}
	for _, i := range missing {
		values[i] = 0
	}
	return values, missing
}

// equations are the normal equations of complete cells.
func (v *Sieve) equations(values []float64) (a, rhs []float64) {
	k := len(v.x) / len(v.cells)
	rhs = make([]float64, k)
	for i, y := range values {
		axpy(y, v.w[i*k:(i+1)*k], rhs)
	}
	return append([]float64(nil), v.whole...), rhs
}

// without takes missing cells out of the normal equations.
func (v *Sieve) without(missing []int, values, a, rhs []float64) bool {
	m, k, n := len(missing), len(rhs), len(v.cells)
	pmm, pw := make([]float64, m*m), make([]float64, m*(k+1)) // P_MM; P_M'X and P_M'y
	for r, i := range missing {
		for c, j := range missing {
			pmm[r*m+c] = v.p[i*n+j]
		}
		copy(pw[r*(k+1):], v.w[i*k:(i+1)*k])
		pw[r*(k+1)+k] = dot(values, v.p[i*n:(i+1)*n])
	}
	t, ok := lapack64.Potrf(blas64.Symmetric{N: m, Stride: m, Data: pmm, Uplo: blas.Lower})
	if !ok {
		return false
	}
	z := general(m, k+1, pw)
	blas64.Trsm(blas.Left, blas.NoTrans, 1, t, z)
	for r := range m {
		row := pw[r*(k+1) : (r+1)*(k+1)]
		for i := range k {
			axpy(-row[i], row[:k], a[i*k:(i+1)*k])
		}
		axpy(-row[k], row[:k], rhs)
	}
	return true
}

// look turns coefficients and their covariance into statistics.
func (v *Sieve) look(cov, coef []float64, variance float64) QuickLook {
	q := QuickLook{Blanket: coef[0] / math.Sqrt(cov[0]*variance), Few: math.NaN(), All: math.NaN()}
	if v.orders == sieveOrders {
		q.Few, q.All = harmonicSquare(coef, cov, 2*sieveFew)/variance, harmonicSquare(coef, cov, 2*sieveOrders)/variance
	}
	return q
}

// harmonicSquare is b' V^-1 b of the first n harmonics, V their covariance; NaN
// when V is none.
func harmonicSquare(coef, cov []float64, n int) float64 {
	v, b := make([]float64, n*n), coef[1:1+n]
	for i := range n {
		copy(v[i*n:(i+1)*n], cov[(1+i)*len(coef)+1:])
	}
	inv := inverse(v, n)
	if inv == nil {
		return math.NaN()
	}
	return dot(b, multiply(inv, n, b))
}
