package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"

	"rimcast/ejecta/testblanket"
	"rimcast/geom"
	"rimcast/raster"
)

// bigSurvey is the recipe of a survey for measuring speed: maps and catalogue
// of any size, made one map at a time. The noise of a map is a tile of
// correlated noise, repeated, and independent noise on top, so that it
// compresses and correlates like a calibrated map. Nothing is planted.
type bigSurvey struct {
	width, height int
	craters       int
	seed          uint64
}

// The big survey: the maps, the side of the repeated tile, and the radii.
const (
	bigTile      = 512
	bigRadius    = 1200e3 // of the body, metres
	bigMinPixels = 2.0
	bigMaxPixels = 200.0
	bigSlope     = 2.0 // of the cumulative size distribution
)

var bigMaps = []testblanket.Map{
	{Name: "water", Kind: "species", Unit: "ppm"},
	{Name: "hydroxyl", Kind: "species", Unit: "ppm"},
	{Name: "temperature", Kind: "temperature", Unit: "K"},
}

// write makes the survey directory.
func (s bigSurvey) write(dir string, prog progress) (*testblanket.Survey, error) {
	v := &testblanket.Survey{
		Title:   fmt.Sprintf("Survey for speed, %d x %d pixels", s.width, s.height),
		Body:    geom.Sphere("Orvane", bigRadius),
		Grid:    testblanket.Grid{Width: s.width, Height: s.height, West: -180, North: 90 * float64(min(2*s.height, s.width)) / float64(s.width), Step: 360 / float64(s.width), Wraps: true},
		Species: bigMaps[:2], Covariates: bigMaps[2:],
	}
	v.Craters = s.catalogue(v)
	grid, err := inventedGrid(v.Body, v.Grid)
	if err != nil {
		return nil, err
	}
	prog.Stage("writing maps", len(bigMaps))
	values := make([]float32, s.width*s.height)
	for i, m := range bigMaps {
		s.fill(values, uint64(i))
		bands := []raster.Band{{Name: m.Name, Unit: m.Unit, Values: values}}
		if err := raster.WriteGeoTIFF(filepath.Join(dir, mapFile(m)), &grid, bands, raster.WriteOptions{}); err != nil {
			return nil, err
		}
		prog.Add(1)
	}
	recipe := fmt.Appendf(nil, "# made by: rimcast synth big --width %d --height %d --craters %d --seed %d\n", s.width, s.height, s.craters, s.seed)
	for name, text := range map[string][]byte{
		"craters.geojson": catalogueText(v.Body, v.Craters), "survey.toml": surveyText(v), scenarioFile: recipe,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o666); err != nil {
			return nil, outputFault(err)
		}
	}
	return v, nil
}

// fill draws one map.
func (s bigSurvey) fill(values []float32, layer uint64) {
	rng := rand.New(rand.NewPCG(s.seed, layer))
	tile := testblanket.NewGenerator(testblanket.Noise{Length: 3}, bigTile, bigTile, true, true).Draw(rng).Values
	for y := range s.height {
		row := values[y*s.width : (y+1)*s.width]
		from := tile[y%bigTile*bigTile : (y%bigTile+1)*bigTile]
		for x := range row {
			// A sum of two uniform draws is close enough to normal for speed.
			white := rng.Float64() + rng.Float64() - 1
			// Rounded to 1/16, as calibrated values are, so that they compress.
			row[x] = float32(math.Round(16*(200+30*from[x%bigTile]+12*white)) / 16)
		}
	}
}

// catalogue draws craters evenly over the body, with a power law of sizes.
func (s bigSurvey) catalogue(v *testblanket.Survey) []geom.Crater {
	rng := rand.New(rand.NewPCG(s.seed, 99))
	pixel := v.Body.SemiMajor * v.Grid.Step * math.Pi / 180
	south := v.Grid.North - v.Grid.Step*float64(v.Grid.Height)
	sinN, sinS := math.Sin(v.Grid.North*math.Pi/180), math.Sin(south*math.Pi/180)
	craters := make([]geom.Crater, s.craters)
	for i := range craters {
		size := bigMinPixels * math.Pow(1-rng.Float64()*(1-math.Pow(bigMinPixels/bigMaxPixels, bigSlope)), -1/bigSlope)
		craters[i] = geom.Crater{
			Index: i, ID: fmt.Sprintf("B%07d", i+1),
			Centre: geom.LonLat{Lon: 360*rng.Float64() - 180, Lat: math.Asin(sinS+(sinN-sinS)*rng.Float64()) * 180 / math.Pi},
			Radius: size * pixel, Age: math.NaN(), Freshness: math.NaN(),
		}
	}
	return craters
}
