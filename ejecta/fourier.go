package ejecta

import "math"

// fourierPlan is the discrete Fourier transform of n values, n a power of two,
// by Stockham's self-sorting algorithm in steps of four (Van Loan 1992,
// Computational Frameworks for the Fast Fourier Transform, section 1.7). The
// transform of gonum, which a test compares it with, takes about five times as long
// at n = 1024, and the noise survey spent half of its time there.
//
// A plan has a buffer of its own and must not be shared by goroutines.
type fourierPlan struct {
	n    int
	root []complex128 // exp(-2 pi i k / n)
	work []complex128
}

func newFourierPlan(n int) *fourierPlan {
	if n < 1 || n&(n-1) != 0 {
		panic("ejecta: the length of a Fourier transform must be a power of two")
	}
	return &fourierPlan{n: n, root: unitRoots(n), work: make([]complex128, n)}
}

// unitRoots are exp(-2 pi i k / n).
func unitRoots(n int) []complex128 {
	root := make([]complex128, n)
	for k := range root {
		sin, cos := math.Sincos(-2 * math.Pi * float64(k) / float64(n))
		root[k] = complex(cos, sin)
	}
	return root
}

// transform replaces x by sum_j x_j exp(-2 pi i j k / n).
func (p *fourierPlan) transform(x []complex128) { p.transformAll(x, 1) }

// transformAll transforms as many sequences side by side: x_j of all, then the
// next of all.
func (p *fourierPlan) transformAll(x []complex128, many int) {
	if len(p.work) < p.n*many {
		p.work = make([]complex128, p.n*many)
	}
	from, to := x[:p.n*many], p.work[:p.n*many]
	stride := 1
	for left := p.n; left > 1; {
		if left%4 == 0 {
			p.four(from, to, left/4, stride, many)
			left, stride = left/4, stride*4
		} else {
			p.two(from, to, left/2, stride, many)
			left, stride = left/2, stride*2
		}
		from, to = to, from
	}
	if &from[0] != &x[0] {
		copy(x, from)
	}
}

// four is one step of radix four over m groups.
func (p *fourierPlan) four(x, y []complex128, m, stride, many int) {
	s := stride * many
	if s == 1 {
		p.first(x, y, m)
		return
	}
	for k := range m {
		w1, w2, w3 := p.root[k*stride], p.root[2*k*stride], p.root[3*k*stride]
		a, b := x[s*k:s*k+s], x[s*(k+m):s*(k+m)+s]
		c, d := x[s*(k+2*m):s*(k+2*m)+s], x[s*(k+3*m):s*(k+3*m)+s]
		out := y[4*s*k : 4*s*k+4*s]
		o0, o1, o2, o3 := out[:s], out[s:2*s], out[2*s:3*s], out[3*s:4*s]
		b, c, d = b[:len(a)], c[:len(a)], d[:len(a)]
		for q := range a {
			even, odd := a[q]+c[q], a[q]-c[q]
			sum, diff := b[q]+d[q], b[q]-d[q]
			diff = complex(-imag(diff), real(diff))
			o0[q] = even + sum
			o1[q] = w1 * (odd - diff)
			o2[q] = w2 * (even - sum)
			o3[q] = w3 * (odd + diff)
		}
	}
}

// first is the step of radix four on neighbouring values.
func (p *fourierPlan) first(x, y []complex128, m int) {
	a, b, c, d := x[:m], x[m:2*m], x[2*m:3*m], x[3*m:4*m]
	for k := range m {
		even, odd := a[k]+c[k], a[k]-c[k]
		sum, diff := b[k]+d[k], b[k]-d[k]
		diff = complex(-imag(diff), real(diff))
		out := y[4*k : 4*k+4 : 4*k+4]
		out[0] = even + sum
		out[1] = p.root[k] * (odd - diff)
		out[2] = p.root[2*k] * (even - sum)
		out[3] = p.root[3*k] * (odd + diff)
	}
}

// two is one step of radix two over m groups.
func (p *fourierPlan) two(x, y []complex128, m, stride, many int) {
	s := stride * many
	for k := range m {
		w := p.root[k*stride]
		a, b := x[s*k:s*k+s], x[s*(k+m):s*(k+m)+s]
		out := y[2*s*k : 2*s*k+2*s]
		for q := range a {
			out[q], out[q+s] = a[q]+b[q], w*(a[q]-b[q])
		}
	}
}
