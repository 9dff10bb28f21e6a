package ejecta

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// reference reads a published set from testdata/reference; the source of its
// numbers stands in the file.
func reference(t *testing.T, name string, into any) {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, into); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

// near reports a value that differs from the wanted one by more than rel times
// its size.
func near(t *testing.T, what string, got, want, rel float64) {
	t.Helper()
	if !(math.Abs(got-want) <= rel*math.Abs(want)) {
		t.Errorf("%s = %.15g, want %.15g (relative difference %.2g, allowed %.2g)", what, got, want, math.Abs(got/want-1), rel)
	}
}

// within is near with an absolute tolerance.
func within(t *testing.T, what string, got, want, abs float64) {
	t.Helper()
	if !(math.Abs(got-want) <= abs) {
		t.Errorf("%s = %.15g, want %.15g +- %.2g", what, got, want, abs)
	}
}
