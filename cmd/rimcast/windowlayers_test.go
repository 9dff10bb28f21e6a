package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"rimcast/geom"
	"rimcast/raster"
)

// groundMaps are maps of 400 x 200 pixels: noise, the same noise that follows a
// temperature of 200 x 100 pixels, and noise under dust, with a mask of as many.
func groundMaps(t *testing.T, dir string) {
	t.Helper()
	rng := rand.New(rand.NewPCG(5, 6))
	fine, coarse := moonGrid(t, 400), moonGrid(t, 200)
	warm, dust := make([]float32, coarse.Width*coarse.Height), make([]float32, coarse.Width*coarse.Height)
	for i := range warm {
		x, y := i%coarse.Width, i/coarse.Width
		warm[i] = float32(250 + 20*math.Sin(float64(x)/4)*math.Cos(float64(y)/3) + 10*rng.NormFloat64())
		if rng.IntN(12) == 0 {
			dust[i] = 1
		}
	}
	plain, warmed, dusty := make([]float32, 4*len(warm)), make([]float32, 4*len(warm)), make([]float32, 4*len(warm))
	for i := range plain {
		k := (i/fine.Width/2)*coarse.Width + i%fine.Width/2
		plain[i] = 200 + 10*float32(rng.NormFloat64())
		warmed[i], dusty[i] = plain[i]+2*(warm[k]-250), plain[i]+300*dust[k]
	}
	writeOn(t, dir, &fine, map[string][]float32{"plain": plain, "warmed": warmed, "dusty": dusty})
	writeOn(t, dir, &coarse, map[string][]float32{"warm": warm, "dust": dust})
	var features []string
	for k := range 24 {
		features = append(features, fmt.Sprintf(`{"type":"Feature","id":"c%d","properties":{"radius_km":110},"geometry":{"type":"Point","coordinates":[%d,%d]}}`, k, k%8*44-160, k/8*35-35))
	}
	put(t, filepath.Join(dir, "craters.geojson"), `{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`)
}

func moonGrid(t *testing.T, width int) raster.Grid {
	t.Helper()
	g, err := raster.GlobalGrid(geom.Sphere("Moon", 1737400), width, 0)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func writeOn(t *testing.T, dir string, g *raster.Grid, maps map[string][]float32) {
	t.Helper()
	for name, v := range maps {
		if err := raster.WriteGeoTIFF(filepath.Join(dir, name+".tif"), g, []raster.Band{{Name: name, Values: v}}, raster.WriteOptions{}); err != nil {
			t.Fatal(err)
		}
	}
}

func plainNumber(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// TestNoiseBesideLayers: what a covariate explains and what a mask hides, on a
// grid of their own, is no noise: the errors of the excess are those of the map
// without them.
func TestNoiseBesideLayers(t *testing.T) {
	dir := t.TempDir()
	groundMaps(t, dir)
	put(t, filepath.Join(dir, "mask.toml"), "[[mask]]\npath = \"dust.tif\"\nkeep = [0]\n")
	spread := func(out string, more ...string) (mean float64) {
		args := append([]string{"screen", "--craters", "craters.geojson", "--nulls", "40", "--top", "0", "-o", out}, more...)
		if code, text := program(t, dir, nil, args...); code != 0 {
			t.Fatalf("exit code %d; %s", code, text)
		}
		rows := tableOf(t, filepath.Join(dir, out, "findings.csv"), "species")
		for _, f := range rows {
			mean += plainNumber(t, f["excess_se"]) / float64(len(rows))
		}
		return mean
	}
	plain := spread("a", "--species", "water=plain.tif,unit=ppm")
	warmed := spread("b", "--species", "water=warmed.tif,unit=ppm", "--covariate", "warm=warm.tif,kind=temperature,unit=K")
	dusty := spread("c", "mask.toml", "--species", "water=dusty.tif,unit=ppm")
	if r := warmed / plain; !(r > 0.9 && r < 1.2) {
		t.Errorf("errors beside a covariate are %.2f of those without what it does", r)
	}
	if r := dusty / plain; !(r > 0.9 && r < 1.3) {
		t.Errorf("errors beside a mask are %.2f of those without what it hides", r)
	}
}

// TestStripsOfWindow: a window that crosses strips has a column for each but the
// widest.
func TestStripsOfWindow(t *testing.T) {
	number := []float64{1, 1, 1, 1, 2, 2, 2, 2.5, 3, 3}
	c := stripColumns(number)
	if len(c) != 2 || c[0][4] != 1 || c[0][7] != 0 || c[1][9] != 1 {
		t.Errorf("columns %v", c)
	}
	if hourColumns(number, 1) != nil || len(hourColumns(number, 0)) != 2 {
		t.Error("times of day are two columns on pixels, none on block means")
	}
}

// TestUnwrap: columns across the edge of a map become neighbours.
func TestUnwrap(t *testing.T) {
	cols := []int{358, 359, nowhere, 0, 1}
	unwrap(cols, 360)
	if least, n := reachOf(cols); least != 358 || n != 4 || cols[2] != nowhere {
		t.Errorf("%v: from %d, %d", cols, least, n)
	}
	if _, n := reachOf([]int{nowhere}); n != 0 {
		t.Errorf("nowhere spans %d", n)
	}
}

// TestBlockMeans: a block of which half is valid has a mean, one with less none.
func TestBlockMeans(t *testing.T) {
	nan := float32(math.NaN())
	out := make([]float64, 2)
	blockMeans(out, []float32{1, 3, nan, nan, nan, nan, nan, 7}, 2)
	if out[0] != 2 || out[1] == out[1] {
		t.Errorf("%v, want 2 and NaN", out)
	}
	blockMeans(out, []float32{5, nan}, 1)
	if out[0] != 5 || out[1] == out[1] {
		t.Errorf("%v, want 5 and NaN", out)
	}
}
