package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/ejecta"
)

func followUpFixture(t *testing.T) *FollowUp {
	t.Helper()
	s := fixture(30)
	fu := &FollowUp{Survey: s, Level: 5, Alpha: 0.01}
	for _, target := range s.Targets {
		if r, ok := NewCraterRequest(s, target, 5, 0.01, map[string]string{"water": "noon"}); ok {
			nan := math.NaN()
			r.Windows = []Window{{From: "<b>1</b>", MinIncidence: nan, MaxIncidence: nan, LocalTime: 9}}
			r.Judge()
			fu.Craters = append(fu.Craters, r)
		}
	}
	if len(fu.Craters) < 20 {
		t.Fatalf("%d craters in the list", len(fu.Craters))
	}
	return fu
}

// Every file is whole: the table has its columns, the outlines are JSON with the
// crs of the body, and the page holds no markup of the catalogue.
func TestWriteFollowUp(t *testing.T) {
	fu, dir := followUpFixture(t), t.TempDir()
	if err := WriteFollowUp(dir, fu); err != nil {
		t.Fatal(err)
	}
	f, err := os.Open(filepath.Join(dir, FollowUpMark))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil || len(rows) != 1+2*len(fu.Craters) || len(rows[0]) != len(followUpTable.columns) {
		t.Fatalf("%d rows, %v", len(rows), err)
	}
	checkFollowUpOutlines(t, filepath.Join(dir, "followup.geojson"), len(fu.Craters))
	page, err := os.ReadFile(filepath.Join(dir, "followup.html"))
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(page, []byte(`<section class="sheet">`)); n != len(fu.Craters) {
		t.Errorf("%d sheets for %d craters", n, len(fu.Craters))
	}
	for _, bad := range []string{"<b>", "<script", "NaN", `="http`, "%!"} {
		if strings.Contains(string(page), bad) {
			t.Errorf("the page contains %s", bad)
		}
	}
	for _, want := range []string{"defer to the licensed practice", "not known: no such layer", "planetographic latitude"} {
		if !strings.Contains(string(page), want) {
			t.Errorf("the page does not say %s", want)
		}
	}
}

func checkFollowUpOutlines(t *testing.T, path string, craters int) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var c struct {
		CRS      crsMember `json:"crs"`
		Features []struct {
			Properties map[string]any `json:"properties"`
		} `json:"features"`
	}
	if err := json.Unmarshal(text, &c); err != nil {
		t.Fatal(err)
	}
	kinds := map[string]int{}
	for _, f := range c.Features {
		kinds[f.Properties["kind"].(string)]++
	}
	if kinds["cover"] != 2*craters || kinds["rim"] != craters || kinds["reference"] != craters || c.CRS.Properties["name"] == "" {
		t.Errorf("kinds %v, crs %v", kinds, c.CRS)
	}
}

func TestWindowFits(t *testing.T) {
	nan := math.NaN()
	angles := ejecta.Interval{Lo: 45, Hi: 75}
	r := CraterRequest{Species: []SpeciesRequest{{Request: ejecta.Request{Light: ejecta.Light{Hours: []ejecta.Interval{{Lo: 6, Hi: 9}}, Angles: &angles}}}}}
	for _, c := range []struct {
		w    Window
		want string
	}{
		{Window{LocalTime: 8, MinIncidence: nan, MaxIncidence: nan}, FitsYes},
		{Window{LocalTime: 12, MinIncidence: 50, MaxIncidence: 60}, FitsNo},
		{Window{LocalTime: 8, MinIncidence: 10, MaxIncidence: 40}, FitsNo},
		{Window{LocalTime: nan, MinIncidence: 70, MaxIncidence: nan}, FitsYes},
		{Window{LocalTime: nan, MinIncidence: nan, MaxIncidence: nan}, FitsUnknown},
	} {
		r.Windows = []Window{c.w}
		r.Judge()
		if r.Windows[0].Fits != c.want {
			t.Errorf("%+v fits: %s, want %s", c.w, r.Windows[0].Fits, c.want)
		}
	}
}

// Every alarm that explain knows has something to ask for.
func TestEveryAlarmHasARequest(t *testing.T) {
	for _, name := range Terms("alarm") {
		if strings.HasPrefix(ejecta.AskFor(name), "see what explain") {
			t.Errorf("nothing is asked for %s", name)
		}
	}
}
