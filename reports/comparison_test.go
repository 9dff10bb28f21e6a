package reports

import (
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/ejecta"
)

// fixtureComparison is two invented releases of 40 craters: the second is higher
// by 6 and a tenth too steep, and sees one crater quite otherwise.
func fixtureComparison() *Comparison {
	rng := rand.New(rand.NewPCG(9, 1))
	c := &Comparison{NameA: "release3", NameB: "<release4>"}
	for _, species := range []string{"water", "hydroxyl"} {
		var pairs []ejecta.Pair
		for i := range 40 {
			truth := 90 * rng.Float64() * rng.Float64()
			p := ejecta.Pair{A: truth + 3*rng.NormFloat64(), SEA: 3, B: 6 + 1.1*truth + 4*rng.NormFloat64(), SEB: 4}
			if i == 17 {
				p.B += 45
			}
			pairs = append(pairs, p)
			c.Rows = append(c.Rows, ComparedCrater{ID: fmt.Sprintf("HV-%03d", i), Name: "=Dunmore", Change: ejecta.Change{Species: species, Unit: "ppm", ExcessA: p.A, ExcessSEA: p.SEA,
				ExcessB: p.B, ExcessSEB: p.SEB, Difference: p.B - p.A, DifferenceSE: 5, StatusA: ejecta.StatusOK, StatusB: ejecta.StatusOK}})
		}
		g := ejecta.NewAgreement(pairs, 0)
		g.Species, g.Unit, g.Quantity = species, "ppm", "excess"
		for i, d := range g.Departures(pairs) {
			c.Rows[len(c.Rows)-40+i].Departure = d
		}
		c.Agreements = append(c.Agreements, g)
	}
	return c
}

// The files of a comparison hold every crater, what agrees, and a figure for
// each species in which the crater that departs is named.
func TestWriteComparison(t *testing.T) {
	dir := t.TempDir()
	if to := os.Getenv("RIMCAST_PREVIEW"); to != "" {
		dir = to
	}
	if err := WriteComparison(dir, fixtureComparison(), []string{"svg", "png"}); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][]string{
		"compare.csv":                      {"departure_q", "HV-017,'=Dunmore,water,ppm,"},
		"agreement.csv":                    {"slope_se", "B is higher by"},
		"schema.json":                      {`"compare.csv"`, `"agreement.csv"`, `"departure_sigma"`},
		"figures/agreement-1-water.csv":    {"40,HV-017,water,ppm,"},
		"figures/agreement-2-hydroxyl.svg": {"HV-017", "excess in A (ppm)", "B less A (ppm)", "release3", "&lt;release4&gt;"},
	} {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		for _, w := range want {
			if !strings.Contains(string(text), w) {
				t.Errorf("%s does not hold %q", name, w)
			}
		}
	}
}

// The figures of a comparison are the same bytes every time.
func TestComparisonFiguresAreStable(t *testing.T) {
	a, b := ComparisonFigures(fixtureComparison()), ComparisonFigures(fixtureComparison())
	if len(a) != 2 {
		t.Fatalf("%d figures", len(a))
	}
	for i := range a {
		x := filled(t, func(w io.Writer) error { return a[i].Write(w, "svg") })
		y := filled(t, func(w io.Writer) error { return b[i].Write(w, "svg") })
		if string(x) != string(y) {
			t.Errorf("%s differs between two runs", a[i].Name)
		}
	}
}
