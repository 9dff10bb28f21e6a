package testblanket

import (
	"math"
	"math/rand/v2"
	"slices"
)

// punch removes the pixels where a smooth field is lowest: holes in blobs of
// about the wanted length.
func (g *Generator) punch(f *Field, rng *rand.Rand) {
	length := g.noise.GapLength
	if length == 0 {
		length = defaultGap
	}
	w, h := padded(g.w, g.wrapX, 4*length), padded(g.h, g.wrapY, 4*length)
	blob := make([]float64, w*h)
	for i := range blob {
		blob[i] = rng.NormFloat64()
	}
	blur(blob, w, h, length/math.Sqrt2)
	var sample []float64
	for i := 0; i < len(f.Values); i += 7 {
		sample = append(sample, blob[i/f.Width*w+i%f.Width])
	}
	slices.Sort(sample)
	limit := sample[min(int(g.noise.Gaps*float64(len(sample))), len(sample)-1)]
	for y := range f.Height {
		for x := range f.Width {
			if blob[y*w+x] < limit {
				f.Values[y*f.Width+x] = math.NaN()
			}
		}
	}
}

// blur smooths a torus by three passes of a moving mean, nearly a Gaussian of
// the given standard deviation.
func blur(v []float64, w, h int, sigma float64) {
	half := max(1, int(math.Round((math.Sqrt(4*sigma*sigma+1)-1)/2)))
	buf := make([]float64, max(w, h))
	for range 3 {
		for y := range h {
			movingMean(v[y*w:], 1, w, half, buf)
		}
		for x := range w {
			movingMean(v[x:], w, h, half, buf)
		}
	}
}

// movingMean replaces n values, stride apart on a ring, by the mean of each
// and its half neighbours on both sides.
func movingMean(v []float64, stride, n, half int, buf []float64) {
	half = min(half, (n-1)/2)
	sum := 0.0
	for i := -half; i <= half; i++ {
		sum += v[(i+n)%n*stride]
	}
	for i := range n {
		buf[i] = sum / float64(2*half+1)
		sum += v[(i+half+1)%n*stride] - v[(i-half+n)%n*stride]
	}
	for i := range n {
		v[i*stride] = buf[i]
	}
}
