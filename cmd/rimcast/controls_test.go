package main

import (
	"math"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// Who is young and who old, by each of the three ways, with what is not known.
func TestYoungAndOld(t *testing.T) {
	nan := math.NaN()
	crater := func(class string, age, fresh float64) *geom.Crater {
		return &geom.Crater{Class: class, Age: age, Freshness: fresh}
	}
	for _, c := range []struct {
		name string
		by   controlsSection
		k    *geom.Crater
		want int
	}{
		{"class", controlsSection{Young: "Rayed"}, crater("rayed", nan, nan), 1},
		{"another class", controlsSection{Young: "Rayed"}, crater("worn", nan, nan), -1},
		{"no class", controlsSection{Young: "Rayed"}, crater("", 3, 3), 0},
		{"no class is old", controlsSection{Young: "Rayed", UnknownIsOld: true}, crater("", 3, 3), -1},
		{"age", controlsSection{YoungBelow: 100}, crater("", 99, nan), 1},
		{"at the age", controlsSection{YoungBelow: 100}, crater("", 100, nan), -1},
		{"between the ages", controlsSection{YoungBelow: 100, OldAbove: 500}, crater("", 300, nan), 0},
		{"no age", controlsSection{YoungBelow: 100}, crater("", nan, 1), 0},
		{"no age is old", controlsSection{YoungBelow: 100, UnknownIsOld: true}, crater("", nan, nan), -1},
		{"fresh", controlsSection{YoungAbove: 0.5}, crater("", nan, 0.7), 1},
		{"not fresh", controlsSection{YoungAbove: 0.5}, crater("", nan, 0.5), -1},
	} {
		if got := c.by.ageOf(c.k); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
		if c.by.rule() == "" {
			t.Errorf("%s: the rule has no words", c.name)
		}
	}
	if (&controlsSection{}).rule() != "" {
		t.Error("nobody asked, and there is a rule")
	}
}

// The levels of the layers are matched on beside size, latitude and coverage,
// and a crater that was measured on no species takes no part.
func TestControlCovariates(t *testing.T) {
	s := &reports.Survey{Catalogue: geom.Catalogue{Craters: []geom.Crater{{Radius: 1000, Centre: geom.LonLat{Lat: -30}, Age: 5}, {Radius: 2000, Age: 500}}}}
	s.Findings = []ejecta.Finding{
		{CraterIndex: 0, Status: ejecta.StatusOK, Coverage: 0.8, Levels: []ejecta.Level{{Name: "warm", Mean: 250}}},
		{CraterIndex: 0, Status: ejecta.StatusNotCovered, Coverage: 0},
		{CraterIndex: 1, Status: ejecta.StatusTooSmall},
		{CraterIndex: 1, Status: ejecta.StatusTooSmall},
	}
	names := covariateNames(s)
	units := (&controlsSection{YoungBelow: 100}).units(s, names)
	if len(names) != 4 || names[3] != "warm" || len(units) != 1 || !units[0].Young {
		t.Fatalf("%v %+v", names, units)
	}
	for k, want := range []float64{math.Log(1000), 30, 0.8, 250} {
		if math.Abs(units[0].X[k]-want) > 1e-12 {
			t.Errorf("%s is %g, want %g", names[k], units[0].X[k], want)
		}
	}
}

func TestSavedPairsAreChecked(t *testing.T) {
	if checkPairs(&ejecta.Controls{Pairs: []ejecta.Match{{Young: 0, Old: 2}}}, 2) == nil {
		t.Error("a pair of a crater that is not there is read")
	}
	d := ejecta.PairDifference{Match: ejecta.Match{Young: -1}}
	if checkPairs(&ejecta.Controls{Species: []ejecta.ControlSpecies{{Differences: []ejecta.PairDifference{d}}}}, 2) == nil {
		t.Error("a difference of a crater that is not there is read")
	}
}
