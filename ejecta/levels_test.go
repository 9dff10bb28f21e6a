package ejecta

import (
	"math"
	"testing"
)

// Levels are those of the far rings, without masked and unknown ground and
// without what goes round.
func TestFieldLevels(t *testing.T) {
	nan := math.NaN()
	s := &Samples{Rho: []float64{1.5, 4.5, 5, 6, 7}, X: make([]int32, 5)}
	got := FieldLevels(s, []bool{false, false, true, false, false}, []Field{
		{Name: "warm", Kind: "temperature", Values: []float64{900, 250, 900, 260, nan}},
		{Name: "time cos", Kind: "local_time", Values: []float64{1, 1, 1, 1, 1}},
		{Name: "bare", Kind: "albedo", Values: []float64{nan, nan, nan, nan, nan}},
	})
	if len(got) != 2 || got[0] != (Level{"warm", "temperature", 255}) || !math.IsNaN(got[1].Mean) {
		t.Errorf("%+v", got)
	}
}
