package ejecta

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
)

// border is columns beside a Gram matrix that are asked one by one: their products
// with its columns and with themselves, but not with each other. What is swept out
// of the matrix is swept out of them too.
type border struct {
	p    int
	rows []float64 // a row of p products for each column
	own  []float64
}

func (b *border) row(j int) []float64 { return b.rows[j*b.p : (j+1)*b.p] }

// eliminate projects column c of the matrix out, given as it stood; free says that
// nothing is left of it.
func (b *border) eliminate(c int, col []float64, pivot float64, free bool) {
	for j := range b.own {
		row := b.row(j)
		v := row[c]
		if f := v / pivot; f != 0 {
			axpy(-f, col, row)
			b.own[j] -= f * v
		}
		if free {
			row[c] = 0
		}
	}
}

// whiteBank is contacts whose columns are whitened for one crater.
type whiteBank struct {
	list  []contact
	x     blas64.General // a row for each cell, a column for each contact
	cross []float64      // products with the columns of the design
	own   []float64      // with themselves
}

// newBank whitens the columns of some contacts.
func (g *ground) newBank(list []contact) *whiteBank {
	m := len(list)
	b := &whiteBank{list: list, own: make([]float64, m), cross: make([]float64, m*g.x.p)}
	b.x = blas64.General{Rows: g.x.n, Cols: m, Stride: m, Data: paintContacts(g.cells, list)}
	blas64.Trsm(blas.Left, blas.NoTrans, 1, g.white.l, b.x)
	for i := range g.x.n {
		for j, v := range b.x.Data[i*m : (i+1)*m] {
			b.own[j] += v * v
		}
	}
	blas64.Gemm(blas.Trans, blas.NoTrans, 1, b.x, g.design(), 0, blas64.General{Rows: m, Cols: g.x.p, Stride: g.x.p, Data: b.cross})
	return b
}

// contacts is the bank of boundaries and spots, whitened once.
func (g *ground) contacts() *whiteBank {
	if g.known == nil {
		g.known = g.newBank(contacts)
	}
	return g.known
}

// beside is the border of a bank beside a matrix that was widened by some columns,
// given whitened.
func (g *ground) beside(b *whiteBank, wide *Gram, added []float64) *border {
	m, n, k := len(b.list), g.x.n, wide.P-g.x.p
	out := &border{p: wide.P, rows: make([]float64, m*wide.P), own: append([]float64(nil), b.own...)}
	value := make([]float64, m)
	blas64.Gemv(blas.Trans, 1, b.x, blas64.Vector{N: n, Inc: 1, Data: g.value}, 0, blas64.Vector{N: m, Inc: 1, Data: value})
	for j := range m {
		copy(out.row(j), b.cross[j*g.x.p:(j+1)*g.x.p])
		out.row(j)[colValue] = value[j]
	}
	if k > 0 {
		x := blas64.General{Rows: n, Cols: k, Stride: k, Data: added}
		blas64.Gemm(blas.Trans, blas.NoTrans, 1, b.x, x, 0, blas64.General{Rows: m, Cols: k, Stride: wide.P, Data: out.rows[g.x.p:]})
	}
	return out
}
