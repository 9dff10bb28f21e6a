package main

import (
	"encoding/json"
	"strings"
	"testing"

	"rimcast/reports"
)

func TestParseWeights(t *testing.T) {
	for _, c := range []struct{ text, fault string }{
		{"pattern=2", ""},
		{"extent=-0.5", ""},
		{"patern=2", "no part patern"},
		{"pattern", "no number"},
		{"pattern=much", "no number"},
		{"pattern=NaN", "is NaN"},
		{"pattern=1e9", "is 1e+09"},
	} {
		_, err := parseWeights([]string{c.text})
		if (err == nil) != (c.fault == "") || err != nil && !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%s: %v, want %q", c.text, err, c.fault)
		}
	}
}

// The parts that are not given keep the weights of the survey.
func TestSavedWeights(t *testing.T) {
	m := reports.Manifest{Settings: map[string]any{"ranking": map[string]any{"weights": map[string]any{"extent": json.Number("2")}}}}
	if w := savedWeights(m); len(w) != 1 || w["extent"] != 2 {
		t.Errorf("weights %v", w)
	}
	if w := savedWeights(reports.Manifest{}); len(w) != 0 {
		t.Errorf("weights %v of nothing", w)
	}
}
