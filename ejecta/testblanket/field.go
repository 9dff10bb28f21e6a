package testblanket

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// spectrum is the square root of the power spectrum of a stationary field on a
// torus, from which fields are drawn: circulant embedding (Dietrich & Newsam
// 1997, SIAM J. Sci. Comput. 18, 1088).
type spectrum struct {
	w, h int
	root []float64
}

// newSpectrum takes the covariance by lag, in pixels. Frequencies whose power
// comes out negative, because the torus is short for the correlation, are set
// to zero and the rest scaled to keep the variance.
func newSpectrum(w, h int, cov func(dx, dy float64) float64) *spectrum {
	s := &spectrum{w, h, make([]float64, w*h)}
	quarter := evenTransform(w/2+1, h/2+1, cov)
	total := 0.0
	for y := range h {
		row := quarter[min(y, h-y)*(w/2+1):]
		for x := range w {
			p := math.Max(row[min(x, w-x)], 0)
			total += p
			s.root[y*w+x] = p
		}
	}
	scale := cov(0, 0) / total // the transform below sums over frequencies
	for i, p := range s.root {
		s.root[i] = math.Sqrt(p * scale)
	}
	return s
}

// evenTransform is the transform of a function even along both axes of a torus
// of 2(w-1) x 2(h-1), by its first quarter.
func evenTransform(w, h int, cov func(dx, dy float64) float64) []float64 {
	out := make([]float64, w*h)
	dct := fourier.NewDCT(w)
	for y := range h {
		row := out[y*w : (y+1)*w]
		for x := range row {
			row[x] = cov(float64(x), float64(y))
		}
		dct.Transform(row, row)
	}
	dct = fourier.NewDCT(h)
	col := make([]float64, h)
	for x := range w {
		for y := range h {
			col[y] = out[y*w+x]
		}
		dct.Transform(col, col)
		for y := range h {
			out[y*w+x] = col[y]
		}
	}
	return out
}

// draw returns two independent fields.
func (s *spectrum) draw(rng *rand.Rand) (a, b []float64) {
	f := make([]complex128, s.w*s.h)
	for i, r := range s.root {
		f[i] = complex(r*rng.NormFloat64(), r*rng.NormFloat64())
	}
	transform2D(s.w, s.h, f)
	a, b = make([]float64, len(f)), make([]float64, len(f))
	for i, v := range f {
		a[i], b[i] = real(v), imag(v)
	}
	return a, b
}

// transform2D is the unscaled forward transform in place.
func transform2D(w, h int, f []complex128) {
	fft := fourier.NewCmplxFFT(w)
	for y := range h {
		row := f[y*w : (y+1)*w]
		fft.Coefficients(row, row)
	}
	const batch = 8 // columns at a time, for the cache's sake
	if h != w {
		fft = fourier.NewCmplxFFT(h)
	}
	buf := make([]complex128, batch*h)
	for x0 := 0; x0 < w; x0 += batch {
		n := min(batch, w-x0)
		for y := range h {
			for i, v := range f[y*w+x0 : y*w+x0+n] {
				buf[i*h+y] = v
			}
		}
		for i := range n {
			col := buf[i*h : (i+1)*h]
			fft.Coefficients(col, col)
		}
		for y := range h {
			for i := range n {
				f[y*w+x0+i] = buf[i*h+y]
			}
		}
	}
}

// smooth returns the least even number >= n without prime factors above 5, for
// which the transform is fast.
func smooth(n int) int {
	for n += n % 2; ; n += 2 {
		m := n
		for _, p := range []int{2, 3, 5} {
			for m%p == 0 {
				m /= p
			}
		}
		if m == 1 {
			return n
		}
	}
}
