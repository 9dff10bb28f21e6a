package ejecta

import (
	"slices"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/lapack/lapack64"
)

// leftOut answers what the Gram matrix would be without some of the cells. A column
// that is one in a single cell takes it out of every sum; whitened, the columns of
// all cells are the inverse of the factor of the covariance, so that this is done
// once and a choice of cells costs a small system.
type leftOut struct {
	base      *Gram
	precision []float64 // inverse of the covariance, lower triangle
	y         blas64.General
}

// leaveOut prepares a matrix that was widened by some columns, given whitened.
func (g *ground) leaveOut(wide *Gram, added []float64) *leftOut {
	n := g.x.n
	y := blas64.General{Rows: n, Cols: wide.P, Stride: wide.P, Data: sideBySide(n, g.x.data, added)}
	for i, v := range g.value {
		y.Data[i*wide.P+colValue] = v
	}
	blas64.Trsm(blas.Left, blas.Trans, 1, g.white.l, y)
	return &leftOut{wide, g.white.precision(), y}
}

// precision is the inverse of the covariance, its lower triangle.
func (w *whitener) precision() []float64 {
	l := w.l
	l.Data = slices.Clone(l.Data)
	inv, ok := lapack64.Potri(l)
	if !ok {
		panic("ejecta: the factor of a covariance has a zero on its diagonal")
	}
	return inv.Data
}

// axpy adds a times x to y.
func axpy(a float64, x, y []float64) {
	floats.AddScaled(y[:len(x)], a, x)
}

// without is the matrix without the given cells. Columns of which next to nothing
// is left are forgotten.
func (l *leftOut) without(cells []int) *Gram {
	out := *l.base
	out.M = append([]float64(nil), l.base.M...)
	k, p := len(cells), l.base.P
	if k == 0 {
		return &out
	}
	z := l.rows(cells)
	t, ok := lapack64.Potrf(l.block(cells))
	if !ok {
		panic("ejecta: the inverse of a covariance is not positive definite")
	}
	blas64.Trsm(blas.Left, blas.Trans, 1, t, z)
	blas64.Syrk(blas.Trans, -1, z, 1, blas64.Symmetric{N: p, Stride: p, Data: out.M, Uplo: blas.Upper})
	for c := range p {
		if out.M[c*p+c] < sweepTolerance*l.base.M[c*p+c] {
			out.forget(c)
		}
	}
	out.mirror()
	return &out
}

// rows are the rows of y at some cells.
func (l *leftOut) rows(cells []int) blas64.General {
	z := blas64.General{Rows: len(cells), Cols: l.y.Cols, Stride: l.y.Cols}
	for _, i := range cells {
		z.Data = append(z.Data, l.y.Data[i*l.y.Stride:(i+1)*l.y.Stride]...)
	}
	return z
}

// block is the part of the precision between some cells, given in order.
func (l *leftOut) block(cells []int) blas64.Symmetric {
	k := len(cells)
	out := blas64.Symmetric{N: k, Stride: k, Data: make([]float64, k*k), Uplo: blas.Upper}
	for a, i := range cells {
		for b, j := range cells[a:] {
			out.Data[a*k+a+b] = l.precision[j*l.y.Rows+i]
		}
	}
	return out
}
