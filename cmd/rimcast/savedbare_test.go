package main

import (
	"bytes"
	"testing"

	"rimcast/ejecta"
	"rimcast/reports"
)

// TestBareSurveyIsSavedAlike: a survey with bare craters is saved in the bytes of
// one that has all findings, over more than one piece, and read back with as many
// bare craters; findings that only look bare stay.
func TestBareSurveyIsSavedAlike(t *testing.T) {
	p := inventedSieve(t, 2*savedPiece, 0.9)
	p.measureAll(t)
	p.label()
	s, err := p.finish()
	if err != nil {
		t.Fatal(err)
	}
	full := *s
	full.Findings = nil
	for _, f := range s.All() {
		full.Findings = append(full.Findings, *f)
	}
	full.LeaveBare(nil)
	bare := bytesOfSurvey(t, s)
	if !bytes.Equal(bare, bytesOfSurvey(t, &full)) {
		t.Error("the bytes differ")
	}
	got, err := loadSurvey(bytes.NewReader(bare))
	if err != nil {
		t.Fatal(err)
	}
	if got.Bare().Len() != s.Bare().Len() || got.Bare().Len() < savedPiece || got.Count() != s.Count() {
		t.Errorf("%d bare craters of %d came back, %d findings of %d", got.Bare().Len(), s.Bare().Len(), got.Count(), s.Count())
	}
	if !bytes.Equal(bare, bytesOfSurvey(t, got)) {
		t.Error("what was read is saved otherwise")
	}
	k := s.Bare().Crater(5)
	for name, change := range map[string]func(*ejecta.Finding){
		"a number":         func(f *ejecta.Finding) { f.NEff = 3 },
		"another sentence": func(f *ejecta.Finding) { f.Verdict = "rich" },
		"another unit":     func(f *ejecta.Finding) { f.Unit = "K" },
		"another note":     func(f *ejecta.Finding) { f.Note = "" },
	} {
		one := full
		one.Findings = append([]ejecta.Finding(nil), full.Findings...)
		change(&one.Findings[2*k+1])
		back, err := loadSurvey(bytes.NewReader(bytesOfSurvey(t, &one)))
		if err != nil || back.Bare().Len() != s.Bare().Len()-1 || len(back.Findings) != len(s.Findings)+2 {
			t.Errorf("%s: the crater is bare: %v", name, err)
		}
	}
}

func bytesOfSurvey(t *testing.T, s *reports.Survey) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := saveSurvey(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}
