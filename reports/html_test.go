package reports

import (
	"bytes"
	"encoding/json"
	"encoding/xml"
	"io"
	"regexp"
	"strings"
	"testing"
)

func reportOf(t *testing.T, n int) string {
	t.Helper()
	return string(filled(t, func(w io.Writer) error { return WriteReport(w, fixture(n), Options{SheetTop: 9}) }))
}

var (
	scriptOrStyle = regexp.MustCompile(`(?s)<(script|style)([^>]*)>.*?</(script|style)>`)
	voidElement   = regexp.MustCompile(`<(meta|link|input)([^>]*)>`)
)

// TestReportIsWellFormed parses the page strictly: every element closed, every
// attribute quoted, ids unique, every link inside the page with a goal.
func TestReportIsWellFormed(t *testing.T) {
	page := strings.TrimPrefix(reportOf(t, 30), "<!DOCTYPE html>")
	page = scriptOrStyle.ReplaceAllString(page, "<$1></$1>")
	page = voidElement.ReplaceAllString(page, "<$1$2/>")
	ids, goals := map[string]bool{}, map[string]bool{}
	dec := xml.NewDecoder(strings.NewReader(page))
	for {
		token, err := dec.Token()
		if err == io.EOF {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		if start, ok := token.(xml.StartElement); ok {
			for _, a := range start.Attr {
				gather(t, a, ids, goals)
			}
		}
	}
	for goal := range goals {
		if !ids[goal] {
			t.Errorf("a link goes to #%s, which is not there", goal)
		}
	}
}

func gather(t *testing.T, a xml.Attr, ids, goals map[string]bool) {
	t.Helper()
	switch {
	case a.Name.Local == "id":
		if ids[a.Value] {
			t.Errorf("id %q occurs twice", a.Value)
		}
		ids[a.Value] = true
	case a.Name.Local == "href" && strings.HasPrefix(a.Value, "#"):
		goals[a.Value[1:]] = true
	case a.Name.Local == "href" || a.Name.Local == "src":
		if !strings.HasPrefix(a.Value, "data:") {
			t.Errorf("%s=%q leaves the page", a.Name.Local, a.Value)
		}
	case strings.HasPrefix(a.Name.Local, "on"):
		t.Errorf("inline handler %s", a.Name.Local)
	}
}

func TestReportTreatsNamesAsData(t *testing.T) {
	page := reportOf(t, 30)
	if n := strings.Count(page, "<script"); n != 2 {
		t.Errorf("%d script elements, want 2", n)
	}
	for _, bad := range []string{"<b>", "<script>document", "\u202e", "\x00", "ZgotmplZ", "<test>", "<survey>"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page contains %q unescaped", bad)
		}
	}
	for _, want := range []string{"&lt;b&gt;7&lt;/b&gt;", "{{.Evil}}", "水"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not show %q", want)
		}
	}
}

func TestReportAnswersWhatAPersonAsks(t *testing.T) {
	page := reportOf(t, 30)
	for _, want := range []string{"What was asked", "best targets, and why", "All craters", "Can the p-values be trusted", "Settings and provenance", "Cautions",
		"landing", "no sun azimuth layer", "water.tif band 1", "seed 42", "latitude 95 is outside", "coverage_can_fake", "Water follows one axis, hydroxyl does not.", "° east ="} {
		if !strings.Contains(page, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	if n := strings.Count(page, `class="sheet"`); n != 9 {
		t.Errorf("%d sheets, want 9", n)
	}
}

func TestReportIsStable(t *testing.T) {
	first := reportOf(t, 20)
	if second := reportOf(t, 20); first != second {
		t.Error("two runs gave different pages")
	}
}

func TestReportOfNothing(t *testing.T) {
	page := string(filled(t, func(w io.Writer) error { return WriteReport(w, &Survey{}, Options{}) }))
	if !strings.Contains(page, "No crater could be ranked") {
		t.Error("an empty survey should say so")
	}
	if err := Write(t.TempDir(), &Survey{Body: fixture(1).Body}, Options{Styles: true}); err != nil {
		t.Error(err)
	}
}

func TestTableDataIsColumns(t *testing.T) {
	s := fixture(30)
	raw, err := json.Marshal(newTableData(s, 5))
	if err != nil {
		t.Fatal(err)
	}
	var columns map[string]json.RawMessage
	if err := json.Unmarshal(raw, &columns); err != nil {
		t.Fatal(err)
	}
	for name, length := range map[string]int{"ids": 30, "rank": 30, "sheet": 30, "crater": 60, "excess": 60, "alarms": 60} {
		var list []any
		if err := json.Unmarshal(columns[name], &list); err != nil || len(list) != length {
			t.Errorf("column %s has %d entries, want %d (%v)", name, len(list), length, err)
		}
	}
}

func TestStylesAreWellFormed(t *testing.T) {
	for _, f := range styleFiles(fixture(1), Options{}) {
		text := filled(t, f.write)
		if err := xml.Unmarshal(text, new(struct{})); err != nil {
			t.Errorf("%s: %v", f.name, err)
		}
		if !bytes.Contains(text, []byte("stroke")) {
			t.Errorf("%s draws nothing", f.name)
		}
	}
}
