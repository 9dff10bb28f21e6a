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

	"rimcast/ejecta"
	"rimcast/geom"
)

// readTable reads a CSV file as rows by column name.
func readTable(t *testing.T, path string) []map[string]string {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, r := range rows[1:] {
		m := map[string]string{}
		for i, name := range rows[0] {
			m[name] = r[i]
		}
		out = append(out, m)
	}
	return out
}

// mustRun runs a command line that must succeed.
func mustRun(t *testing.T, args ...string) string {
	t.Helper()
	code, out, errs := runHere(t, args...)
	if code != 0 {
		t.Fatalf("%v: exit code %d: %s", args, code, errs)
	}
	return out
}

// In the invented day the blankets that stay are said to, those that the sun
// drives off are not, and the direction that turns with the sun is found as
// such, by the command and against the truth.
func TestDayIsFound(t *testing.T) {
	if testing.Short() {
		t.Skip("a screening of six maps")
	}
	dir := t.TempDir()
	mustRun(t, "synth", "day", "-o", filepath.Join(dir, "day"))
	mustRun(t, "screen", filepath.Join(dir, "day", "survey.toml"), "-o", filepath.Join(dir, "result"), "--nulls", "60", "--top", "0", "-q")
	word, axis := map[string]string{}, map[string]string{}
	for _, r := range readTable(t, filepath.Join(dir, "result", "persistence.csv")) {
		key := r["crater_id"] + " " + r["species"]
		word[key], axis[key] = r["verdict"], r["axis"]
		if rho := number1(t, r["noise_correlation"]); math.Abs(rho-0.5) > 0.2 {
			t.Errorf("%s: noise correlation %g, planted 0.5", key, rho)
		}
		if r["name"] == "" && r["verdict"] != ejecta.NotKnown {
			t.Errorf("%s has nothing and is %q", key, r["verdict"])
		}
	}
	for key, want := range map[string]string{
		"D1 water": ejecta.Persistent, "D1 hydroxyl": ejecta.Persistent, "D2 water": ejecta.Persistent, "D2 hydroxyl": ejecta.Changing,
		"D3 water": ejecta.Persistent, "D3 hydroxyl": ejecta.ComesAndGoes, "D4 water": ejecta.Persistent, "D5 hydroxyl": ejecta.Persistent,
	} {
		if word[key] != want {
			t.Errorf("%s is %q, planted %q", key, word[key], want)
		}
	}
	if axis["D4 hydroxyl"] != ejecta.AxisFollows || axis["D5 hydroxyl"] != ejecta.AxisStays {
		t.Errorf("the direction that turns with the sun %q, the one that stays %q", axis["D4 hydroxyl"], axis["D5 hydroxyl"])
	}
	checkDayAlarms(t, filepath.Join(dir, "result"))
	checkDayAmounts(t, filepath.Join(dir, "day"), filepath.Join(dir, "result"))
	checkDayQuestions(t, filepath.Join(dir, "day"), filepath.Join(dir, "result"))
}

