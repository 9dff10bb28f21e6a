package ejecta

import (
	"slices"
	"testing"
)

func TestEvidenceIsRestored(t *testing.T) {
	h, cov := []float64{1, 2, 3, 4}, make([]float64, 16)
	for i := range 4 {
		cov[5*i] = 4
	}
	s, err := RestoreEvidence(7, 2, h, cov)
	if err != nil || s.Amplitude != 7 || s.SE != 2 {
		t.Errorf("%+v %v", s, err)
	}
	gotH, gotCov := s.Coefficients()
	if !slices.Equal(gotH, h) || !slices.Equal(gotCov, cov) {
		t.Errorf("%v %v", gotH, gotCov)
	}
	if got := s.Scores(); len(got) != 4 || got[3] < 1.999 || got[3] > 2.001 { // 4 over its error 2
		t.Errorf("scores %v", got)
	}
	none, err := RestoreEvidence(7, 2, nil, []float64{})
	if gotH, gotCov = none.Coefficients(); err != nil || gotH != nil || gotCov != nil {
		t.Errorf("no direction came back as %v %v %v", gotH, gotCov, err)
	}
	for _, n := range [][2]int{{4, 15}, {3, 16}, {4, 0}, {0, 16}} {
		if _, err := RestoreEvidence(0, 1, make([]float64, n[0]), make([]float64, n[1])); err == nil {
			t.Errorf("%d coefficients and %d covariances are accepted", n[0], n[1])
		}
	}
}
