package ejecta

import (
	"cmp"
	"errors"
	"math"
	"math/bits"
	"slices"
	"sync"
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

	mu     sync.Mutex
	sums   []powers // rows 0 to pad/2: they are even
	levels []noiseLevel
}

// powers are |F(values)|^2 and |F(mask)|^2 of windows, in whole steps of powerStep:
// sums of whole numbers do not depend on their order.
type powers struct{ values, mask int64 }

// powerSteps are the steps of a power of one. With the variance scaled to one, no
// power of n pixels is above n^2: of side^4, 2^36 for a side of 512, mostWindows
// have room in 62 bits. The mean power is n, so that a step is 2^-32 of it there.
func (s *NoiseSurvey) powerSteps() float64 {
	return math.Ldexp(1, 62-bits.Len(mostWindows-1)-4*bits.Len(uint(s.Side-1)))
}

// mostWindows is the largest number of windows of a survey.
const mostWindows = 1 << 12

// noiseLevel is the variance found in one window.
type noiseLevel struct {
	x, y     float64
	variance float64
	pixels   float64
}

// compare puts windows in an order that does not depend on when they were added.
func (a noiseLevel) compare(b noiseLevel) int {
	return cmp.Or(cmp.Compare(a.y, b.y), cmp.Compare(a.x, b.x), cmp.Compare(a.variance, b.variance), cmp.Compare(a.pixels, b.pixels))
}

// NewNoiseSurvey prepares a survey by windows of the given side, for lags up to
// maxLag < side. Sides that are powers of two need the least memory.
func NewNoiseSurvey(side, maxLag int) *NoiseSurvey {
	pad := 1 << bits.Len(uint(2*side-1))
	return &NoiseSurvey{
		Side: side, MaxLag: min(maxLag, side-1), pad: pad,
		sums: make([]powers, (pad/2+1)*pad),
	}
}

// NoiseWindow is a window that can be added to a survey.
type NoiseWindow struct {
	values []float64
	level  noiseLevel
}

// Window prepares a window of side x side pixels, row-major, NaN where there
// is no clean ground; (x, y) is its middle on the map. It returns nil when
// less than a fifth of the window is usable or its variance is zero. The
// values are overwritten, and belong to the window until it is added.
func (s *NoiseSurvey) Window(values []float64, x, y float64) *NoiseWindow {
	n := removePlane(values, s.Side)
	if 5*n < len(values) {
		return nil
	}
	variance := winsorisedVariance(values, n)
	if !(variance > 0) {
		return nil
	}
	return &NoiseWindow{values, noiseLevel{x, y, variance, float64(n)}}
}

// Add adds a prepared window, once; nil adds nothing. Several goroutines may add
// windows at the same time, in any order: the sum is the same to the last bit. It
// panics for more than 4096 windows.
func (s *NoiseSurvey) Add(w *NoiseWindow) {
	if w == nil {
		return
	}
	f := s.spectra(w)
	defer f.release()
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.levels) == mostWindows {
		panic("ejecta: too many windows in a noise survey")
	}
	s.levels = append(s.levels, w.level)
	steps := s.powerSteps()
	for j := range s.pad/2 + 1 {
		addPowers(s.sums[j*s.pad:(j+1)*s.pad], f.row(j), steps)
	}
}

// addPowers adds a row of spectra in whole steps.
func addPowers(to []powers, row []complex128, steps float64) {
	row = row[:len(to)]
	for i, v := range row {
		to[i].values += int64(real(v)*steps + 0.5)
		to[i].mask += int64(imag(v)*steps + 0.5)
	}
}

// spectra are those of a window, with its variance scaled to one.
func (s *NoiseSurvey) spectra(w *NoiseWindow) *field {
	f := newField(s.pad)
	scale := 1 / math.Sqrt(w.level.variance)
	for j := range s.Side {
		row := f.row(j)
		for i, v := range w.values[j*s.Side : (j+1)*s.Side] {
			if v == v {
				row[i] = complex(v*scale, 1)
			}
		}
	}
	f.transform(s.Side)
	f.splitSpectra()
	return f
}

