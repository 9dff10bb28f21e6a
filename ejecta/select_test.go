package ejecta

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestMedianOfMany: with a sample the median is that of the sorted values, also
// where the values fool the sample, in waves or in order, and where most are equal.
func TestMedianOfMany(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		kind := rapid.SampledFrom([]string{"noise", "steps", "order", "wave", "rare"}).Draw(t, "kind")
		x := make([]float64, manyValues+rapid.IntRange(0, 5000).Draw(t, "more"))
		for i := range x {
			switch x[i] = rng.NormFloat64(); kind {
			case "steps":
				x[i] = math.Round(x[i])
			case "order":
				x[i] = float64(i)
			case "wave":
				x[i] += 9 * float64(i%(len(x)/middleSample))
			case "rare":
				x[i] = float64(rng.IntN(len(x)) / (len(x) - 2))
			}
		}
		s := slices.Sorted(slices.Values(x))
		n := len(s)
		want := s[n/2]
		if n%2 == 0 {
			want = s[n/2-1] + (s[n/2]-s[n/2-1])/2
		}
		if got := Median(x); got != want {
			t.Fatalf("the median of %d values (%s) is %v, not %v", n, kind, want, got)
		}
	})
}

func BenchmarkMedian(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 1<<18)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	b.Run("all", func(b *testing.B) {
		for b.Loop() {
			smallest(slices.Clone(x), len(x)/2)
		}
	})
	b.Run("sampled", func(b *testing.B) {
		for b.Loop() {
			Median(x)
		}
	})
}
