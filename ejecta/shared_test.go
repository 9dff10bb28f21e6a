package ejecta

import (
	"math"
	"reflect"
	"slices"
	"testing"
)

// TestSharedChangesNothing: what species share at a place is what each would make
// for itself, whether their pixels agree or not, with columns of their own kinds.
func TestSharedChangesNothing(t *testing.T) {
	for _, radius := range []float64{2.5, 4.5, 6, 9} {
		site := benchSite(radius, 3)
		gaps := slices.Clone(site.Values)
		for i := range gaps {
			if i%17 == 0 || site.Samples.Az[i] < 0.4 {
				gaps[i] = float32(math.NaN())
			}
		}
		slope := make([]float64, len(gaps))
		for i := range slope {
			slope[i] = float64(site.Samples.X[i])
		}
		shared := &Shared{}
		for n, values := range [][]float32{site.Values, reversed(site.Values), gaps, site.Values} {
			one := site
			one.Values = values
			if n > 0 {
				one.Covariates = []Field{{Name: "slope", Kind: "slope", Values: slope}}
			}
			alone := Collect(one, Settings{})
			one.Shared = shared
			if with := Collect(one, Settings{}); !reflect.DeepEqual(plainOf(with), plainOf(alone)) {
				t.Errorf("radius %g, species %d: the evidence differs when the place is shared", radius, n)
			}
		}
	}
}

func reversed(v []float32) []float32 {
	out := slices.Clone(v)
	slices.Reverse(out)
	return out
}

// plainOf is what can be compared bit by bit: NaN differ from themselves.
func plainOf(e *Evidence) (out []uint64) {
	for _, v := range e.Gram.M {
		out = append(out, math.Float64bits(v))
	}
	for _, r := range e.Rings {
		out = append(out, math.Float64bits(r.Mean), math.Float64bits(r.Variance), uint64(r.Pixels), uint64(r.Full))
	}
	for _, s := range e.Sectors {
		out = append(out, math.Float64bits(s.Mean), math.Float64bits(s.Own), math.Float64bits(s.East), uint64(s.Pixels))
	}
	return out
}
