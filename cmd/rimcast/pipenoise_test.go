package main

import (
	"testing"

	"pgregory.net/rapid"
)

// TestWindowStarts: windows reach from end to end, leave nothing out and stay
// inside.
func TestWindowStarts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.SampledFrom([]int{32, 64, 128, 512}).Draw(t, "side")
		length := rapid.IntRange(side, 20*side).Draw(t, "length")
		starts := windowStarts(length, side)
		if starts[0] != 0 || starts[len(starts)-1] != length-side {
			t.Fatalf("%v", starts)
		}
		for i := 1; i < len(starts); i++ {
			if step := starts[i] - starts[i-1]; step <= 0 || step > side {
				t.Fatalf("%v", starts)
			}
		}
		if len(starts) > length/side+1 {
			t.Fatalf("%d windows of %d on %d", len(starts), side, length)
		}
	})
	if s := windowStarts(20, 32); len(s) != 1 || s[0] != 0 {
		t.Errorf("a map smaller than a window: %v", s)
	}
}
