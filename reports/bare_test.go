package reports

import (
	"bytes"
	"fmt"
	"slices"
	"testing"

	"rimcast/ejecta"
)

// sieveFixture leaves out most craters of a fixture, in full.
func sieveFixture(s *Survey) (quick []ejecta.QuickP) {
	quick = make([]ejecta.QuickP, len(s.Catalogue.Craters)*len(s.Species))
	for i := range quick {
		quick[i] = ejecta.NoQuickP()
	}
	per := len(s.Species)
	for i := range s.Findings {
		f := &s.Findings[i]
		if f.CraterIndex%5 == 0 || !s.wholeCrater(f.CraterIndex) {
			continue
		}
		bare := ejecta.Finding{CraterIndex: f.CraterIndex, Species: f.Species, Unit: f.Unit, Quantity: f.Quantity, Epoch: f.Epoch, Status: ejecta.StatusSieved, Note: "left out"}
		if f.CraterIndex%7 == 0 {
			bare.Status, bare.Note = ejecta.StatusTooSmall, fmt.Sprint("of size ", f.CraterIndex%3)
		}
		ejecta.BlankNumbers(&bare)
		if q := &quick[f.CraterIndex*per+i%per]; i%3 > 0 {
			*q = ejecta.QuickP{Excess: float64(i%97) / 97, Direction: 0.5, Plain: [2]float64{0.3, float64(i%89) / 89}}
			bare.Quick = q
		}
		bare.Describe(0.001)
		*f = bare
	}
	return quick
}

// wholeCrater reports whether a crater has a finding for every species.
func (s *Survey) wholeCrater(crater int) bool {
	lo, hi := s.spanOf(crater)
	return hi-lo == len(s.Species)
}

// bareCopy is a survey without the findings of its bare craters.
func bareCopy(s *Survey, quick []ejecta.QuickP) *Survey {
	c := *s
	c.Findings = nil
	var b *ejecta.Bare
	for i := 0; i < len(s.Findings); {
		lo, hi := s.spanOf(s.Findings[i].CraterIndex)
		if list := s.Findings[lo:hi]; slices.ContainsFunc(list, func(f ejecta.Finding) bool { return !f.IsBare() || f.Status != list[0].Status }) {
			c.Findings = append(c.Findings, list...)
		} else {
			if b == nil {
				b = ejecta.NewBare(list, quick)
			}
			b.Add(list[0].CraterIndex, list[0].Status, list[0].Note)
		}
		i = hi
	}
	c.LeaveBare(b)
	return &c
}

// TestBareSurveyIsWrittenAlike: every file is the same with the findings of bare
// craters and without.
func TestBareSurveyIsWrittenAlike(t *testing.T) {
	s := fixture(120)
	quick := sieveFixture(s)
	bare := bareCopy(s, quick)
	if bare.Bare().Len() < 60 || len(bare.Findings) < 20 || bare.Count() != len(s.Findings) {
		t.Fatalf("%d bare craters beside %d findings of %d", bare.Bare().Len(), len(bare.Findings), len(s.Findings))
	}
	whole, few := written(t, s), written(t, bare)
	if len(whole) != len(few) || len(whole) < 20 {
		t.Fatalf("%d files, and %d with bare craters", len(whole), len(few))
	}
	for name, want := range whole {
		if !bytes.Equal(few[name], want) {
			t.Errorf("%s differs", name)
		}
	}
}
