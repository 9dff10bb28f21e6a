package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
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

// A sheet with all that can be on it prints on one page, whatever is asked for.
func TestFollowUpPrintsOnePageEach(t *testing.T) {
	program := chromium(t)
	fu := followUpFixture(t)
	fu.Craters, fu.Filter = fu.Craters[:4], "latitudes -30 to 30"
	for i := range fu.Craters {
		crowd(&fu.Craters[i])
	}
	dir := t.TempDir()
	if err := WriteFollowUp(dir, fu); err != nil {
		t.Fatal(err)
	}
	pdf := filepath.Join(dir, "sheets.pdf")
	cmd := exec.Command(program, "--headless", "--no-sandbox", "--disable-gpu", "--user-data-dir="+t.TempDir(), "--no-pdf-header-footer", "--print-to-pdf="+pdf, "file://"+filepath.Join(dir, "followup.html"))
	if text, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	text, err := os.ReadFile(pdf)
	if err != nil {
		t.Fatal(err)
	}
	if n := len(regexp.MustCompile(`/Type /Page\b`).FindAll(text, -1)); n != len(fu.Craters) {
		t.Errorf("%d pages for %d craters", n, len(fu.Craters))
	}
}

func chromium(t *testing.T) string {
	t.Helper()
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			return path
		}
	}
	t.Skip("no chromium on this machine: the sheets are not printed (apt-get install chromium)")
	return ""
}

// crowd fills a sheet: more species than fit, eight alarms, twenty windows, and
// every kind of layer.
func crowd(r *CraterRequest) {
	r.Species = append(r.Species, r.Species...)
	for i := range r.Species {
		f := *r.Species[i].Finding
		f.Claimed, f.Pattern, f.AsymmetryP, f.AxisSE = true, ejecta.PatternOneSided, 1e-5, 4
		f.Lobes = []ejecta.Lobe{{Azimuth: 40, Width: 60}}
		f.Families = []ejecta.FamilyTest{{Name: "lobe", Z: 4.5, P: 1e-5}}
		f.Conditions = []ejecta.Condition{{Name: "local time of the mosaic", Kind: "local_time", Unit: "h", Mean: 10.5, SD: 0.4}, {Name: "incidence", Kind: "incidence", Unit: "deg", Mean: 41, SD: 3}, {Name: "temperature", Kind: "temperature", Unit: "K", Mean: 330, SD: 9}}
		f.Alarms = nil
		for _, name := range []string{"thermal", "illumination", "axis_near_sun", "seam_step", "neighbour_overlap", "centre_uncertain", "gap_probable", "background_short"} {
			f.Alarms = append(f.Alarms, ejecta.Alarm{Name: name, Raised: true})
		}
		f.Describe(0.01)
		r.Species[i] = SpeciesRequest{&f, "a long name of an epoch", ejecta.NewRequest(&f, 5, 0.01)}
	}
	for len(r.Windows) < 20 {
		r.Windows = append(r.Windows, r.Windows[0])
	}
	r.Judge()
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
