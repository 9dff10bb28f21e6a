package main

import (
	"bytes"
	"io"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"
)

func TestFold(t *testing.T) {
	for _, c := range []struct {
		line string
		want []string
	}{
		{"short", []string{"short"}},
		{"  sample       15915 pixels, 9 pixels a radius, all covered", []string{"  sample       15915 pixels, 9 pixels a", "               radius, all covered"}},
		{"water against hydroxyl: the shapes differ much", []string{"water against hydroxyl: the shapes", "  differ much"}},
		{"/a/path/without/any/space/that/is/longer/than/the/screen", []string{"/a/path/without/any/space/that/is/longer/than/the/screen"}},
		{"  ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ±", []string{"  ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ± ±", "    ± ±"}},
		{"  blanket      rim excess of 92 ± 20 (p < 1e-12)", []string{"  blanket      rim excess of 92 ± 20", "               (p < 1e-12)"}},
		{"nothing found; what is above it is at 95 % excluded", []string{"nothing found; what is above it is at", "  95 % excluded"}},
	} {
		if got := fold(c.line, 40); strings.Join(got, "|") != strings.Join(c.want, "|") {
			t.Errorf("%q:\n got %q\nwant %q", c.line, got, c.want)
		}
	}
}

// Folding keeps every word in order, and every line with a space to break at
// within the width.
func TestFoldKeepsWords(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		words := rapid.SliceOfN(rapid.StringMatching(`[a-z±]{1,12}( {1,3})?`), 1, 40).Draw(rt, "words")
		line := strings.Repeat(" ", rapid.IntRange(0, 6).Draw(rt, "indent")) + strings.Join(words, " ")
		width := rapid.IntRange(narrowest, 100).Draw(rt, "width")
		out := fold(line, width)
		if a, b := strings.Fields(line), strings.Fields(strings.Join(out, "\n")); strings.Join(a, " ") != strings.Join(b, " ") {
			rt.Fatalf("%q became %q", line, out)
		}
		for _, l := range out {
			if n := utf8.RuneCountInString(strings.TrimRight(l, " ")); n > width {
				rt.Fatalf("%d columns of %d: %q", n, width, l)
			}
		}
	})
}

func TestScreenWriter(t *testing.T) {
	var b bytes.Buffer
	s := &screenWriter{w: &b, width: 40, ascii: true}
	for _, part := range []string{"excess  12 ± ", "3\nname  Žofín – crater\n", "no end"} {
		io.WriteString(s, part)
	}
	if got := b.String(); got != "excess  12 +- 3\nname  ?of?n - crater\n" {
		t.Errorf("%q", got)
	}
}

func TestScreenSettings(t *testing.T) {
	if n := screenWidth(&bytes.Buffer{}, ""); n != 0 {
		t.Errorf("a pipe is folded to %d", n)
	}
	if n := screenWidth(&bytes.Buffer{}, "80"); n != 80 {
		t.Errorf("COLUMNS=80 gives %d", n)
	}
	for _, c := range []struct {
		env  map[string]string
		want bool
	}{
		{nil, true}, {map[string]string{"LANG": "C"}, false}, {map[string]string{"LANG": "C", "LC_ALL": "de_DE.UTF-8"}, true},
		{map[string]string{"LANG": "en_US.utf8"}, true}, {map[string]string{"LC_CTYPE": "de_DE.ISO-8859-1"}, false},
	} {
		if got := utf8Locale(func(k string) string { return c.env[k] }); got != c.want {
			t.Errorf("%v: %v", c.env, got)
		}
	}
}
