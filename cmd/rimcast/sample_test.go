package main

import (
	"math"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"
)

// plainLine is what the tests read of a row of sample.
type plainLine struct {
	Layer    string   `parquet:"layer"`
	Status   string   `parquet:"status"`
	Kind     string   `parquet:"kind"`
	RhoLo    float32  `parquet:"rho_lo"`
	Mean     *float32 `parquet:"mean,optional"`
	SD       *float32 `parquet:"sd,optional"`
	Pixels   int32    `parquet:"pixels"`
	Coverage float32  `parquet:"coverage"`
}

func plainLines(t *testing.T, args ...string) []plainLine {
	t.Helper()
	path := filepath.Join(t.TempDir(), "rings.parquet")
	if code, _, text := runHere(t, append([]string{"sample", "-q", "-o", path}, args...)...); code != 0 {
		t.Fatalf("exit code %d; %s", code, text)
	}
	rows, err := parquet.ReadFile[plainLine](path)
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

// TestSampleEqualsScreen: over the rings of a screening the means are those of its
// radial profile, which its table has in six digits.
func TestSampleEqualsScreen(t *testing.T) {
	dir := t.TempDir()
	maps := symmetryMaps(t, dir)
	list := filepath.Join(dir, "craters.csv")
	put(t, list, "id,lon,lat,radius_km\nB,30,10,180\n")
	survey := []string{"--craters", list, "--body", "Moon", "--species", maps[0], "--full-resolution"}
	result := filepath.Join(dir, "result")
	if code, _, text := runHere(t, append([]string{"screen", "-q", "-o", result, "--nulls", "12", "--top", "0"}, survey...)...); code != 0 {
		t.Fatalf("exit code %d; %s", code, text)
	}
	want := radialMeans(t, result)
	edges := make([]string, len(want))
	for i, w := range want {
		edges[i] = strconv.FormatFloat(w[0], 'g', -1, 64)
	}
	rows := plainLines(t, append(survey, "--edges", strings.Join(edges, ",")+",8")...)
	for i, w := range want {
		r := rows[i]
		if r.Kind != "ring" || math.Abs(float64(*r.Mean)/w[1]-1) > 5e-6 || int(r.Pixels) != int(w[2]) {
			t.Errorf("ring from %g has mean %v of %d pixels, want %g of %g", w[0], *r.Mean, r.Pixels, w[1], w[2])
		}
	}
}

// radialMeans are inner range, mean and pixels of the rings of a profile.
func radialMeans(t *testing.T, result string) (out [][3]float64) {
	t.Helper()
	for _, row := range readTable(t, filepath.Join(result, "radial.csv")) {
		var v [3]float64
		for k, name := range []string{"rho_lo", "mean", "pixels"} {
			v[k], _ = strconv.ParseFloat(row[name], 64)
		}
		out = append(out, v)
	}
	return out
}

// TestSampleObeysMasks: pixels that a mask drops are in no mean, and the rest of
// the ring says how much is left.
func TestSampleObeysMasks(t *testing.T) {
	dir := t.TempDir()
	maps := symmetryMaps(t, dir)
	list := filepath.Join(dir, "craters.csv")
	put(t, list, "id,lon,lat,radius_km\nB,30,10,180\nA,-60,-20,190\ntiny,0,0,2\n")
	mask := filepath.Join(dir, "mask.tif")
	if err := makeMap(mask, []string{"formula=strip"}); err != nil {
		t.Fatal(err)
	}
	survey := []string{"--craters", list, "--body", "Moon", "--species", maps[0], "--species", maps[1]}
	all := plainLines(t, survey...)
	left := plainLines(t, append(survey, "--mask", mask+",drop=11")...)
	if all[0].Status != "ok" || all[len(all)-1].Status != "too_small" {
		t.Errorf("statuses %s, %s", all[0].Status, all[len(all)-1].Status)
	}
	// The strip from 40 to 60 degrees east crosses the ring from 3 to 4 radii of 6
	// degrees, and not that from 1.1 to 1.5.
	if near, far := 2, 6; left[near].Pixels != all[near].Pixels || !(left[far].Pixels < all[far].Pixels) || !(left[far].Coverage < 0.95*all[far].Coverage) {
		t.Errorf("with a mask %+v, %+v, without %+v, %+v", left[near], left[far], all[near], all[far])
	}
}
