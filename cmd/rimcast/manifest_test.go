package main

import (
	"bytes"
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"rimcast/reports"
)

func TestCleanCommand(t *testing.T) {
	for _, c := range []struct{ args, want string }{
		{"screen survey.toml -o out --force --workers 8 --seed 3", "rimcast screen survey.toml --seed 3"},
		{"screen --out=x --memory=2GB -q --json s.toml", "rimcast screen s.toml"},
		{"screen --fail-on partial s.toml --top 4", "rimcast screen s.toml --top 4"},
		{"screen /home/me/secret/s.toml", "rimcast screen s.toml"},
		{"screen --species water=/home/me/water.tif:1,unit=ppm,sigma=/home/me/s.tif", "rimcast screen --species water=water.tif:1,unit=ppm,sigma=s.tif"},
		{"screen --craters=/home/me/c.geojson", "rimcast screen --craters=c.geojson"},
		{"screen --species w=/vsicurl/https://me:pw@host/w.tif?token=abc", "rimcast screen --species w=/vsicurl/https://***@host/w.tif?***"},
	} {
		if got := strings.Join(cleanCommand(strings.Fields(c.args)), " "); got != c.want {
			t.Errorf("%s\n got %s\nwant %s", c.args, got, c.want)
		}
	}
}

// settingsText is the JSON of the settings of a survey.
func settingsText(t *testing.T, sv *surveyFile) string {
	t.Helper()
	var b bytes.Buffer
	if err := printJSON(&b, settingsOf(sv)); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func TestSettingsDoNotDependOnTheMachine(t *testing.T) {
	a := parse(t, wholeSurvey)
	b := parse(t, strings.Replace(strings.Replace(wholeSurvey, "workers = 2", "workers = 5", 1), `dir = "out"`, `dir = "elsewhere"`, 1))
	if d := cmp.Diff(settingsText(t, a), settingsText(t, b)); d != "" {
		t.Error(d)
	}
	c := parse(t, strings.Replace(wholeSurvey, "rings = 10", "rings = 11", 1))
	if settingsText(t, a) == settingsText(t, c) {
		t.Error("another number of rings leaves the settings as they are")
	}
	for _, secret := range []string{"dir/", "/abs/"} {
		if strings.Contains(settingsText(t, a), secret) {
			t.Errorf("the settings show %s", secret)
		}
	}
}

func TestSettingsHoldNaN(t *testing.T) {
	sv := parse(t, strings.Replace(wholeSurvey, "[-9999, -32768]", "[nan]", 1))
	if !strings.Contains(settingsText(t, sv), `"NaN"`) {
		t.Error("the value nan for missing is lost")
	}
}

func TestManifestCounts(t *testing.T) {
	s := fixtureSurvey()
	want := map[string]int{ // of the fixture, counted by hand
		"craters": 4, "refused": 1, "species": 2, "findings": 8, "contrasts": 1, "targets": 2,
		"status_ok": 4, "status_too_small": 2, "status_not_covered": 2,
		"pattern_none": 3, "pattern_bilateral": 1, "alarm_neighbour_overlap": 1,
	}
	if d := cmp.Diff(want, s.Manifest.Counts); d != "" {
		t.Error(d)
	}
}

func TestRedactedManifestNamesNoFile(t *testing.T) {
	s := fixtureSurvey()
	sv := fixtureSettings()
	sv.Output.Redact = true
	fillManifest(sv, s, []reports.Input{{Role: "species water", Path: "water.tif", SHA256: "00"}})
	var b bytes.Buffer
	if err := reports.WriteManifest(&b, s); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"water.tif", "craters.geojson", "survey.toml", "oh.tif"} {
		if strings.Contains(b.String(), name) {
			t.Errorf("the manifest names %s", name)
		}
	}
	if !strings.Contains(b.String(), `"sha256": "00"`) {
		t.Error("the check sum is gone too")
	}
}

func TestInputsAreHashedAndWatched(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "c.geojson"), "abc")
	put(t, filepath.Join(dir, "w.asc"), "")
	put(t, filepath.Join(dir, "w.prj"), "beside")
	sv := defaultSurvey()
	sv.Catalogue.Path = "c.geojson"
	sv.Species = []layerSection{{Name: "water", Path: "w.asc"}}
	sv.resolve(dir)
	files, err := inputFiles(sv)
	if err != nil {
		t.Fatal(err)
	}
	got, err := startHashing(context.Background(), files).wait()
	if err != nil {
		t.Fatal(err)
	}
	want := []reports.Input{ // FIPS 180-4, the example "abc", and the empty message; the last by sha256sum of coreutils 9.1
		{Role: "catalogue", Path: "c.geojson", Bytes: 3, SHA256: "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"},
		{Role: "species water", Path: "w.asc", SHA256: "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"},
		{Role: "species water, beside the map", Path: "w.prj", Bytes: 6, SHA256: "5bcaffed4d27f7b2dd939334aa6032a0770b552e4059c50e76b5c8e64219af93"},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
	if err := files[0].unchanged(); err != nil {
		t.Error(err)
	}
	later := time.Now().Add(time.Hour)
	if err := os.Chtimes(files[0].path, later, later); err != nil {
		t.Fatal(err)
	}
	if err := files[0].unchanged(); exitCode(err) != exitCorrupt {
		t.Errorf("a changed input: error %v", err)
	}
}

func TestHashingStops(t *testing.T) {
	ctx, stop := context.WithCancel(context.Background())
	stop()
	path := filepath.Join(t.TempDir(), "x")
	put(t, path, "abc")
	if _, err := startHashing(ctx, []inputFile{{role: "catalogue", path: path}}).wait(); exitCode(err) != exitInterrupted {
		t.Errorf("error %v", err)
	}
}

func TestPlain(t *testing.T) {
	type inner struct {
		RimExcessSE, P float64
		Axis95         [2]float64
	}
	got := plain(struct {
		CraterID string
		Inner    *inner
		List     []inner
		hidden   int
	}{"a", &inner{math.NaN(), 0.5, [2]float64{1, math.Inf(1)}}, nil, 3})
	want := map[string]any{
		"crater_id": "a",
		"inner":     map[string]any{"rim_excess_se": nil, "p": 0.5, "axis_95": []any{1.0, nil}},
		"list":      []any{},
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}
