package ejecta

import (
	"errors"
	"math"
	"math/bits"
)

// maxBlockLevel is the largest square used when covariances are summed: 16
// pixels a side.
const maxBlockLevel = 4

// spectralFloor keeps the estimated covariance positive: no spatial frequency
// carries less than this share of the mean power.
const spectralFloor = 2e-3

// winsorLimit is where noise windows are clipped, in robust sigma.
const winsorLimit = 4.5

// quietWindows is the number of windows from which the far lags can be told
// from the scatter of their estimate. With fewer, a correlation over long
// distances looks like scatter and must not be silenced.
const quietWindows = 8

// ErrNoNoise reports that no window held enough clean ground.
var ErrNoNoise = errors.New("ejecta: no crater-free ground to measure the noise on")

// NoiseSurvey gathers the two-dimensional autocovariance of a map from
// crater-free windows:
//
//	C(dx, dy) = sum r(p) r(p+d) / number of valid pairs
//
// with a plane removed from each window and the extremes winsorised. Each
// window is weighed by its own variance, so that the shape of C is that of the
// typical ground and the local level is kept apart.
type NoiseSurvey struct {
	Side   int // window side, pixels
	MaxLag int
	pad    int
	power  []float64
	pairs  []float64
	levels []noiseLevel
}

// noiseLevel is the variance found in one window.
type noiseLevel struct {
	x, y     float64
	variance float64
	pixels   float64
}

// NewNoiseSurvey prepares a survey by windows of the given side, for lags up to
// maxLag < side. Sides that are powers of two need the least memory.
func NewNoiseSurvey(side, maxLag int) *NoiseSurvey {
	pad := 1 << bits.Len(uint(2*side-1))
	return &NoiseSurvey{
		Side: side, MaxLag: min(maxLag, side-1), pad: pad,
		power: make([]float64, pad*pad), pairs: make([]float64, pad*pad),
	}
}

// WindowSpectrum is what one window adds to a survey. It is made apart so that
// workers can prepare windows in parallel and add them in a fixed order.
type WindowSpectrum struct {
	power, pairs []float64
	level        noiseLevel
}

// Window prepares a window of side x side pixels, row-major, NaN where there
// is no clean ground; (x, y) is its middle on the map. It returns nil when
// less than a fifth of the window is usable or its variance is zero. The
// values are overwritten.
func (s *NoiseSurvey) Window(values []float64, x, y float64) *WindowSpectrum {
	n := removePlane(values, s.Side)
	if 5*n < len(values) {
		return nil
	}
	variance := winsorisedVariance(values, n)
	if !(variance > 0) {
		return nil
	}
	w := &WindowSpectrum{level: noiseLevel{x, y, variance, float64(n)}}
	field := make([]complex128, s.pad*s.pad)
	scale := 1 / math.Sqrt(variance)
	for j := range s.Side {
		for i := range s.Side {
			if v := values[j*s.Side+i]; !math.IsNaN(v) {
				field[j*s.pad+i] = complex(v*scale, 1)
			}
		}
	}
	forward2D(s.pad, field, s.Side)
	w.power, w.pairs = splitSpectra(field, s.pad)
	return w
}

// Add adds a prepared window; nil adds nothing.
func (s *NoiseSurvey) Add(w *WindowSpectrum) {
	if w == nil {
		return
	}
	for i := range s.power {
		s.power[i] += w.power[i]
		s.pairs[i] += w.pairs[i]
	}
	s.levels = append(s.levels, w.level)
}

// splitSpectra separates |F(values)|^2 and |F(mask)|^2 of a transform of
// values + i mask, both real.
func splitSpectra(f []complex128, n int) (power, pairs []float64) {
	power = make([]float64, n*n)
	pairs = make([]float64, n*n)
	for j := range n {
		mj := (n - j) % n
		for i := range n {
			a := f[j*n+i]
			b := f[mj*n+(n-i)%n]
			b = complex(real(b), -imag(b))
			v, m := (a+b)/2, (a-b)/2
			power[j*n+i] = real(v)*real(v) + imag(v)*imag(v)
			pairs[j*n+i] = real(m)*real(m) + imag(m)*imag(m)
		}
	}
	return power, pairs
}

// forward2D transforms an n x n field in place; rows from used on are zero.
func forward2D(n int, f []complex128, used int) {
	plan := newFourierPlan(n)
	for j := range used {
		plan.transform(f[j*n : (j+1)*n])
	}
	columns2D(n, f, plan.transform)
}

