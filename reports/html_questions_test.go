package reports

import (
	"fmt"
	"io"
	"regexp"
	"strings"
	"testing"

	"rimcast/ejecta"
)

// Every question has an answer, and its link leads to a part of the page.
func TestQuestionsAreAnswered(t *testing.T) {
	for name, s := range map[string]*Survey{"full": fixture(40), "empty": {Title: "nothing"}} {
		page := string(filled(t, func(w io.Writer) error { return WriteReport(w, s, Options{SheetTop: 3}) }))
		list := questionViews(s)
		if len(list) != 18 {
			t.Errorf("%s: %d questions", name, len(list))
		}
		for _, q := range list {
			if q.Answer == "" || strings.Contains(q.Answer, "NaN") || q.Where == "" {
				t.Errorf("%s: %q is answered by %q in %q", name, q.Ask, q.Answer, q.Where)
			}
			if !strings.Contains(page, `id="`+q.Link+`"`) {
				t.Errorf("%s: %q leads to #%s, which is not in the page", name, q.Ask, q.Link)
			}
		}
	}
}

// Answers count what is in the survey.
func TestAnswersCount(t *testing.T) {
	s := fixture(12)
	claimed, raised, ran := 0, 0, 0
	for _, f := range s.Findings {
		if f.Claimed {
			claimed++
		}
		for _, a := range f.Alarms {
			if a.Name == "neighbour_overlap" && a.NotRun == "" {
				ran++
				if a.Raised {
					raised++
				}
			}
		}
	}
	q := tally{s}
	if got := q.alarm("neighbour_overlap"); got != "neighbour_overlap raised at "+strings.TrimSpace(number(float64(raised)))+" of "+number(float64(ran))+" findings." {
		t.Errorf("%d of %d: %s", raised, ran, got)
	}
	if got := q.alarm("axis_near_sun"); !strings.Contains(got, "could not run (no sun azimuth layer)") {
		t.Error(got)
	}
	if got := q.blankets(); !strings.HasPrefix(got, number(float64(claimed))+" of ") {
		t.Errorf("%d claimed: %s", claimed, got)
	}
	s.Nulls = []NullSummary{{PValues: []float64{0.01, 0.2, 0.3, 0.9}}}
	if got := q.noise(); !strings.Contains(got, "in 25 % of 4 cases") {
		t.Error(got)
	}
	s.Targets = []ejecta.Target{{PTop10: 0.5}, {PTop10: 1}}
	if got := q.ranks(); !regexp.MustCompile(`^On average 1.5 of the first 2`).MatchString(got) {
		t.Error(got)
	}
}

// Sentences are not cut where a name would be, and begin with a capital.
func TestSentencesAreWhole(t *testing.T) {
	long := "young are the craters " + strings.Repeat("of a long rule ", 20) + "with p < 1e-12"
	got := string(sentence(long))
	if !strings.HasPrefix(got, "Young are") || !strings.HasSuffix(got, `with <span class="nb">p &lt; 1e-12</span>`) {
		t.Error(got)
	}
	if sentence("") != "" || strings.Contains(string(sentence("a\u202e<b>")), "<b>") {
		t.Error("a sentence is not data")
	}
}

// A verdict is a list with what each line is about in front.
func TestVerdictsAreLists(t *testing.T) {
	s := &Survey{Species: []SpeciesInfo{{Name: "water"}, {Name: "water noon"}, {Name: "<i>"}}}
	for _, row := range [][2]string{
		{"water rim excess 4", "<li><strong>water</strong> rim excess 4</li>"},
		{"water noon and water differ", "<li><strong>water noon and water</strong> differ</li>"},
		{"water and sand", "<li><strong>water</strong> and sand</li>"},
		{"<i> at 1e-9", `<li><strong>&lt;i&gt;</strong> at <span class="nb">1e-9</span></li>`},
		{"nothing; water none", "<li>nothing</li><li><strong>water</strong> none</li>"},
		{"water: nothing found; a rim excess above 4 is excluded", "<li><strong>water</strong>: nothing found; a rim excess above 4 is excluded</li>"},
		{"water and water noon differ in shape (p = 0.004)", `<li><strong>water and water noon</strong> differ in shape (<span class="nb">p = 0.004</span>)</li>`},
		{"water and water noon differ in shape (p = 4); water noon and <i> differ in shape (p = 1)",
			`<li><strong>Different shapes:</strong> water and water noon (<span class="nb">p = 4</span>), water noon and &lt;i&gt; (<span class="nb">p = 1</span>)</li>`},
	} {
		if got := string(said(s, row[0])); got != `<ul class="verdict">`+row[1]+"</ul>" {
			t.Errorf("%q: %s", row[0], got)
		}
	}
}

