package reports

import (
	"image/color"
	"math"
	"regexp"
	"strconv"
	"testing"
)

// Texts of the page stand out from their ground by 4.5 to 1 and what marks a
// control by 3 to 1, in both themes and in print: WCAG 2.2, success criteria
// 1.4.3 and 1.4.11.
func TestContrastOfThePage(t *testing.T) {
	themes := regexp.MustCompile(`:root\{([^}]*)\}`).FindAllStringSubmatch(pageStyle, -1)
	if len(themes) != 3 {
		t.Fatalf("%d themes, want light, dark and print", len(themes))
	}
	for i, theme := range themes {
		name := []string{"light", "dark", "print"}[i]
		colours := themeColours(t, theme[1])
		for _, row := range []struct {
			text, ground string
			least        float64
		}{
			{"ink", "bg", 4.5}, {"ink", "card", 4.5}, {"ink", "head", 4.5}, {"ink", "mark", 4.5},
			{"soft", "bg", 4.5}, {"soft", "card", 4.5}, {"soft", "head", 4.5}, {"soft", "mark", 4.5},
			{"link", "bg", 4.5}, {"link", "card", 4.5}, {"link", "head", 4.5}, {"card", "accent", 4.5},
			{"accent", "bg", 3}, {"accent", "card", 3}, {"soft", "card", 3},
		} {
			if c := contrastOf(colours[row.text], colours[row.ground]); c < row.least {
				t.Errorf("%s: %s on %s has %.2f to 1, want %.1f", name, row.text, row.ground, c, row.least)
			}
		}
	}
}

// The figures stand on white in every theme.
func TestContrastOfFigures(t *testing.T) {
	for _, c := range []color.NRGBA{inkColour, softColour} {
		for _, ground := range []color.NRGBA{paperColour, bandColour} {
			if r := contrastOf(c, ground); r < 4.5 {
				t.Errorf("text %s on %s: %.2f to 1", hex(c), hex(ground), r)
			}
		}
	}
	for i, l := range looks {
		if r := contrastOf(l.colour, paperColour); r < 3 {
			t.Errorf("species %d, %s: %.2f to 1", i, hex(l.colour), r)
		}
	}
}

// Species differ in mark and dash, not in colour alone, and in grey.
func TestLooksDiffer(t *testing.T) {
	for i, a := range looks {
		for j, b := range looks[:i] {
			if a.shape == b.shape || len(a.dashes) == len(b.dashes) && len(a.dashes) > 0 && a.dashes[0] == b.dashes[0] {
				t.Errorf("species %d and %d have one mark or dash", i, j)
			}
		}
	}
}

// themeColours reads the colours of a theme.
func themeColours(t *testing.T, text string) map[string]color.NRGBA {
	t.Helper()
	out := map[string]color.NRGBA{}
	for _, m := range regexp.MustCompile(`--([a-z]+):#([0-9a-f]+)`).FindAllStringSubmatch(text, -1) {
		digits := m[2]
		if len(digits) == 3 {
			digits = digits[:1] + digits[:1] + digits[1:2] + digits[1:2] + digits[2:] + digits[2:]
		}
		v, err := strconv.ParseUint(digits, 16, 32)
		if err != nil {
			t.Fatal(err)
		}
		out[m[1]] = rgb(uint32(v))
	}
	return out
}

// contrastOf is the ratio of contrast of WCAG 2.2.
func contrastOf(a, b color.NRGBA) float64 {
	x, y := luminance(a), luminance(b)
	return (math.Max(x, y) + 0.05) / (math.Min(x, y) + 0.05)
}

// luminance is the relative luminance of WCAG 2.2.
func luminance(c color.NRGBA) float64 {
	return 0.2126*linear(c.R) + 0.7152*linear(c.G) + 0.0722*linear(c.B)
}

func linear(v uint8) float64 {
	s := float64(v) / 255
	if s <= 0.04045 {
		return s / 12.92
	}
	return math.Pow((s+0.055)/1.055, 2.4)
}
