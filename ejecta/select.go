package ejecta

import (
	"math"
	"slices"
)

// This file finds the middle of many values with one look at each: a sample tells
// between which two values it lies, and only those between are put in order. Floyd
// & Rivest (1975), Communications of the ACM 18, 165 (from memory), go on from
// there.

// Of many values as many are sampled, and the middle is looked for within so many
// places of the middle of the sample: five standard deviations of its place.
const (
	middleSample = 4096
	middleReach  = 160
)

// manyValues is the number of values from which sampling pays.
const manyValues = 1 << 14

// middleBounds are two values that most likely lie on either side of the middle.
func middleBounds(x []float64) (lo, hi float64) {
	step := len(x) / middleSample
	s := make([]float64, middleSample)
	for i := range s {
		s[i] = x[i*step]
	}
	slices.Sort(s)
	return s[middleSample/2-middleReach], s[middleSample/2+middleReach]
}

// valuesWithin are the values of x from lo to hi, and how many lie below. What is
// asked of each is foreseen by the processor: few are within.
func valuesWithin(x []float64, lo, hi float64) (in []float64, below int) {
	mid, half := lo+(hi-lo)/2, (hi-lo)/2
	in = make([]float64, 0, len(x)/8)
	for _, v := range x {
		d := v - mid
		if math.Abs(d) <= half {
			in = append(in, v)
			continue
		}
		below += int(math.Float64bits(d) >> 63)
	}
	return in, below
}

// nearMiddle keeps of many values those round the middle, and returns the place
// of the middle among them: all when the sample was misled. The mean of the middle
// two of the values needs the one before it too.
func nearMiddle(x []float64) (in []float64, k int) {
	lo, hi := middleBounds(x)
	in, below := valuesWithin(x, lo, hi)
	if k = len(x)/2 - below; k < 1 || k >= len(in) {
		return x, len(x) / 2
	}
	return in, k
}