// columns2D applies a transform to every column, eight at a time for the
// cache's sake.
func columns2D(n int, f []complex128, transform func([]complex128)) {
	const batch = 8
	buf := make([]complex128, batch*n)
	for i0 := 0; i0 < n; i0 += batch {
		k := min(batch, n-i0)
		for j := range n {
			for i := range k {
				buf[i*n+j] = f[j*n+i0+i]
			}
		}
		for i := range k {
			transform(buf[i*n : (i+1)*n])
		}
		for j := range n {
			for i := range k {
				f[j*n+i0+i] = buf[i*n+j]
			}
		}
	}
}

// inverseReal2D returns the inverse transforms of two real, even spectra, both
// real, from one complex transform. For even spectra forward and inverse agree
// up to the factor.
func inverseReal2D(n int, first, second []float64) (a, b []float64) {
	f := make([]complex128, n*n)
	for i, v := range first {
		f[i] = complex(v, second[i])
	}
	forward2D(n, f, n)
	a, b = make([]float64, n*n), make([]float64, n*n)
	for i, v := range f {
		a[i], b[i] = real(v)/float64(n*n), imag(v)/float64(n*n)
	}
	return a, b
}

// Finish returns the noise model. The survey must not be used afterwards.
func (s *NoiseSurvey) Finish() (*Noise, error) {
	if len(s.levels) == 0 {
		return nil, ErrNoNoise
	}
	c := s.correlation()
	if len(s.levels) >= quietWindows {
		quietLags(c, s.pad, s.MaxLag)
	}
	s.makePositive(c)
	n := newNoise(c, s.pad, s.MaxLag)
	n.setLevels(s.levels)
	return n, nil
}

// correlation divides power by pairs and extends the lags that too few pairs
// support by their neighbours nearer to zero.
func (s *NoiseSurvey) correlation() []float64 {
	num, den := inverseReal2D(s.pad, s.power, s.pairs)
	enough := 0.01 * den[0]
	c := make([]float64, len(num))
	m := s.MaxLag
	for j := range s.pad {
		dy := wrapLag(j, s.pad)
		for i := range s.pad {
			dx := wrapLag(i, s.pad)
			x, y := min(max(dx, -m), m), min(max(dy, -m), m)
			for {
				k := (y+s.pad)%s.pad*s.pad + (x+s.pad)%s.pad
				if den[k] > enough || (x == 0 && y == 0) {
					c[j*s.pad+i] = num[k] / den[k]
					break
				}
				x, y = x*7/8, y*7/8
			}
		}
	}
	return c
}

func wrapLag(i, n int) int {
	if i > n/2 {
		return i - n
	}
	return i
}

// makePositive clips the power spectrum of c from below and restores C(0) = 1.
func (s *NoiseSurvey) makePositive(c []float64) {
	f := make([]complex128, len(c))
	for i, v := range c {
		f[i] = complex(v, 0)
	}
	forward2D(s.pad, f, s.pad)
	spectrum := make([]float64, len(c))
	floor := spectralFloor * c[0]
	for i := range f {
		spectrum[i] = math.Max(real(f[i]), floor)
	}
	for i, v := range spectrum {
		f[i] = complex(v, 0)
	}
	forward2D(s.pad, f, s.pad)
	for i, v := range f {
		c[i] = real(v)
	}
	c0 := c[0]
	for i := range c {
		c[i] /= c0
	}
}

// removePlane subtracts the least-squares plane of the valid values, their mean
// when they do not hold a plane, and returns their number.
func removePlane(v []float64, side int) int {
	m, rhs := make([]float64, 9), make([]float64, 3)
	mid := float64(side-1) / 2
	basis := func(i int) [3]float64 {
		return [3]float64{1, (float64(i%side) - mid) / mid, (float64(i/side) - mid) / mid}
	}
	n := 0
	for i, z := range v {
		if math.IsNaN(z) {
			continue
		}
		n++
		b := basis(i)
		for r, x := range b {
			rhs[r] += x * z
			for c, y := range b {
				m[r*3+c] += x * y
			}
		}
	}
	if n == 0 {
		return 0
	}
	p := []float64{rhs[0] / m[0], 0, 0}
	if inv := inverse(m, 3); inv != nil {
		p = multiply(inv, 3, rhs)
	}
	for i := range v {
		b := basis(i)
		v[i] -= dot(p, b[:])
	}
	return n
}

// winsorisedVariance clips the values at winsorLimit robust sigma and returns
// their variance about zero.
func winsorisedVariance(v []float64, n int) float64 {
	Winsorise(v, winsorLimit)
	sum := 0.0
	for _, z := range v {
		if !math.IsNaN(z) {
			sum += z * z
		}
	}
	return sum / float64(n)
}
