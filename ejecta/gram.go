package ejecta

import (
	"errors"
	"math"
	"sync"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// ErrSingular reports a noise covariance that could not be factorised.
var ErrSingular = errors.New("ejecta: noise covariance is not positive definite")

// Gram holds the inner products of a crater's columns after whitening by the
// noise:
//
//	M = X' C^-1 X
//
// for X = [value, templates, nuisance]. Every estimate and test of the package
// is a sweep of this one small matrix: eliminating a nuisance column is
// projecting it out in the whitened space. The map is not needed again.
type Gram struct {
	P     int // columns
	Rings int
	Cells int
	M     []float64 // P x P, symmetric, in units of the pixel variance

	pulls  []pull  // on columns whose coefficients are not wholly free
	beside *border // of columns that are only asked one by one
}

// whitener is the Cholesky factor of a cell covariance.
type whitener struct {
	n     int
	l     blas64.Triangular
	rings []float64 // variance of the mean of each ring
}

// newWhitener builds the covariance of the cells from the map's correlation
// and factorises it, C = L L'. The covariance is in units of the pixel
// variance.
func newWhitener(c *Cells, noise *Noise) (*whitener, error) {
	n := c.N
	a := borrowed(n * n)
	defer giveBack(a)
	squares := noise.lattice(c)
	for i := range n {
		squares.row(i, 0, a[i*n:i*n+i+1])
	}
	l, rings, err := factoriseCells(c, a)
	if err != nil {
		return nil, err
	}
	return &whitener{n, l, rings}, nil
}

// spare keeps the memory of covariances: a fresh half megabyte for each crater
// costs more than half of what the factor does.
var spare sync.Pool

// borrowed is room for n numbers, which may be any.
func borrowed(n int) []float64 {
	if p, ok := spare.Get().(*[]float64); ok && cap(*p) >= n {
		return (*p)[:n]
	}
	return make([]float64, n)
}

func giveBack(a []float64) { spare.Put(&a) }

// factoriseCells factorises the covariance of cells, as it is or cut short, and
// returns the variances of the ring means with it.
func factoriseCells(c *Cells, cov []float64) (blas64.Triangular, []float64, error) {
	if l, ok := factorised(cov, c.N); ok {
		return l, ringVariances(c, cov), nil
	}
	for reach := longestReach; reach > shortestReach; reach /= 2 {
		short := shorten(c, cov, reach)
		if l, ok := factorised(short, c.N); ok {
			return l, ringVariances(c, short), nil
		}
	}
	return blas64.Triangular{}, nil, ErrSingular
}

// ringVariances are the variances of the area means of the rings, from the
// covariance of their cells, of which the lower triangle is given; NaN for a
// ring without cells.
func ringVariances(c *Cells, cov []float64) []float64 {
	out, weight := make([]float64, c.Layout.Rings), make([]float64, c.Layout.Rings)
	for i, k := range c.Ring {
		weight[k] += c.Weight[i]
		out[k] += c.Weight[i] * c.Weight[i] * cov[i*c.N+i]
		for j := range i {
			if c.Ring[j] == k {
				out[k] += 2 * c.Weight[i] * c.Weight[j] * cov[i*c.N+j]
			}
		}
	}
	for k, w := range weight {
		out[k] /= w * w // NaN without a cell
	}
	return out
}

// gram whitens the columns of a design in place and returns their products. The
// columns are solved for as rows: by products of a matrix and a vector, as in the
// unblocked factorisation, a third faster than by the library's own solution of
// many columns, and so are their products.
func (w *whitener) gram(d *design) *Gram {
	x := blas64.General{Rows: d.p, Cols: d.n, Stride: d.n, Data: borrowed(d.p * d.n)}
	defer giveBack(x.Data)
	transpose(d.n, d.p, d.data, x.Data)
	w.solveRows(x)
	transpose(d.p, d.n, x.Data, d.data)
	g := &Gram{P: d.p, Rings: d.rings, Cells: d.n, M: make([]float64, d.p*d.p)}
	sym := blas64.Symmetric{N: d.p, Stride: d.p, Data: g.M, Uplo: blas.Upper}
	blas64.Syrk(blas.NoTrans, 1, x, 0, sym)
	g.mirror()
	return g
}

// solveRows whitens columns that are given as rows, x = x L^-T.
func (w *whitener) solveRows(x blas64.General) {
	for j := range w.n {
		col := blas64.Vector{N: x.Rows, Inc: x.Stride, Data: x.Data[j:]}
		if j > 0 {
			row := blas64.Vector{N: j, Inc: 1, Data: w.l.Data[j*w.l.Stride:]}
			blas64.Gemv(blas.NoTrans, -1, blas64.General{Rows: x.Rows, Cols: j, Stride: x.Stride, Data: x.Data}, row, 1, col)
		}
		blas64.Scal(1/w.l.Data[j*w.l.Stride+j], col)
	}
}

// transpose copies an n x p matrix by rows into one of p x n.
func transpose(n, p int, from, to []float64) {
	for i := range n {
		for j, v := range from[i*p : (i+1)*p] {
			to[j*n+i] = v
		}
	}
}

// extras are the columns after the rings.
func (g *Gram) extras() []int { return span(colRings+g.Rings, g.P) }

// sweepTolerance is the share of a column's norm that must be left for it to
// count as independent of the columns eliminated before it.
const sweepTolerance = 1e-9

// Without returns the Gram matrix after eliminating the given columns.
// Columns that depend on earlier ones are passed over.
func (g *Gram) Without(cols ...[]int) *Gram {
	out := &Gram{P: g.P, Rings: g.Rings, Cells: g.Cells, M: append([]float64(nil), g.M...), pulls: g.pulls, beside: g.beside}
	for _, list := range cols {
		for _, c := range list {
			p := g.pullOf(c)
			out.believe(p)
			out.eliminate(c, p.ridge, sweepTolerance*g.M[c*g.P+c])
		}
	}
	out.mirror()
	return out
}

// eliminate projects column c out of all others, in the upper triangle; ridge is
// the inverse prior variance of its coefficient, 0 when it is free.
func (g *Gram) eliminate(c int, ridge, least float64) {
	p := g.P
	pivot := g.M[c*p+c] + ridge
	if !(pivot > least) {
		return
	}
	col := g.column(c)
	for i, v := range col {
		if f := v / pivot; f != 0 {
			axpy(-f, col[i:], g.M[i*p+i:(i+1)*p])
		}
	}
	if g.beside != nil {
		g.beside.eliminate(c, col, pivot, ridge == 0)
	}
	if ridge == 0 {
		g.forget(c)
	}
}

// column copies a column out of the upper triangle.
func (g *Gram) column(c int) []float64 {
	col := make([]float64, g.P)
	for i := range c {
		col[i] = g.M[i*g.P+c]
	}
	copy(col[c:], g.M[c*g.P+c:(c+1)*g.P])
	return col
}

// forget sets what is left of an eliminated column, rounding, to zero, which
// later eliminations pass over.
func (g *Gram) forget(c int) {
	clear(g.M[c*g.P : (c+1)*g.P])
	for i := range g.P {
		g.M[i*g.P+c] = 0
	}
}

// mirror copies the upper triangle to the lower one.
func (g *Gram) mirror() {
	for i := range g.P {
		for j := range i {
			g.M[i*g.P+j] = g.M[j*g.P+i]
		}
	}
}

// at returns one product.
func (g *Gram) at(i, j int) float64 { return g.M[i*g.P+j] }

// sub copies the block of the given columns, and their products with the
// value.
func (g *Gram) sub(cols []int) (block, value []float64) {
	n := len(cols)
	block = make([]float64, n*n)
	value = make([]float64, n)
	for a, i := range cols {
		value[a] = g.at(i, colValue)
		for b, j := range cols {
			block[a*n+b] = g.at(i, j)
		}
	}
	return block, value
}

// inverse returns the inverse of a symmetric positive definite n x n matrix,
// or nil when it is singular.
func inverse(m []float64, n int) []float64 {
	if n == 0 {
		return nil
	}
	a := blas64.Symmetric{N: n, Stride: n, Data: append([]float64(nil), m...), Uplo: blas.Upper}
	scale := make([]float64, n)
	for i := range n {
		if !(m[i*n+i] > 0) {
			return nil
		}
		scale[i] = 1 / math.Sqrt(m[i*n+i])
	}
	for i := range n {
		for j := range n {
			a.Data[i*n+j] *= scale[i] * scale[j]
		}
		a.Data[i*n+i] += 1e-12
	}
	t, ok := lapack64.Potrf(a)
	if !ok {
		return nil
	}
	lapack64.Potri(t)
	out := make([]float64, n*n)
	for i := range n {
		for j := i; j < n; j++ {
			v := t.Data[i*n+j] * scale[i] * scale[j]
			out[i*n+j], out[j*n+i] = v, v
		}
	}
	return out
}

func multiply(m []float64, n int, x []float64) []float64 {
	y := make([]float64, n)
	for i := range n {
		y[i] = dot(x, m[i*n:])
	}
	return y
}

// dot is the product of a with as many values of b.
func dot(a, b []float64) float64 {
	if len(a) < 8 {
		s := 0.0
		for i, v := range a {
			s += v * b[i]
		}
		return s
	}
	return floats.Dot(a, b[:len(a)])
}
