package reports

import (
	"bytes"
	"encoding/csv"
	"io"
	"os"
	"strings"
	"testing"

	"rimcast/ejecta"
)

// plantings are invented counts: six size classes, five patterns, found more
// often the more was planted.
func plantings() (planted []Planting, claims []FalseClaims) {
	for _, species := range []string{"water", "hydroxyl <b>"} {
		for class := range 6 {
			lo, hi := 3*float64(class+1), 3*float64(class+2)-0.5
			for i, pattern := range ejecta.PlantedPatterns() {
				for step, k := range []int{1, 4, 20, 31, 38, 40} {
					planted = append(planted, Planting{Species: species, Unit: "ppm", RadiusLo: lo, RadiusHi: hi, Pattern: pattern, Amplitude: 30 * float64(step+1),
						Trials: 40, Excess: k, Directed: 38, Direction: max(0, k-2-i)})
				}
			}
			for _, test := range []string{"excess", "direction"} {
				for _, level := range []float64{0.1, 0.05, 0.01, 0.001} {
					claims = append(claims, FalseClaims{species, lo, hi, test, level, int(40 * level), 40})
				}
			}
		}
	}
	return planted, claims
}

func TestSensitivityFigures(t *testing.T) {
	list := SensitivityFigures(plantings())
	if len(list) != 3 {
		t.Fatalf("%d figures, want one for each species and the false claims", len(list))
	}
	for _, f := range list {
		words := svgText(t, f.Name, string(filled(t, func(w io.Writer) error { return f.Write(w, "svg") })))
		want := []string{"planted rim excess (ppm)", "direction found (%)", "radius 18 to 20.5 pixels", "bilateral"}
		if f.Name == "false-claims" {
			want = []string{"nominal level, test of the direction", "claims too often", "water, all sizes"}
		}
		for _, label := range want {
			if !strings.Contains(words, label) {
				t.Errorf("%s lacks %q", f.Name, label)
			}
		}
	}
}

// The data beside a figure hold its shares: 20 of 40 are 50 per cent, and the
// classes of a species are added up for the false claims.
func TestSensitivityData(t *testing.T) {
	list := SensitivityFigures(plantings())
	rows := figureRows(t, list[0])
	if len(rows) != 1+6*5*6*2 {
		t.Errorf("%d rows of completeness", len(rows))
	}
	if got := strings.Join(rows[3], " "); !strings.HasPrefix(got, "water ppm 3 5.5 symmetric 90 excess 50 35.1995 64.8005") {
		t.Errorf("third step of the first class: %s", got)
	}
	rows = figureRows(t, list[2])
	if got := strings.Join(rows[1][:7], " "); got != "water 3 20.5 excess 0.1 240 24" {
		t.Errorf("false claims of the excess at 0.1: %s", got)
	}
}

func figureRows(t *testing.T, f Figure) [][]string {
	t.Helper()
	rows, err := csv.NewReader(bytes.NewReader(filled(t, f.WriteData))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func TestSensitivityPreview(t *testing.T) {
	dir := os.Getenv("RIMCAST_PREVIEW")
	if dir == "" {
		t.Skip("RIMCAST_PREVIEW names no directory")
	}
	for _, f := range SensitivityFigures(plantings()) {
		if err := WriteFigure(dir, f, []string{"png"}); err != nil {
			t.Fatal(err)
		}
	}
}