// What several species have in common is said once, and what some lack is said of
// them alone.
func TestSheetSaysThingsOnce(t *testing.T) {
	why := "no direction was found"
	alarm := ejecta.Alarm{Name: "changes_with_time", Raised: true, Value: 1e-16, Limit: 0.01, Unit: "p", Detail: "goes at noon"}
	other := ejecta.Alarm{Name: "changes_with_time", Raised: true, Value: 3, Limit: 2, Unit: "sigma"}
	list := []ejecta.Finding{
		{Species: "a", Alarms: []ejecta.Alarm{alarm, {Name: "albedo", NotRun: "no layer"}, {Name: "one_strip", NotRun: why}, {Name: "axis_near_sun", NotRun: why}}},
		{Species: "b", Alarms: []ejecta.Alarm{alarm, {Name: "albedo", NotRun: "no layer"}, {Name: "one_strip"}}},
		{Species: "c", Alarms: []ejecta.Alarm{other, {Name: "albedo", NotRun: "no layer"}}},
	}
	groups := raisedGroups(list)
	if len(groups) != 1 || len(groups[0].List) != 2 || groups[0].List[0].Species != "a, b" {
		t.Fatalf("%+v", groups)
	}
	if got := groups[0].List[0].Amount() + "|" + groups[0].List[1].Amount(); got != "p < 1e-12 against a limit of 0.01|3 against a limit of 2 sigma" {
		t.Error(got)
	}
	if got := fmt.Sprint(lackGroups(list)); got != "[{no layer  [albedo]} {no direction was found a [one_strip axis_near_sun]}]" {
		t.Error(got)
	}
	if got := fmt.Sprint(clearAlarms(list)); got != "[one_strip (b)]" {
		t.Error(got)
	}
}

// Pairs that are alike share a line; a pair that differs, or was not compared, has
// its own.
func TestContrastLines(t *testing.T) {
	got := ContrastLines([]ejecta.Contrast{
		{SpeciesA: "a", SpeciesB: "b", Status: ejecta.StatusOK, P: 0.5, Q: 0.6},
		{SpeciesA: "a", SpeciesB: "c", Status: ejecta.StatusOK, Claimed: true, Q: 1e-4, Sentence: "a is symmetric, c is not"},
		{SpeciesA: "b", SpeciesB: "c", Status: ejecta.StatusOK, P: 0.1, Q: 0.2},
		{SpeciesA: "c", SpeciesB: "d", Status: ejecta.StatusNotTestable, Sentence: "not compared"},
	})
	want := "a is symmetric, c is not; q 0.0001 over the catalogue|c and d: not compared|" +
		"no difference in shape is shown between a and b (p 0.5, q 0.6); b and c (p 0.1, q 0.2)"
	if strings.Join(got, "|") != want {
		t.Error(got)
	}
}

// Values are written to the second digit of their error.
func TestErrorDigits(t *testing.T) {
	for want, v := range map[string][2]float64{
		"164 ± 29": {163.7, 29.1}, "200.65 ± 0.69": {200.654, 0.686}, "-5.2 ± 9.2": {-5.24, 9.25}, "0.04 ± 0.14": {0.042, 0.136},
		"1e+08 ± 5e+06": {1e8, 5e6}, "2 ± 1e-09": {2, 1e-9}, "12 ± 0": {12, 0},
	} {
		if got := ErrorDigits(v[0], v[1]); got != want {
			t.Errorf("%v: %s, want %s", v, got, want)
		}
	}
}
