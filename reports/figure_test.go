package reports

import (
	"bytes"
	"encoding/xml"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestFigurePreview writes every figure as PNG where RIMCAST_PREVIEW says, to
// be looked at.
func TestFigurePreview(t *testing.T) {
	dir := os.Getenv("RIMCAST_PREVIEW")
	if dir == "" {
		t.Skip("RIMCAST_PREVIEW names no directory")
	}
	s := fixture(60)
	list := SurveyFigures(s)
	for i := range 5 {
		list = append(list, CraterFigures(s, i)...)
	}
	for _, f := range list {
		if err := WriteFigure(dir, f, []string{"svg", "png", "pdf"}); err != nil {
			t.Fatal(err)
		}
	}
}

func everyFigure(s *Survey) []Figure {
	return append(SurveyFigures(s), CraterFigures(s, 0)...)
}

func TestFiguresAreStable(t *testing.T) {
	for _, format := range []string{"svg", "pdf", "png"} {
		first, second := everyFigure(fixture(12)), everyFigure(fixture(12))
		for i, f := range first {
			a := filled(t, func(w io.Writer) error { return f.Write(w, format) })
			b := filled(t, func(w io.Writer) error { return second[i].Write(w, format) })
			if !bytes.Equal(a, b) {
				t.Errorf("%s.%s differs between two runs", f.Name, format)
			}
		}
	}
}

func TestSVGIsWellFormedTextStaysText(t *testing.T) {
	want := map[string][]string{
		"map":         {"water", "hydroxyl", "ppm", "1 R", "km =", "N"},
		"radial":      {"water (ppm)", "range from the centre (crater radii)", "fitted blanket", "rim"},
		"covariates":  {"without the covariates", "rim excess 55", "p of direction", "rim excess less its mean (ppm)"},
		"rose":        {"excess in ppm", "N", "axis and 95 % interval"},
		"day-water":   {"dawn, 6.5 h", "blanket", "where the sun stands", "less background (ppm)", "range (crater radii)"},
		"day":         {"water, background (ppm)", "water, blanket (ppm)", "local time (h)"},
		"controls":    {"water, young less old (ppm)", "young less old (standard deviations)", "pairs, from the smallest difference"},
		"overview":    {"longitude, east positive (degrees)", "bilateral", "rim radius"},
		"calibration": {"nominal level", "chance alone", "water (11 craters, 600 null positions)"},
		"population":  {"share of rich craters", "mean excess (ppm)", "excavation depth (km)", "95 % interval of the share"},
		"ranks":       {"ranks in repeated measurements", "best ten"},
	}
	seen := 0
	for _, f := range everyFigure(fixture(12)) {
		svg := string(filled(t, func(w io.Writer) error { return f.Write(w, "svg") }))
		words := svgText(t, f.Name, svg)
		for what, labels := range want {
			if !strings.HasSuffix(f.Name, what) {
				continue
			}
			seen++
			for _, label := range labels {
				if !strings.Contains(words, label) {
					t.Errorf("%s.svg does not contain the text %q", f.Name, label)
				}
			}
		}
	}
	if seen != len(want) {
		t.Errorf("%d figures of %d looked at", seen, len(want))
	}
}

// svgText parses a drawing and returns the text in it.
func svgText(t *testing.T, name, svg string) string {
	t.Helper()
	var words strings.Builder
	dec := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := dec.Token()
		if err == io.EOF {
			return words.String()
		}
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		switch token := token.(type) {
		case xml.CharData:
			words.Write(token)
		case xml.StartElement:
			if token.Name.Local == "script" {
				t.Errorf("%s contains a script", name)
			}
		}
	}
}

func TestPNGHasPrintSize(t *testing.T) {
	f, _ := roseFigure(fixture(8), 0)
	img, err := png.Decode(bytes.NewReader(filled(t, func(w io.Writer) error { return f.Write(w, "png") })))
	if err != nil {
		t.Fatal(err)
	}
	if w := img.Bounds().Dx(); w != 2126 { // 180 mm at 300 dots per inch
		t.Errorf("width %d pixels, want 2126", w)
	}
}

func TestFigureNamesStayInside(t *testing.T) {
	dir := t.TempDir()
	for i := range hostile {
		for _, f := range CraterFigures(fixture(12), i) {
			if filepath.Base(f.Name) != f.Name {
				t.Fatalf("figure name %q leaves its directory", f.Name)
			}
			if err := WriteFigure(dir, f, nil); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func TestRampGrowsInLightness(t *testing.T) {
	last := -1.0
	for i := range 101 {
		c := ramp(float64(i) / 100)
		light := 0.2126*float64(c.R) + 0.7152*float64(c.G) + 0.0722*float64(c.B)
		if light <= last {
			t.Fatalf("the ramp gets darker at %d %%", i)
		}
		last = light
	}
}
