package reports

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// many is a fixture grown to n craters; only the first sixty have targets.
func many(n int) *Survey {
	s := fixture(60)
	for i := 60; i < n; i++ {
		c := s.Catalogue.Craters[8+i%50]
		c.Index, c.ID = i, fmt.Sprintf("X%06d", i)
		s.Catalogue.Craters = append(s.Catalogue.Craters, c)
		for _, f := range s.findingsOf(8 + i%50) {
			f.CraterIndex, f.Radial, f.Azimuthal, f.Alarms = i, nil, nil, nil
			s.Findings = append(s.Findings, f)
		}
	}
	return s
}

func TestWriteMakesEveryFile(t *testing.T) {
	dir := t.TempDir()
	if err := Write(dir, fixture(12), Options{SheetTop: 2, Styles: true, Formats: []string{"svg", "pdf"}}); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"findings.csv", "contrasts.csv", "targets.csv", "radial.csv", "azimuthal.csv", "alarms.csv", "refused.csv", "schema.json",
		"manifest.json", "overlay.geojson", "report.html", "styles/rim.sld", "figures/overview.svg", "figures/overview.pdf", "figures/overview.csv", "figures/ranks.csv"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err != nil || info.Size() == 0 {
			t.Errorf("%s is missing or empty: %v", name, err)
		}
	}
}

func TestWriteNamesTheFileThatFailed(t *testing.T) {
	dir := t.TempDir()
	if err := os.Mkdir(filepath.Join(dir, "radial.csv"), 0o777); err != nil {
		t.Fatal(err)
	}
	err := Write(dir, fixture(8), Options{NoFigures: true, NoReport: true})
	if want := filepath.Join(dir, "radial.csv"); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("error %v does not name %s", err, want)
	}
}

func BenchmarkWrite(b *testing.B) {
	s := many(100000)
	for _, f := range files(s, Options{}) {
		b.Run(f.name, func(b *testing.B) {
			for b.Loop() {
				if err := f.write(io.Discard); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func BenchmarkFigure(b *testing.B) {
	s := fixture(60)
	for _, f := range everyFigure(s) {
		for _, format := range []string{"svg", "pdf", "png"} {
			b.Run(f.Name+"/"+format, func(b *testing.B) {
				for b.Loop() {
					if err := f.Write(io.Discard, format); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
	}
}
