package reports

import (
	"bytes"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"rimcast/ejecta"
)

// detailList keeps details in memory; one of them can be lost.
type detailList struct {
	list []ejecta.Detail
	lost int
}

var errLost = errors.New("the scratch file is gone")

func (d *detailList) Detail(i int) (ejecta.Detail, error) {
	if i == d.lost {
		return ejecta.Detail{}, errLost
	}
	return d.list[i], nil
}

// detachedCopy is a survey whose details are elsewhere.
func detachedCopy(s *Survey, lost int) *Survey {
	c := *s
	c.Findings = slices.Clone(s.Findings)
	d := &detailList{lost: lost}
	for i := range c.Findings {
		d.list = append(d.list, c.Findings[i].Detach())
	}
	c.ReadDetails(d)
	return &c
}

// written is every file that Write makes, by name.
func written(t *testing.T, s *Survey) map[string][]byte {
	t.Helper()
	dir, files := t.TempDir(), map[string][]byte{}
	if err := Write(dir, s, Options{SheetTop: 5, OverlayTop: 20, Styles: true, Vector: []string{"parquet"}}); err != nil {
		t.Fatal(err)
	}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err == nil && e.Type().IsRegular() {
			files[path[len(dir):]], err = os.ReadFile(path)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestDetachedSurveyIsWrittenAlike(t *testing.T) {
	s := fixture(40)
	s.Findings[4].Sums = &ejecta.Sums{Score: []float64{1, 2}}
	whole, apart := written(t, s), written(t, detachedCopy(s, -1))
	if len(whole) != len(apart) || len(whole) < 20 {
		t.Fatalf("%d files, and %d with the details elsewhere", len(whole), len(apart))
	}
	for name, want := range whole {
		if !bytes.Equal(apart[name], want) {
			t.Errorf("%s differs", name)
		}
	}
}

// A detail that is lost is the error of the writing, wherever it was wanted.
func TestLostDetailIsTold(t *testing.T) {
	s := fixture(40)
	for _, lost := range []int{0, len(s.Findings) / 2, len(s.Findings) - 1} {
		if err := Write(t.TempDir(), detachedCopy(s, lost), Options{}); !errors.Is(err, errLost) {
			t.Errorf("detail %d is lost: %v", lost, err)
		}
	}
}
