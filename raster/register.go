package raster

import "math"

// registerReach is how far, in pixels, a shift between two maps is looked for.
const registerReach = 2

// registerLags is the number of lags along one axis.
const registerLags = 2*registerReach + 1

// lagSums are the sums of products of two maps by lag, row by row from
// (-reach, -reach).
type lagSums struct {
	ab       [registerLags * registerLags]float64
	n        [registerLags * registerLags]float64
	aa, bb   float64
	aN, bN   float64
	diffA    []float32
	diffB    []float32
	width, h int
}

// Registration looks for a shift of the pixels of b against those of a, two
// layers on one grid, by the cross-correlation of a sample of windows, with a
// parabola through its peak: right and down, in pixels. Correlation is its
// value there, negative when one map is dark where the other is bright. ok is
// false when the peak lies at the end of the range, or nothing could be read.
//
// It panics when the grids differ.
func Registration(a, b *Layer) (right, down, correlation float64, ok bool) {
	if !a.grid.Same(&b.grid) {
		panic("raster: layers to register lie on different grids")
	}
	w, h := min(sampleSide, a.grid.Width), min(sampleSide, a.grid.Height)
	s := &lagSums{diffA: make([]float32, w*h), diffB: make([]float32, w*h), width: w, h: h}
	for _, at := range spread(a.grid.Width-w+1, a.grid.Height-h+1, sampleWindows) {
		if a.Read(at[0], at[1], w, h, s.diffA) == nil && b.Read(at[0], at[1], w, h, s.diffB) == nil {
			s.add()
		}
	}
	return s.peak()
}

// add takes the means out of a window and adds its products.
func (s *lagSums) add() {
	s.aa, s.aN = s.aa+centre(s.diffA), s.aN+1
	s.bb, s.bN = s.bb+centre(s.diffB), s.bN+1
	for y := registerReach; y < s.h-registerReach; y++ {
		for x := registerReach; x < s.width-registerReach; x++ {
			if v := s.diffA[y*s.width+x]; v == v {
				s.addPixel(float64(v), x, y)
			}
		}
	}
}

func (s *lagSums) addPixel(v float64, x, y int) {
	for k := range s.ab {
		u := s.diffB[(y+k/registerLags-registerReach)*s.width+x+k%registerLags-registerReach]
		if u == u {
			s.ab[k] += v * float64(u)
			s.n[k]++
		}
	}
}

// centre takes the mean out and returns the variance.
func centre(v []float32) float64 {
	sum, n := 0.0, 0.0
	for _, x := range v {
		if x == x {
			sum, n = sum+float64(x), n+1
		}
	}
	mean, ss := sum/math.Max(n, 1), 0.0
	for i, x := range v {
		if x == x {
			d := float64(x) - mean
			v[i], ss = float32(d), ss+d*d
		}
	}
	return ss / math.Max(n, 1)
}

// peak is the place of the largest correlation of either sign.
func (s *lagSums) peak() (right, down, correlation float64, ok bool) {
	best, sd := -1, math.Sqrt(s.aa/s.aN*s.bb/s.bN)
	c := func(k int) float64 { return s.ab[k] / math.Max(s.n[k], 1) / sd }
	for k := range s.ab {
		if v := math.Abs(c(k)); v > 0 && (best < 0 || v > math.Abs(c(best))) {
			best = k
		}
	}
	if best < 0 {
		return 0, 0, 0, false
	}
	x, y := best%registerLags, best/registerLags
	if x == 0 || y == 0 || x == registerLags-1 || y == registerLags-1 {
		return 0, 0, c(best), false
	}
	right = float64(x-registerReach) + vertex(c(best-1), c(best), c(best+1))
	down = float64(y-registerReach) + vertex(c(best-registerLags), c(best), c(best+registerLags))
	return right, down, c(best), true
}

// vertex is where the parabola through three equidistant values has its
// extreme, in steps from the middle one.
func vertex(before, at, after float64) float64 {
	d := before - 2*at + after
	if d == 0 {
		return 0
	}
	return (before - after) / 2 / d
}
