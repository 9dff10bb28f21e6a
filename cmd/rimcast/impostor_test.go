package main

import (
	"encoding/csv"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/geom"
	"rimcast/raster"
)

// stripWidth is the width of the strips of the test map, and badStrip the one
// that stands too high.
const (
	stripWidth = 30
	badStrip   = 11
	mapColumns = 720
)

// writeImpostorMaps writes white noise that follows a temperature, with one
// strip too high; the strip numbers; the temperature; and errors that are twice
// as large in the south, as the noise is.
func writeImpostorMaps(t *testing.T, dir string) {
	t.Helper()
	g, err := raster.GlobalGrid(geom.Sphere("Moon", 1737400), mapColumns, 0)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(11, 1))
	n := g.Width * g.Height
	water, strip, warm, sigma := make([]float32, n), make([]float32, n), make([]float32, n), make([]float32, n)
	for i := range n {
		x, y := i%g.Width, i/g.Width
		k := x / stripWidth
		strip[i], sigma[i] = float32(k), 10
		if 2*y > g.Height {
			sigma[i] = 20
		}
		warm[i] = float32(250 + 20*math.Sin(float64(x)/23)*math.Cos(float64(y)/31))
		water[i] = 200 + sigma[i]*float32(rng.NormFloat64()) + 0.8*(warm[i]-250)
		if k == badStrip {
			water[i] += 15
		}
	}
	for name, v := range map[string][]float32{"water": water, "strip": strip, "warm": warm, "sigma": sigma} {
		if err := raster.WriteGeoTIFF(filepath.Join(dir, name+".tif"), &g, []raster.Band{{Name: name, Values: v}}, raster.WriteOptions{}); err != nil {
			t.Fatal(err)
		}
	}
	// S lies 1.5 radii west of the bad strip, F far from it.
	var features []string
	for id, x := range map[string]float64{"S": badStrip*stripWidth - 12, "F": 560} {
		features = append(features, fmt.Sprintf(`{"type":"Feature","id":"%s","properties":{"radius_km":121},"geometry":{"type":"Point","coordinates":[%g,10]}}`, id, x*360/mapColumns-180))
	}
	put(t, filepath.Join(dir, "craters.geojson"), `{"type":"FeatureCollection","features":[`+strings.Join(features, ",")+`]}`)
}

// tableOf reads a table of a result by crater and another column.
func tableOf(t *testing.T, path, key string) map[string]map[string]string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(slurp(t, path))).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatal(path, err)
	}
	out := map[string]map[string]string{}
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = r[i]
		}
		out[m["crater_id"]+" "+m[key]] = m
	}
	return out
}

// TestImpostorLayers: strips, a covariate and an error map go all the way from
// the files into the alarms.
func TestImpostorLayers(t *testing.T) {
	dir := t.TempDir()
	writeImpostorMaps(t, dir)
	said := ""
	screen := func(out string, more ...string) map[string]map[string]string {
		args := append([]string{"screen", "--craters", "craters.geojson", "--nulls", "60", "--top", "0", "--verbose", "-o", out}, more...)
		code, text := program(t, dir, nil, args...)
		if code != 0 {
			t.Fatalf("exit code %d; %s", code, text)
		}
		said = text
		return tableOf(t, filepath.Join(dir, out, "alarms.csv"), "alarm")
	}
	plain := screen("plain", "--species", "water=water.tif")
	for _, name := range []string{"S seam_step", "S one_strip", "S thermal"} {
		if a := plain[name]; a["state"] != "not_run" {
			t.Errorf("without layers, %s: %v", name, a)
		}
	}
	known := screen("known", "--species", "water=water.tif,sigma=sigma.tif", "--covariate", "strip=strip.tif,kind=strip", "--covariate", "warm=warm.tif,kind=temperature")
	if i := strings.Index(said, "follows warm by "); i < 0 || !slopeNear(said[i:], 0.8) {
		t.Errorf("the slope of the map is not told, or wrong: %s", said)
	}
	for name, want := range map[string]string{"S seam_step": "raised", "F seam_step": "clear", "S thermal": "clear", "S radius_mismatch": "clear", "S illumination": "not_run"} {
		if a := known[name]; a["state"] != want {
			t.Errorf("%s is %s, want %s: %v", name, a["state"], want, a)
		}
	}
	for _, out := range []string{"known", "plain"} {
		f := tableOf(t, filepath.Join(dir, out, "findings.csv"), "species")["F water"]
		if f["pattern"] != "none" {
			t.Errorf("%s: nothing lies round F, yet %v", out, f["verdict"])
		}
	}
}

// slopeNear reads "follows warm by X per unit".
func slopeNear(text string, want float64) bool {
	var got float64
	_, err := fmt.Sscanf(text, "follows warm by %g per unit", &got)
	return err == nil && math.Abs(got-want) < 0.05
}
