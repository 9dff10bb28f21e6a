package main

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestEditDistance(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want int // counted by hand
	}{
		{"", "", 0},
		{"abc", "", 3},
		{"screen", "screen", 0},
		{"scren", "screen", 1},
		{"screne", "screen", 1},      // a swap
		{"kitten", "sitting", 3},     // Levenshtein's usual example
		{"ca", "abc", 3},             // optimal string alignment, not the unrestricted distance of 2
		{"radius_km", "radius", 3},   // three letters more
		{"neighbor", "neighbour", 1}, // two spellings
	} {
		if got := editDistance(c.a, c.b); got != c.want {
			t.Errorf("editDistance(%q, %q) = %d, want %d", c.a, c.b, got, c.want)
		}
	}
}

func TestEditDistanceIsAMeasure(t *testing.T) {
	word := rapid.StringMatching(`[a-z_]{0,12}`)
	rapid.Check(t, func(t *rapid.T) {
		a, b := word.Draw(t, "a"), word.Draw(t, "b")
		d := editDistance(a, b)
		if d != editDistance(b, a) {
			t.Fatal("not symmetric")
		}
		if (d == 0) != (a == b) {
			t.Fatal("zero for different words, or not zero for equal ones")
		}
		if lo, hi := max(len(a), len(b))-min(len(a), len(b)), max(len(a), len(b)); d < lo || d > hi {
			t.Fatalf("%d is outside %d..%d", d, lo, hi)
		}
	})
}

func TestClosest(t *testing.T) {
	words := []string{"screen", "inspect", "profile", "report"}
	for word, want := range map[string]string{
		"scren": "screen", "Inspekt": "inspect", "raport": "report", "zebra": "", "": "",
		strings.Repeat("screen", 1000): "",
	} {
		if got := closest(word, words); got != want {
			t.Errorf("closest(%.20q) = %q, want %q", word, got, want)
		}
	}
}
