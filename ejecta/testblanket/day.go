package testblanket

import (
	"fmt"
	"math"
)

// hasEpoch reports whether a species has a map of an epoch.
func (s Scenario) hasEpoch(species, epoch string) bool {
	for _, l := range s.Species {
		if l.Name == species && l.Epoch == epoch {
			return true
		}
	}
	return false
}

// share mixes the noise that the epochs of a species have in common into each.
func (s Scenario) share(v *Survey, seed uint64, fields [][]float64) {
	common := map[string][]float64{}
	for i, l := range s.Species {
		if l.Shared == 0 {
			continue
		}
		if common[l.Name] == nil {
			whole := l.Noise
			whole.Gaps = 0
			g := NewGenerator(whole, v.Grid.Width, v.Grid.Height, v.Grid.Wraps, false)
			common[l.Name] = g.Draw(stream(seed, "shared/"+l.Name)).Values
		}
		a, b := math.Sqrt(l.Shared), math.Sqrt(1-l.Shared)
		for k, x := range common[l.Name] {
			fields[i][k] = a*x + b*fields[i][k]
		}
	}
}

// byEpoch says what is there at each epoch, for a species with blankets that are
// not there always.
func byEpoch(species string, planted []Blanket) (out []string) {
	for _, b := range planted {
		if b.Species == species && b.Epoch != "" {
			out = append(out, fmt.Sprintf("%s=%g@%g", b.Epoch, b.Amplitude, b.Axis))
		}
	}
	return out
}

// Times of day of the scenario of the day.
var dayEpochs = []struct {
	name string
	hour float64
	// background of water and hydroxyl: both are less at noon over all ground
	water, hydroxyl float64
}{{"morning", 8, 200, 150}, {"noon", 12, 185, 90}, {"afternoon", 16, 195, 130}}

// Day is a survey of two species at three times of day with noise that the
// times share: blankets that were dug up and stay, that the sun drives off and
// brings back, and one whose direction turns with the sun. Its tests are small
// enough to run in seconds.
func Day() Scenario {
	s := Scenario{
		Title: "A day on Nerith",
		Grid:  GridRecipe{Width: 720, Height: 240, West: 0, North: 60, Step: 0.5, Edge: true},
		Old:   Old{Count: 14, MinPixels: 4.2, MaxPixels: 6, MaxLat: 50, Age: 900},
	}
	for _, e := range dayEpochs {
		noise := Noise{Length: 1.5, Gaps: 0.02, GapLength: 8}
		s.Species = append(s.Species,
			Layer{Name: "water", Epoch: e.name, LocalTime: e.hour, Background: e.water, Sigma: 14, Shared: 0.5, Noise: noise},
			Layer{Name: "hydroxyl", Epoch: e.name, LocalTime: e.hour, Background: e.hydroxyl, Sigma: 16, Shared: 0.5, Noise: noise})
	}
	s.Craters = []Planted{
		{ID: "D1", Name: "Ambrel", Lon: 40, Lat: 25, Pixels: 6, Age: 30, Note: "both stay all day",
			Blankets: []Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 90}, {Species: "hydroxyl", Pattern: "symmetric", Amplitude: 110}}},
		{ID: "D2", Name: "Corvane", Lon: 110, Lat: -20, Pixels: 6, Age: 45, Note: "water stays, hydroxyl halves and recovers",
			Blankets: append([]Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 100}}, daily([3]float64{160, 70, 130}, nil)...)},
		{ID: "D3", Name: "Delmire", Lon: 180, Lat: 30, Pixels: 6, Age: 60, Note: "water stays, hydroxyl is gone at noon",
			Blankets: append([]Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 110}}, daily([3]float64{120, 0, 70}, nil)...)},
		{ID: "D4", Name: "Estoral", Lon: 250, Lat: 25, Pixels: 7, Age: 75, Note: "the direction of hydroxyl is that of the sun",
			Blankets: append([]Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 90}}, daily([3]float64{140, 140, 140}, []float64{104, 180, 256})...)},
		{ID: "D5", Name: "Farwin", Lon: 320, Lat: -30, Pixels: 7, Age: 90, Note: "hydroxyl to one side, the same all day",
			Blankets: []Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 80}, {Species: "hydroxyl", Pattern: "one-sided", Axis: 40, Amplitude: 140}}},
	}
	return s
}

// daily is a blanket of hydroxyl with an amplitude, and with a direction where
// axes are given, at each time of day.
func daily(amplitude [3]float64, axes []float64) (out []Blanket) {
	for i, e := range dayEpochs {
		b := Blanket{Species: "hydroxyl", Epoch: e.name, Pattern: "symmetric", Amplitude: amplitude[i]}
		if axes != nil {
			b.Pattern, b.Axis = "one-sided", axes[i]
		}
		out = append(out, b)
	}
	return out
}
