package geom_test

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// reference loads a file of check values; each of them names its source.
func reference(t testing.TB, name string, v any) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "testdata", "reference", name))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(data, v); err != nil {
		t.Fatalf("%s: %v", name, err)
	}
}

const deg = math.Pi / 180

// angleMiss is the distance of two angles in radians, over any number of turns.
func angleMiss(a, b float64) float64 { return math.Abs(math.Remainder(a-b, 2*math.Pi)) }
