package ejecta

import (
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
	n := w.n
	inv, out := w.inverseFactor(), make([]float64, n*n)
	for r := range n {
		row := inv[r*n : r*n+r+1]
		for a, v := range row {
			axpy(v, row[:a+1], out[a*n:])
		}
	}
	return out
}

// inverseFactor is the inverse of the factor, lower triangular.
func (w *whitener) inverseFactor() []float64 {
	n := w.n
	out := make([]float64, n*n)
	for i := range n {
		row, l := out[i*n:i*n+i+1], w.l.Data[i*n:i*n+i+1]
		row[i] = 1
		for k, v := range l[:i] {
			axpy(-v, out[k*n:k*n+k+1], row)
		}
		blas64.Scal(1/l[i], blas64.Vector{N: i + 1, Inc: 1, Data: row})
	}
	return out
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
