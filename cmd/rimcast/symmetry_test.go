package main

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
)

// The craters of the tests of symmetry, of one class of sizes.
var symmetryCraters = []string{"B,30,10,180", "A,-60,-20,190", "C,120,15,170"}

// TestOrderDoesNotMatter: a crater's row is the same wherever it stands in the
// catalogue, and whichever species comes first.
func TestOrderDoesNotMatter(t *testing.T) {
	if testing.Short() {
		t.Skip("several small screenings: left to the whole suite")
	}
	dir := t.TempDir()
	maps := symmetryMaps(t, dir)
	want := sortedFindings(t, filepath.Join(dir, "plain"), maps, symmetryCraters)
	turned := slices.Clone(symmetryCraters)
	slices.Reverse(turned)
	if got := sortedFindings(t, filepath.Join(dir, "craters"), maps, turned); got != want {
		t.Errorf("catalogue turned round:\n%s\nwant\n%s", got, want)
	}
	slices.Reverse(maps)
	if got := sortedFindings(t, filepath.Join(dir, "species"), maps, symmetryCraters); got != want {
		t.Errorf("species turned round:\n%s\nwant\n%s", got, want)
	}
}

// symmetryMaps makes the maps of two species and returns them as flags have them.
func symmetryMaps(t *testing.T, dir string) []string {
	t.Helper()
	godal.RegisterAll()
	var maps []string
	for i, name := range []string{"water", "hydroxyl"} {
		path := filepath.Join(dir, name+".tif")
		recipe := []string{"value=200", "sigma=10", "seed=" + string(rune('1'+i)), "crater=30,10,6,150", "crater=-60,-20,6,90,40,60"}
		if err := makeMap(path, recipe); err != nil {
			t.Fatal(err)
		}
		maps = append(maps, name+"="+path+",unit=ppm")
	}
	return maps
}

// sortedFindings screens and returns the rows of findings.csv in alphabetical
// order.
func sortedFindings(t *testing.T, dir string, maps, craters []string) string {
	t.Helper()
	list := dir + ".csv"
	put(t, list, "id,lon,lat,radius_km\n"+strings.Join(craters, "\n")+"\n")
	args := []string{"screen", "--craters", list, "--body", "Moon", "--nulls", "12", "--top", "0", "-q", "-o", dir}
	for _, m := range maps {
		args = append(args, "--species", m)
	}
	if code, _, text := runHere(t, args...); code != 0 {
		t.Fatalf("exit code %d; %s", code, text)
	}
	rows := strings.Split(strings.TrimSpace(readText(t, filepath.Join(dir, "findings.csv"))), "\n")
	slices.Sort(rows)
	return strings.Join(rows, "\n")
}
