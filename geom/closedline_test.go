package geom

import (
	"testing"

	"github.com/paulmach/orb"
)

// TestMeets: a rim that was worked out ends where it begins but for rounding; one
// with a gap does not.
func TestMeets(t *testing.T) {
	for _, c := range []struct {
		name string
		last orb.Point
		want bool
	}{
		{"the same point", orb.Point{10, 5}, true},
		{"rounding", orb.Point{10 + 4e-15, 5 - 1e-9}, true},
		{"a gap of a hundredth", orb.Point{10.02, 5}, false},
	} {
		line := orb.Ring{{10, 5}, {12, 5}, {12, 7}, {10, 7}, c.last}
		if got := meets(line); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	var f feature
	if reason := f.closedLine([]byte(`[[10,5],[12,5],[12,7],[10,7],[10.00000000001,5]]`)); reason != "" || f.rim[0][0][4] != f.rim[0][0][0] {
		t.Errorf("a rim closed but for rounding: %q, %v", reason, f.rim)
	}
}
