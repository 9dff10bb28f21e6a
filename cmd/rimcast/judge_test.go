package main

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
	"rimcast/geom"
	"rimcast/reports"
)

func TestJudge(t *testing.T) {
	v := &testblanket.Survey{
		Craters: []geom.Crater{{ID: "A", Name: "Alpha"}, {ID: "B"}, {ID: "C"}, {ID: "D"}},
		Truth: []testblanket.Truth{
			{CraterID: "A", Species: "water", Pattern: "bilateral", Axis: 175},
			{CraterID: "B", Species: "water", Pattern: "symmetric"},
			{CraterID: "C", Species: "water", Pattern: "none"},
			{CraterID: "D", Species: "water", Pattern: "none", Faked: true},
		},
	}
	finding := func(i int, q float64, p ejecta.Pattern, axis float64) ejecta.Finding {
		return ejecta.Finding{CraterIndex: i, Species: "water", Status: ejecta.StatusOK, ExcessQ: q, Pattern: p, Axis: axis}
	}
	s := &reports.Survey{
		Catalogue: geom.Catalogue{Craters: v.Craters},
		Findings: []ejecta.Finding{
			finding(0, 0.01, ejecta.PatternBilateral, 4), // an axis of 175 and one of 4 are 9 degrees apart
			finding(1, 0.5, ejecta.PatternOneSided, 90),  // missed, and a direction where none is
			finding(2, 0.02, ejecta.PatternNone, math.NaN()),
			finding(3, 0.02, ejecta.PatternOneSided, 0), // faked by a covariate: not counted
		},
		Targets: []ejecta.Target{{CraterIndex: 0, Rank: 1}, {CraterIndex: 2, Rank: 2}},
	}
	want := judgement{
		PlantedCraters: 2, Planted: 2, Found: 1, Bare: 1, FalseRich: 1, PatternRight: 1, FalseDirection: 1,
		Axes: 1, AxisMedian: 9, AxisWorst: 9, TopTen: 1, Example: "A",
		Lines: []string{
			"Alpha (A); water: planted bilateral at 175 degrees, found bilateral at 4 degrees",
			" (B); water: planted symmetric, found one-sided at 90 degrees",
			" (C); water: planted none, found none",
		},
	}
	if d := cmp.Diff(want, judge(v, s), cmpopts.IgnoreUnexported(judgement{})); d != "" {
		t.Error(d)
	}
}

func TestAngleBetween(t *testing.T) {
	for _, c := range []struct{ a, b, period, want float64 }{
		{350, 10, 360, 20}, {10, 350, 360, 20}, {0, 180, 360, 180}, {5, 175, 180, 10}, {5, 185, 180, 0}, {90, 0, 180, 90},
	} {
		if got := angleBetween(c.a, c.b, c.period); math.Abs(got-c.want) > 1e-12 {
			t.Errorf("between %g and %g of %g: %g, want %g", c.a, c.b, c.period, got, c.want)
		}
	}
}

// TestInventedSurveyIsReadAsItWasMade writes an invented survey and reads it
// back through the doors that a real one takes.
func TestInventedSurveyIsReadAsItWasMade(t *testing.T) {
	dir := t.TempDir()
	v, err := writeInvented(dir, smallScenario(), 3)
	if err != nil {
		t.Fatal(err)
	}
	sv, err := readSurvey(filepath.Join(dir, "survey.toml"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := sv.check(); err != nil {
		t.Fatal(err)
	}
	body, _, err := sv.settleBody()
	if err != nil || body.SemiMajor != v.Body.SemiMajor || body.Name != v.Body.Name {
		t.Fatalf("body %v, %v", body, err)
	}
	cat, err := sv.readCatalogue(body)
	if err != nil || len(cat.Craters) != len(v.Craters) {
		t.Fatalf("%d craters of %d, %v", len(cat.Craters), len(v.Craters), err)
	}
	for i, c := range cat.Craters {
		w := v.Craters[i]
		// Written with 6 digits of a degree and 5 of a kilometre.
		if d, _ := body.Inverse(c.Centre, w.Centre); c.ID != w.ID || c.Name != w.Name || d > 0.02 || math.Abs(c.Radius-w.Radius) > 0.006 {
			t.Errorf("crater %d is %+v, was %+v", i, c, w)
		}
	}
	l, err := sv.openLayer(&sv.Species[1], body)
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	got := make([]float32, 400*200)
	if err := l.Read(0, 0, 400, 200, got); err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(v.Species[1].Values, got, cmpopts.EquateNaNs()); d != "" {
		t.Error("the map has other values than were drawn")
	}
	if !l.Grid().Global || l.Info().Unit != "ppm" {
		t.Errorf("grid %+v, unit %q", l.Grid(), l.Info().Unit)
	}
}

func TestBigSurvey(t *testing.T) {
	dir := t.TempDir()
	b := bigSurvey{width: 600, height: 300, craters: 50, seed: 2}
	v, err := b.write(dir, &silentProgress{newMessages(os.Stderr)})
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Craters) != 50 {
		t.Errorf("%d craters", len(v.Craters))
	}
	pixel := v.Body.SemiMajor * 2 * math.Pi / 600
	for _, c := range v.Craters {
		if px := c.Radius / pixel; px < bigMinPixels-1e-9 || px > bigMaxPixels+1e-9 || !c.Centre.Valid() {
			t.Errorf("crater %+v of %g pixels", c, px)
		}
	}
	a := newApp(nil, nil, os.Stderr, os.Stderr)
	sv, err := readSurvey(filepath.Join(dir, "survey.toml"), nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := a.precheck(sv); err != nil {
		t.Error(err)
	}
}

func TestScenarioFilesRoundTrip(t *testing.T) {
	dir := t.TempDir()
	if _, err := writeInvented(dir, smallScenario(), 3); err != nil {
		t.Fatal(err)
	}
	s, err := readScenario(filepath.Join(dir, scenarioFile))
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(smallScenario(), s, cmpopts.EquateEmpty()); d != "" {
		t.Error(d)
	}
}

func TestSynthStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	out := filepath.Join(t.TempDir(), "x")
	a := newApp(nil, nil, os.Stderr, os.Stderr)
	if err := a.synth(ctx, "small", synthOptions{out: out, craters: -1}); exitCode(err) != exitInterrupted {
		t.Errorf("error %v", err)
	}
	if _, err := os.Stat(out); err == nil {
		t.Error("there is a survey although the run was stopped")
	}
}

func FuzzScenario(f *testing.F) {
	f.Add([]byte("[[species]]\nname = 'water'\nsigma = 3.0"))
	f.Add([]byte("[grid]\nwidth = 99999999999"))
	f.Add([]byte("[[crater]]\nid = 'a'\nlat_deg = nan"))
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := parseScenario("s.toml", text)
		if err == nil && s.Valid() != nil {
			t.Error("an invalid scenario was accepted")
		}
		if err != nil && exitCode(err) != exitUsage {
			t.Errorf("error %v has exit code %d", err, exitCode(err))
		}
	})
}
