package ejecta

import (
	"math"
	"slices"
	"sort"
)

// madToSigma turns a median absolute deviation into the standard deviation of
// normal values: 1/Phi^-1(3/4).
const madToSigma = 1.4826

// Median returns the middle of the finite and infinite values of x, leaving
// out NaN; the mean of the middle two when their number is even. It returns
// NaN for none.
func Median(x []float64) float64 { return medianOf(values(x)) }

// medianOf is the median of values without NaN, which it reorders.
func medianOf(s []float64) float64 {
	n := len(s)
	if n == 0 {
		return math.NaN()
	}
	k := n / 2
	if n >= manyValues {
		s, k = nearMiddle(s)
	}
	high := smallest(s, k)
	if n%2 == 1 {
		return high
	}
	low := slices.Max(s[:k])
	return low + (high-low)/2
}

// smallest returns the value that k others come before in order, and reorders x
// so that none before place k is larger: Hoare's selection (1961), Communications
// of the ACM 4, 321 (from memory). x holds no NaN.
func smallest(x []float64, k int) float64 {
	lo, hi := 0, len(x)-1
	for lo < hi {
		pivot := middleOf(x[lo], x[(lo+hi)/2], x[hi])
		i, j := parted(x, lo, hi, pivot)
		switch {
		case k <= j:
			hi = j
		case k >= i:
			lo = i
		default:
			return x[k]
		}
	}
	return x[k]
}

// parted moves what is less than a pivot to the left of what is more: places lo to
// j hold none that is larger, places i to hi none that is less.
func parted(x []float64, lo, hi int, pivot float64) (i, j int) {
	i, j = lo, hi
	for i <= j {
		for x[i] < pivot {
			i++
		}
		for x[j] > pivot {
			j--
		}
		if i <= j {
			x[i], x[j] = x[j], x[i]
			i, j = i+1, j-1
		}
	}
	return i, j
}

// middleOf is the middle one of three values.
func middleOf(a, b, c float64) float64 {
	return max(min(a, b), min(max(a, b), c))
}

// MAD returns the median and the median absolute deviation from it times
// 1.4826, so that it estimates the standard deviation of normal values. NaN
// are left out.
func MAD(x []float64) (median, sigma float64) {
	s := values(x)
	median = medianOf(s)
	for i, v := range s {
		s[i] = math.Abs(v - median)
	}
	if math.IsInf(median, 0) || math.IsNaN(median) {
		s = values(s)
	}
	return median, madToSigma * medianOf(s)
}

// Quantile returns the value below which the given share of x lies, linear
// between order statistics (Hyndman & Fan 1996, type 7). NaN are left out; it
// returns NaN for none.
func Quantile(x []float64, share float64) float64 {
	if !(share >= 0 && share <= 1) {
		panic("ejecta: Quantile needs a share in 0..1")
	}
	s := sortedValues(x)
	if len(s) == 0 {
		return math.NaN()
	}
	h := share * float64(len(s)-1)
	k := min(int(h), len(s)-1)
	if k == len(s)-1 {
		return s[k]
	}
	return s[k] + (h-float64(k))*(s[k+1]-s[k])
}

func sortedValues(x []float64) []float64 {
	s := values(x)
	sort.Float64s(s)
	return s
}

// values copies x without its NaN.
func values(x []float64) []float64 {
	s := make([]float64, 0, len(x))
	for _, v := range x {
		if !math.IsNaN(v) {
			s = append(s, v)
		}
	}
	return s
}

// HuberLocation returns the mean of x with each value pulled in to at most k
// robust sigma (MAD) from it: Huber (1981), Robust Statistics, chapter 6, with
// the scale held fixed; k = 1.5 is customary. NaN are left out. When more than
// half of the values agree, the scale is zero and their value is returned.
func HuberLocation(x []float64, k float64) float64 {
	if !(k > 0) {
		panic("ejecta: HuberLocation needs k > 0")
	}
	mu, sigma := MAD(x)
	if !(sigma > 0) {
		return mu
	}
	s := sortedValues(x)
	for range 200 {
		next := 0.0
		for _, v := range s {
			next += math.Max(mu-k*sigma, math.Min(mu+k*sigma, v))
		}
		next /= float64(len(s))
		if math.Abs(next-mu) <= 1e-14*(math.Abs(mu)+sigma) {
			return next
		}
		mu = next
	}
	return mu
}

// Winsorise pulls the values of x that lie more than k robust sigma from the
// median in to that distance, in place, and returns how many it moved. NaN are
// left alone; when more than half of the values agree nothing is moved.
func Winsorise(x []float64, k float64) int {
	mid, sigma := MAD(x)
	if !(sigma > 0) {
		return 0
	}
	lo, hi := mid-k*sigma, mid+k*sigma
	moved := 0
	for i, v := range x {
		switch {
		case v < lo:
			x[i] = lo
			moved++
		case v > hi:
			x[i] = hi
			moved++
		}
	}
	return moved
}

// WeightedMedian returns the value that splits the weights in half; between
// two values that do so exactly, their mean. Pairs with a NaN value or a
// weight that is not positive are left out.
func WeightedMedian(x, weights []float64) float64 {
	if len(x) != len(weights) {
		panic("ejecta: WeightedMedian needs a weight for each value")
	}
	order := make([]int, 0, len(x))
	total := 0.0
	for i, v := range x {
		if !math.IsNaN(v) && weights[i] > 0 {
			order = append(order, i)
			total += weights[i]
		}
	}
	sort.SliceStable(order, func(a, b int) bool { return x[order[a]] < x[order[b]] })
	sum := 0.0
	for k, i := range order {
		sum += weights[i]
		if 2*sum > total {
			return x[i]
		}
		if 2*sum == total && k+1 < len(order) {
			return (x[i] + x[order[k+1]]) / 2
		}
	}
	return math.NaN()
}
