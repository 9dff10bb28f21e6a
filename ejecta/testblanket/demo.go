package testblanket

// Demo is the survey that the program invents to show itself: water and
// hydroxyl on an airless body, in orbital strips with correlated noise and
// holes, warmer towards the equator, lit from the east, with a dozen young
// craters among many old ones. Amplitudes are set so that most are found at once, and one or two only
// by a careful test.
func Demo() Scenario {
	return Scenario{
		Title: "Demonstration survey of Nerith",
		Body:  BodyRecipe{Name: "Nerith", RadiusKm: 720},
		Grid:  GridRecipe{Width: 1600, Height: 800},
		Species: []Layer{
			{Name: "water", Unit: "ppm", Background: 190, Sigma: 34, PoleRise: 20, Coupling: -0.8,
				Noise: Noise{Length: 3, Columns: 0.15, Strips: 0.3, StripWidth: 32, Aligned: true, Gaps: 0.05, GapLength: 9}},
			{Name: "hydroxyl", Unit: "ppm", Background: 420, Sigma: 42, PoleRise: 60, Coupling: -0.5,
				Noise: Noise{Length: 4, Columns: 0.15, Strips: 0.25, StripWidth: 32, Aligned: true, Gaps: 0.05, GapLength: 9}},
		},
		Covariates: []Covariate{
			{Name: "temperature", Kind: "temperature", Unit: "K", Base: 120, Sunlit: 230, EveryNoon: true, SunEast: 30, Sigma: 6,
				Noise: Noise{Length: 6}},
			{Name: "incidence", Kind: "incidence", Unit: "deg", EveryNoon: true, SunEast: 30, Sigma: 4, Noise: Noise{Length: 2}},
			{Name: "sun", Kind: "sun_azimuth", Unit: "deg", EveryNoon: true, SunEast: 30},
			{Name: "strip", Kind: "strip", Noise: Noise{StripWidth: 32}},
		},
		Craters: demoCraters(),
		Old:     Old{Count: 138, Neighbours: 5, MaxPixels: 17, MaxLat: 72, Age: 900},
		Young:   200,
	}
}

func demoCraters() []Planted {
	return []Planted{
		{ID: "N01", Name: "Kessary", Lon: -38, Lat: 12, Pixels: 9, Age: 2,
			Note: "small and young: water the same all round, hydroxyl along one axis",
			Blankets: []Blanket{
				{Species: "water", Pattern: "symmetric", Amplitude: 190},
				{Species: "hydroxyl", Pattern: "bilateral", Amplitude: 330, Axis: 31, Share: 1, Kappa: 8},
			}},
		{ID: "N02", Name: "Dolmeth", Lon: 64, Lat: -18, Pixels: 13, Age: 9,
			Note: "both species to one side",
			Blankets: []Blanket{
				{Species: "water", Pattern: "one-sided", Amplitude: 150, Axis: 118, Share: 0.9, Kappa: 3},
				{Species: "hydroxyl", Pattern: "one-sided", Amplitude: 230, Axis: 118, Share: 0.9, Kappa: 3},
			}},
		{ID: "N03", Name: "Tovasse", Lon: 131, Lat: 27, Pixels: 18, Age: 14,
			Note: "five irregular rays",
			Blankets: []Blanket{
				{Species: "water", Pattern: "rays", Amplitude: 170, Rays: []float64{20, 95, 160, 215, 305}},
				{Species: "hydroxyl", Pattern: "rays", Amplitude: 230, Rays: []float64{20, 95, 160, 215, 305}},
			}},
		{ID: "N04", Name: "Aumrin", Lon: -112, Lat: -33, Pixels: 15, Age: 21,
			Note: "a gap towards the west, as after an oblique impact",
			Blankets: []Blanket{
				{Species: "water", Pattern: "gap", Amplitude: 210, Axis: 265, GapWidth: 110},
				{Species: "hydroxyl", Pattern: "gap", Amplitude: 240, Axis: 265, GapWidth: 110},
			}},
		{ID: "N05", Name: "Hethby", Lon: 12, Lat: 41, Pixels: 8, Age: 30,
			Note:     "water only, symmetric",
			Blankets: []Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 170}}},
		{ID: "N06", Name: "Marrowen", Lon: 178.6, Lat: 5, Pixels: 11, Age: 35,
			Note: "symmetric, across the 180 degree meridian",
			Blankets: []Blanket{
				{Species: "water", Pattern: "symmetric", Amplitude: 140},
				{Species: "hydroxyl", Pattern: "symmetric", Amplitude: 190},
			}},
		{ID: "N07", Name: "Quillory", Lon: -70, Lat: 56, Pixels: 12, Age: 48,
			Note: "symmetric, slow decay",
			Blankets: []Blanket{
				{Species: "water", Pattern: "symmetric", Amplitude: 120, Decay: 2.2},
				{Species: "hydroxyl", Pattern: "symmetric", Amplitude: 120, Decay: 2.2},
			}},
		{ID: "N08", Name: "Ullamar", Lon: 98, Lat: -61, Pixels: 10, Age: 60,
			Note:     "hydroxyl only, symmetric",
			Blankets: []Blanket{{Species: "hydroxyl", Pattern: "symmetric", Amplitude: 230}}},
		{ID: "N09", Name: "Brannoch", Lon: -15, Lat: -47, Pixels: 11, Age: 77,
			Note: "a temperature contrast, and nothing else",
			Blankets: []Blanket{
				{Species: "temperature", Pattern: "one-sided", Amplitude: -70, Axis: 0, Share: 1, Decay: 2.5},
			}},
		{ID: "N10", Name: "Sablewick", Lon: 41, Lat: 20, Pixels: 5, Age: 1,
			Note: "five pixels across the rim radius: water along one axis",
			Blankets: []Blanket{
				{Species: "water", Pattern: "bilateral", Amplitude: 250, Axis: 140, Kappa: 8},
			}},
		{ID: "N11", Name: "Ostrane", Lon: -142, Lat: 21, Pixels: 20, Age: 110,
			Note: "large and faint",
			Blankets: []Blanket{
				{Species: "water", Pattern: "symmetric", Amplitude: 55},
				{Species: "hydroxyl", Pattern: "symmetric", Amplitude: 80},
			}},
		{ID: "N12", Name: "Perrindel", Lon: 83, Lat: 84, Pixels: 9, Age: 19,
			Note: "symmetric, six degrees from the pole",
			Blankets: []Blanket{
				{Species: "water", Pattern: "symmetric", Amplitude: 160},
				{Species: "hydroxyl", Pattern: "symmetric", Amplitude: 220},
			}},
	}
}
