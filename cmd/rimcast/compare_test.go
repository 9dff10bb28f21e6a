package main

import (
	"errors"
	"slices"
	"testing"

	"rimcast/geom"
)

func TestCompareSurveys(t *testing.T) {
	a, b := fixtureSurvey(), fixtureSurvey()
	b.Catalogue.Craters[3].ID = "F9"
	b.Findings[0].Excess = 11 // water at F1, was 61 with an error of 4
	b.Findings[0].Alarms = nil
	b.Catalogue.Craters[1].Centre.Lat += 5
	b.Catalogue.Craters[2].Radius *= 1.1
	c, err := compareSurveys(a, b, 0)
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(c.OnlyA, []string{"F4"}) || !slices.Equal(c.OnlyB, []string{"F9"}) || c.Craters != 3 {
		t.Errorf("only in A %v, in B %v, both %d", c.OnlyA, c.OnlyB, c.Craters)
	}
	if !slices.Equal(c.Moved, []string{"F2"}) {
		t.Errorf("moved %v, want F2 only", c.Moved)
	}
	if len(c.Changes) != 1 || c.Changes[0].CraterID != "F1" || c.Changes[0].Sigma > -8 || !slices.Equal(c.Changes[0].AlarmsGone, []string{"neighbour_overlap"}) {
		t.Errorf("changes %+v", c.Changes)
	}
}

func TestCompareRefuses(t *testing.T) {
	for name, spoil := range map[string]func() error{
		"unit": func() error {
			b := fixtureSurvey()
			b.Species[0].Unit = "wt%"
			_, err := compareSurveys(fixtureSurvey(), b, 0)
			return err
		},
		"body": func() error {
			b := fixtureSurvey()
			b.Body = geom.Sphere("Other", 500e3)
			_, err := compareSurveys(fixtureSurvey(), b, 0)
			return err
		},
		"names": func() error {
			b := fixtureSurvey()
			b.Species[0].Name, b.Species[1].Name = "x", "y"
			_, err := compareSurveys(fixtureSurvey(), b, 0)
			return err
		},
	} {
		var cli *cliError
		if err := spoil(); !errors.As(err, &cli) || cli.code != exitRefused {
			t.Errorf("%s: %v, want a refusal", name, err)
		}
	}
}

func TestRateOfIsThatOfTheRun(t *testing.T) {
	s := fixtureSurvey()
	sv := fixtureSettings()
	sv.Tests.FDR = 0.03
	fillManifest(sv, s, nil)
	if got := rateOf(s); got != 0.03 {
		t.Errorf("rate %g, want 0.03", got)
	}
}
