package ejecta

import (
	"math"
	"testing"
)

// BenchmarkNoiseWindow prepares a window of 512 x 512 pixels with holes, and adds it.
func BenchmarkNoiseWindow(b *testing.B) {
	const side = 512
	own := orderWindows(side, 1, 3)[0]
	for i := range own {
		if i/side%100 < 20 && i%side%100 < 20 {
			own[i] = math.NaN()
		}
	}
	s, v := NewNoiseSurvey(side, side*7/8), make([]float64, len(own))
	b.Run("prepare", func(b *testing.B) {
		for b.Loop() {
			copy(v, own)
			s.Window(v, 0, 0)
		}
	})
	copy(v, own)
	w := s.Window(v, 0, 0)
	b.Run("add", func(b *testing.B) {
		for b.Loop() {
			s.Add(w)
			s.levels = s.levels[:0]
		}
	})
}
