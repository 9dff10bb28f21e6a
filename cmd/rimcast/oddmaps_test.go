package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
)

// oddMaps are one ground written in many ways.
var oddMaps = []struct {
	name, recipe string
}{
	{"south up", "geo=-180,1.5,0,-90,0,1.5"},
	{"east on the left", "geo=180,-1.5,0,90,0,-1.5"},
	{"rows and columns exchanged", "size=120x240 geo=-180,0,1.5,90,-1.5,0"},
	{"turned by 30 degrees", "size=200x200 geo=-90,1,0.577,10,0.577,-1"},
	{"0..360", "geo=0,1.5,0,90,0,-1.5"},
	{"360..720", "geo=360,1.5,0,90,0,-1.5"},
	{"a column twice", "size=241x120"},
	{"10 bits", "type=UInt16 opt=NBITS=10 opt=COMPRESS=DEFLATE"},
	{"16 bits with scale and offset", "type=Int16 scale=0.25 offset=-3 value=812 sigma=20 crater=30,10,6,800"},
	{"32 bits", "type=Int32"},
	{"64-bit numbers", "type=Float64"},
	{"large strips", "opt=BLOCKYSIZE=120"},
	{"PDS4", "copy=PDS4"},
	{"ISIS3", "copy=ISIS3"},
	{"VICAR", "copy=VICAR"},
	{"ENVI", "copy=ENVI"},
	{"VRT", "copy=VRT"},
	{"COG", "copy=COG"},
}

// TestOddMaps: the excess of a crater does not depend on how its ground was
// written.
func TestOddMaps(t *testing.T) {
	if testing.Short() {
		t.Skip("many small screenings: left to the whole suite")
	}
	want, wantSE := screenedExcess(t, "")
	if !(want > 20 && wantSE < 1) {
		t.Fatalf("excess %g, standard error %g of the plain map", want, wantSE)
	}
	for _, m := range oddMaps {
		t.Run(m.name, func(t *testing.T) {
			got, se := screenedExcess(t, m.recipe)
			// Grids differ in where pixels lie against the rim: a blanket that
			// falls with the third power moves by some per cent.
			if math.Abs(got-want) > 4*math.Hypot(se, wantSE)+0.05*want {
				t.Errorf("excess %g, standard error %g; want %g", got, se, want)
			}
		})
	}
}

// screenedExcess makes a map, screens it and returns the excess of its crater.
func screenedExcess(t *testing.T, recipe string) (excess, se float64) {
	t.Helper()
	godal.RegisterAll()
	dir := t.TempDir()
	path := filepath.Join(dir, "water.tif")
	args := append([]string{"value=200", "sigma=5"}, strings.Fields(recipe)...)
	if !strings.Contains(recipe, "crater=") {
		args = append(args, "crater=30,10,6,200")
	}
	if err := makeMap(path, args); err != nil {
		t.Fatal(err)
	}
	if _, driver, ok := strings.Cut(recipe, "copy="); ok {
		if _, has := godal.RasterDriver(godal.DriverName(driver)); !has {
			t.Skip("this GDAL has no driver ", driver)
		}
		path = copiedPath(path, driver)
	}
	put(t, filepath.Join(dir, "one.geojson"), moonCrater)
	out := filepath.Join(dir, "out")
	code, _, text := runHere(t, "screen", "--species", "water="+path, "--body", "Moon", "--craters", filepath.Join(dir, "one.geojson"),
		"--nulls", "0", "--top", "0", "-q", "-o", out)
	if code != 0 {
		t.Fatalf("exit code %d; %s", code, text)
	}
	return column(t, out, "excess"), column(t, out, "excess_se")
}

// column is a number of the first row of findings.csv.
func column(t *testing.T, dir, name string) float64 {
	t.Helper()
	f, err := os.Open(filepath.Join(dir, "findings.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) < 2 {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	v, err := strconv.ParseFloat(rows[1][slices.Index(rows[0], name)], 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
