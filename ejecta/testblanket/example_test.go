package testblanket_test

import (
	"fmt"
	"math"

	"rimcast/ejecta/testblanket"
)

func ExampleBlanket_Shape() {
	b := testblanket.Blanket{Pattern: "one-sided", Amplitude: 100, Axis: 90, Share: 0.8}
	s := b.Shape()
	for _, deg := range []float64{0, 90, 180, 270} {
		fmt.Printf("%3.0f deg: %5.1f at the rim, %4.1f at two radii\n", deg, s.At(1, deg*math.Pi/180), s.At(2, deg*math.Pi/180))
	}
	// Output:
	//   0 deg: 100.0 at the rim, 12.5 at two radii
	//  90 deg: 180.0 at the rim, 22.5 at two radii
	// 180 deg: 100.0 at the rim, 12.5 at two radii
	// 270 deg:  20.0 at the rim,  2.5 at two radii
}

func ExampleScenario_Build() {
	s := testblanket.Scenario{
		Title:   "two small maps",
		Grid:    testblanket.GridRecipe{Width: 200},
		Species: []testblanket.Layer{{Name: "water", Background: 200, Sigma: 10}, {Name: "hydroxyl", Background: 400, Sigma: 15}},
		Craters: []testblanket.Planted{{ID: "a", Lon: 10, Lat: 20, Pixels: 4,
			Blankets: []testblanket.Blanket{{Species: "hydroxyl", Pattern: "bilateral", Amplitude: 80, Axis: 31}}}},
		Old: testblanket.Old{Count: 5, MaxPixels: 6},
	}
	v, err := s.Build(1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(v)
	for _, t := range v.Truth[:2] {
		fmt.Println(t.CraterID, t.Species, t.Pattern, t.Axis)
	}
	// Output:
	// two small maps: 2 species, 0 covariates of 200 x 100 pixels, 6 craters
	// a water none 0
	// a hydroxyl bilateral 31
}