// Finish returns the noise model. The survey must not be used afterwards.
func (s *NoiseSurvey) Finish() (*Noise, error) {
	if len(s.levels) == 0 {
		return nil, ErrNoNoise
	}
	slices.SortFunc(s.levels, noiseLevel.compare)
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
	f := s.pairSums()
	defer f.release()
	enough := 0.01 * imag(f.v[0])
	c := make([]float64, s.pad*s.pad)
	m := s.MaxLag
	for j := range s.pad {
		dy := wrapLag(j, s.pad)
		for i := range s.pad {
			dx := wrapLag(i, s.pad)
			x, y := min(max(dx, -m), m), min(max(dy, -m), m)
			for {
				k := f.at(x, y)
				if imag(k) > enough || (x == 0 && y == 0) {
					c[j*s.pad+i] = real(k) / imag(k)
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

// pairSums are the sums of products over pairs, with the numbers of pairs as the
// imaginary part, by lag: the inverse transforms of two real, even spectra, for
// which forward and inverse agree up to the factor.
func (s *NoiseSurvey) pairSums() *field {
	f := newField(s.pad)
	f.fillEven(s.summedPowers())
	s.sums = nil
	f.transform(s.pad)
	scale := 1 / float64(s.pad*s.pad)
	for j := range s.pad {
		row := f.row(j)
		for i, v := range row {
			row[i] = complex(real(v)*scale, imag(v)*scale)
		}
	}
	return f
}

// summedPowers are the sums as numbers, with the mask's as the imaginary part.
func (s *NoiseSurvey) summedPowers() []complex128 {
	out, step := make([]complex128, len(s.sums)), 1/s.powerSteps()
	for i, v := range s.sums {
		out[i] = complex(float64(v.values)*step, float64(v.mask)*step)
	}
	return out
}

// makePositive clips the power spectrum of c from below and restores C(0) = 1.
func (s *NoiseSurvey) makePositive(c []float64) {
	f := newField(s.pad)
	defer f.release()
	f.setReal(c)
	f.transform(s.pad)
	floor := spectralFloor * c[0]
	for i, v := range f.v {
		f.v[i] = complex(math.Max(real(v), floor), 0)
	}
	f.transform(s.pad)
	c0 := real(f.v[0])
	for j := range s.pad {
		for i, v := range f.row(j) {
			c[j*s.pad+i] = real(v) / c0
		}
	}
}

// removePlane subtracts the least-squares plane of the valid values, their mean
// when they do not hold a plane, and returns their number.
func removePlane(v []float64, side int) int {
	n, m, rhs := planeSums(v, side)
	if n == 0 {
		return 0
	}
	p := []float64{rhs[0] / m[0], 0, 0}
	if inv := inverse(m, 3); inv != nil {
		p = multiply(inv, 3, rhs)
	}
	mid := float64(side-1) / 2
	for j := range side {
		y := (float64(j) - mid) / mid
		row := v[j*side : (j+1)*side]
		for i := range row {
			row[i] -= p[0] + p[1]*(float64(i)-mid)/mid + p[2]*y
		}
	}
	return n
}

// planeSums are the number of valid values and the normal equations of a plane
// through them.
func planeSums(v []float64, side int) (n int, m, rhs []float64) {
	mid := float64(side-1) / 2
	var s1, sx, sy, sxx, sxy, syy, sz, sxz, syz float64
	for j := range side {
		y := (float64(j) - mid) / mid
		for i, z := range v[j*side : (j+1)*side] {
			if z != z {
				continue
			}
			x := (float64(i) - mid) / mid
			n++
			s1, sx, sy, sz = s1+1, sx+x, sy+y, sz+z
			sxx, sxy, syy, sxz, syz = sxx+x*x, sxy+x*y, syy+y*y, sxz+x*z, syz+y*z
		}
	}
	return n, []float64{s1, sx, sy, sx, sxx, sxy, sy, sxy, syy}, []float64{sz, sxz, syz}
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