func number1(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// checkDayAlarms wants the two alarms where they were planted and nowhere else.
func checkDayAlarms(t *testing.T, result string) {
	t.Helper()
	raised := map[string][]string{}
	for _, r := range readTable(t, filepath.Join(result, "findings.csv")) {
		quantity, epoch, _ := strings.Cut(r["species"], " ")
		if r["epoch"] != epoch {
			t.Errorf("species %q has epoch %q", r["species"], r["epoch"])
		}
		for _, a := range strings.Split(r["alarms"], ";") {
			if a == "changes_with_time" || a == "follows_sun" {
				raised[a] = append(raised[a], r["crater_id"]+" "+quantity)
			}
		}
	}
	for alarm, want := range map[string][]string{"changes_with_time": {"D2 hydroxyl", "D3 hydroxyl"}, "follows_sun": {"D4 hydroxyl"}} {
		got := raised[alarm]
		slices.Sort(got)
		if got = slices.Compact(got); !slices.Equal(got, want) {
			t.Errorf("%s is raised at %v, planted at %v", alarm, got, want)
		}
	}
}

// checkDayAmounts compares the excesses of epochs.csv with those planted at each
// time of day, within four of their errors.
func checkDayAmounts(t *testing.T, survey, result string) {
	t.Helper()
	planted := map[string]float64{}
	for _, r := range readTable(t, filepath.Join(survey, "truth.csv")) {
		for _, p := range strings.FieldsFunc(r["by_epoch"], func(c rune) bool { return c == ';' }) {
			epoch, rest, _ := strings.Cut(p, "=")
			amount, _, _ := strings.Cut(rest, "@")
			planted[r["crater_id"]+" "+r["species"]+" "+epoch] = number1(t, amount)
		}
	}
	seen := 0
	for _, r := range readTable(t, filepath.Join(result, "epochs.csv")) {
		want, ok := planted[r["crater_id"]+" "+r["species"]+" "+r["epoch"]]
		if !ok {
			continue
		}
		seen++
		want *= 2 * (1/1.1 - 1/2.5) / (2.5*2.5 - 1.1*1.1) // the area mean of range^-3 over 1.1 to 2.5
		if a, se := number1(t, r["excess"]), number1(t, r["excess_se"]); math.Abs(a-want) > 4*se {
			t.Errorf("%s %s at %s: excess %g ± %g, planted %g", r["crater_id"], r["species"], r["epoch"], a, se, want)
		}
		if number1(t, r["coverage"]) > number1(t, r["own_coverage"]) {
			t.Errorf("%s: the common ground is larger than its own", r["crater_id"])
		}
	}
	if seen != 9 {
		t.Errorf("%d times of day of planted craters, want 9", seen)
	}
}

// Ground that one time of day lacks is taken from the others, unless that time
// hardly shows the crater at all.
func TestCommonGround(t *testing.T) {
	p := &pipeline{sv: defaultSurvey()}
	p.sv.Species = []layerSection{{Name: "water", Epoch: "dawn"}, {Name: "water", Epoch: "noon"}, {Name: "water", Epoch: "dusk"}, {Name: "ice"}}
	p.findings = make([]ejecta.Finding, 4)
	p.gatherEpochs()
	if len(p.epochSets) != 1 || !slices.Equal(p.epochsOf(1), []int{0, 1, 2}) || p.epochsOf(3) != nil {
		t.Fatalf("sets %v", p.epochSets)
	}
	p.set = ejecta.Settings{}.WithDefaults()
	nan := float32(math.NaN())
	b := &siteBuilder{p: p, g: &group{species: []int{0, 1, 2, 3}}, rho: []float64{1.2, 1.3, 1.4, 1.5}, masked: []bool{false, false, true, false}}
	b.samples.Area = []float64{1, 1, 1, 1}
	b.sites = []ejecta.Site{{Values: []float32{1, 2, 3, 4}}, {Values: []float32{1, nan, 3, 4}}, {Values: []float32{nan, nan, nan, nan}}, {}}
	masked, less := b.commonGround(0, &b.sites[0])
	if want := []bool{false, true, true, false}; !less || !slices.Equal(masked, want) {
		t.Errorf("dawn: %v, less %v", masked, less)
	}
	if _, less := b.commonGround(1, &b.sites[1]); less {
		t.Error("noon loses ground to a time of day that shows all of it")
	}
	if masked, less := b.commonGround(2, &b.sites[2]); masked != nil || less {
		t.Error("a time of day that does not show the crater takes part")
	}
}

// Local times are averaged round the clock, layers go with their epoch, and the
// sun is that of a layer before that of the hour.
func TestDayTimes(t *testing.T) {
	noon := 12.0
	p := &pipeline{sv: defaultSurvey()}
	p.sv.Species = []layerSection{{Name: "water", Epoch: "night"}, {Name: "water", Epoch: "noon", LocalTime: &noon}, {Name: "water", Epoch: "dusk"}}
	b := &siteBuilder{p: p, rho: []float64{1, 2, 9}}
	b.day.begin(3)
	b.day.addHours(&layerSection{Kind: "local_time", Epoch: "night"}, b.rho, []float64{23.5, 1.5, 12})
	b.day.addSun(&layerSection{Kind: "sun_azimuth", Epoch: "dusk", Azimuth: fromNorth}, b.rho, []float64{350, 20, 180})
	if h := b.hourOf(0); math.Abs(h-0.5) > 1e-9 {
		t.Errorf("the night is at %g h", h)
	}
	if h := b.hourOf(1); h != 12 {
		t.Errorf("noon is at %g h", h)
	}
	if !math.IsNaN(b.hourOf(2)) {
		t.Error("dusk has a local time")
	}
	if az := b.epochSun(2, geom.LonLat{}); math.Abs(math.Remainder(az-5, 360)) > 1e-6 {
		t.Errorf("the sun of dusk is at %g", az)
	}
	if az := b.epochSun(1, geom.LonLat{Lat: 30}); math.Abs(az-180) > 1e-6 {
		t.Errorf("the sun of noon is at %g", az)
	}
}
