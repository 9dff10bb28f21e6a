package ejecta

import (
	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
)

// ground is what a question about the ground needs beyond the Gram matrix: the
// noise and the whitened columns, so that columns can still be added.
type ground struct {
	white *whitener
	x     *design // whitened
	value []float64
	cells *Cells

	strips  [][]float64 // share of each cell in each strip
	samples *Samples
	known   *whiteBank // of all contacts, once asked for
}

func newGround(w *whitener, d *design, c *Cells, strips [][]float64) *ground {
	return &ground{white: w, x: d, cells: c, value: d.columns(colValue, colValue+1)[0], strips: strips}
}

// design is the whitened columns.
func (g *ground) design() blas64.General {
	return blas64.General{Rows: g.x.n, Cols: g.x.p, Stride: g.x.p, Data: g.x.data}
}

// plus is the ground with a times the values of another added.
func (g *ground) plus(t *ground, a float64) *ground {
	if g == nil || t == nil {
		return nil
	}
	out := *g
	out.value = make([]float64, len(g.value))
	for i, v := range g.value {
		out.value[i] = v + a*t.value[i]
	}
	return &out
}

// widened returns a Gram matrix with further columns, n x m by rows, after all
// others. The columns are whitened in place.
func (g *ground) widened(base *Gram, extra []float64) *Gram {
	n := g.x.n
	m := len(extra) / n
	if m == 0 {
		return base
	}
	s := blas64.General{Rows: n, Cols: m, Stride: m, Data: extra}
	blas64.Trsm(blas.Left, blas.NoTrans, 1, g.white.l, s)
	cross := blas64.General{Rows: m, Cols: g.x.p, Stride: g.x.p, Data: make([]float64, m*g.x.p)}
	blas64.Gemm(blas.Trans, blas.NoTrans, 1, s, g.design(), 0, cross)
	own := blas64.Symmetric{N: m, Stride: m, Data: make([]float64, m*m), Uplo: blas.Upper}
	blas64.Syrk(blas.Trans, 1, s, 0, own)
	value := make([]float64, m)
	blas64.Gemv(blas.Trans, 1, s, blas64.Vector{N: n, Inc: 1, Data: g.value}, 0, blas64.Vector{N: m, Inc: 1, Data: value})
	for j := range m {
		cross.Data[j*g.x.p+colValue] = value[j]
	}
	return base.bordered(cross.Data, own.Data, m)
}

// bordered is the matrix with m columns more, from their products with the old
// ones (m x P) and with each other (upper triangle).
func (g *Gram) bordered(cross, own []float64, m int) *Gram {
	p := g.P + m
	out := &Gram{P: p, Rings: g.Rings, Cells: g.Cells, M: make([]float64, p*p), pulls: g.pulls}
	for i := range g.P {
		copy(out.M[i*p:], g.M[i*g.P:(i+1)*g.P])
	}
	for j := range m {
		for i := range g.P {
			v := cross[j*g.P+i]
			out.M[(g.P+j)*p+i], out.M[i*p+g.P+j] = v, v
		}
		for k := j; k < m; k++ {
			v := own[j*m+k]
			out.M[(g.P+j)*p+g.P+k], out.M[(g.P+k)*p+g.P+j] = v, v
		}
	}
	return out
}
