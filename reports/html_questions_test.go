package reports

import (
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
	if !strings.HasPrefix(got, "Young are") || !strings.HasSuffix(got, `with p &lt; <span class="nb">1e-12</span>`) {
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
	} {
		if got := string(said(s, row[0])); got != `<ul class="verdict">`+row[1]+"</ul>" {
			t.Errorf("%q: %s", row[0], got)
		}
	}
}
