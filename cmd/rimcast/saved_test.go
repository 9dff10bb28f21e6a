package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

func savedBytes(t testing.TB, s *reports.Survey) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := saveSurvey(&b, s); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// ignoreDetails is for surveys that hold their details.
var ignoreDetails = cmpopts.IgnoreUnexported(reports.Survey{})

func TestSavedSurveyComesBack(t *testing.T) {
	s := fixtureSurvey()
	got, err := loadSurvey(bytes.NewReader(savedBytes(t, s)))
	if err != nil {
		t.Fatal(err)
	}
	s.Manifest = reports.Manifest{} // kept in its own file
	if d := cmp.Diff(s, got, cmpopts.EquateNaNs(), cmpopts.EquateEmpty(), ignoreDetails); d != "" {
		t.Error(d)
	}
	if !bytes.Equal(savedBytes(t, s), savedBytes(t, got)) {
		t.Error("saving again gives other bytes")
	}
}

// TestEveryFieldIsSaved fails when a field is added to the survey and not to
// the file.
func TestEveryFieldIsSaved(t *testing.T) {
	s := &reports.Survey{}
	fill(reflect.ValueOf(s).Elem())
	s.Findings[0].CraterIndex, s.Contrasts[0].CraterIndex, s.Targets[0].CraterIndex = 0, 0, 0
	s.Masked[0].CraterIndex, s.Masked[0].Neighbour = 0, 0
	s.Cutouts[0].CraterIndex, s.Cutouts[0].Size = 0, 1
	s.Epochs[0].CraterIndex, s.Persistence[0].CraterIndex, s.Seams[0].CraterIndex = 0, 0, 0
	s.Controls.Pairs[0] = ejecta.Match{Distance: 1.5}
	s.Controls.Species[0].Differences[0].Match = ejecta.Match{Distance: 1.5}
	got, err := loadSurvey(bytes.NewReader(savedBytes(t, s)))
	if err != nil {
		t.Fatal(err)
	}
	got.Manifest = s.Manifest
	if d := cmp.Diff(s, got, ignoreDetails); d != "" {
		t.Error(d)
	}
}

// fill puts something into every field.
func fill(v reflect.Value) {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			fill(v.Field(i))
		}
	case reflect.Slice:
		v.Set(reflect.MakeSlice(v.Type(), 1, 1))
		fill(v.Index(0))
	case reflect.Array:
		for i := range v.Len() {
			fill(v.Index(i))
		}
	case reflect.String:
		v.SetString("x")
	case reflect.Float32, reflect.Float64:
		v.SetFloat(1.5)
	case reflect.Int, reflect.Int64, reflect.Int32:
		v.SetInt(1)
	case reflect.Uint64:
		v.SetUint(1)
	case reflect.Bool:
		v.SetBool(true)
	}
}

func TestLargeSurveysAreSavedInPieces(t *testing.T) {
	s := &reports.Survey{}
	for i := range 2*savedPiece + 1 {
		s.Catalogue.Craters = append(s.Catalogue.Craters, geom.Crater{Index: i, Radius: float64(i)})
		s.Findings = append(s.Findings, ejecta.Finding{CraterIndex: i, Excess: math.NaN()})
	}
	got, err := loadSurvey(bytes.NewReader(savedBytes(t, s)))
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Findings) != len(s.Findings) || got.Catalogue.Craters[2*savedPiece].Radius != 2*savedPiece {
		t.Errorf("%d findings came back of %d", len(got.Findings), len(s.Findings))
	}
}

func TestDamagedSavedSurveys(t *testing.T) {
	whole := savedBytes(t, fixtureSurvey())
	for _, n := range []int{0, 5, len(savedMagic), len(savedMagic) + 3, len(whole) / 2, len(whole) - 1} {
		if _, err := loadSurvey(bytes.NewReader(whole[:n])); err == nil {
			t.Errorf("the first %d of %d bytes pass for the whole", n, len(whole))
		}
	}
	for at := len(savedMagic) + 12; at < len(whole); at += 97 {
		broken := bytes.Clone(whole)
		broken[at] ^= 0x10
		if _, err := loadSurvey(bytes.NewReader(broken)); err == nil {
			t.Errorf("a flipped bit in byte %d goes unseen", at)
		}
	}
	for name, change := range map[string]func(*reports.Survey){
		"finding of no crater":  func(s *reports.Survey) { s.Findings[0].CraterIndex = 99 },
		"findings out of order": func(s *reports.Survey) { s.Findings[0], s.Findings[7] = s.Findings[7], s.Findings[0] },
		"target of no crater":   func(s *reports.Survey) { s.Targets[0].CraterIndex = -1 },
		"cut-out too short":     func(s *reports.Survey) { s.Cutouts[0].Size = 100 },
	} {
		s := fixtureSurvey()
		change(s)
		if _, err := loadSurvey(bytes.NewReader(savedBytes(t, s))); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func TestReadResult(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "result")
	if err := writeFixture(dir); err != nil {
		t.Fatal(err)
	}
	s, err := readResult(dir)
	if err != nil {
		t.Fatal(err)
	}
	if s.Manifest.Tool != "rimcast" || len(s.Findings) != 8 {
		t.Errorf("read %d findings, manifest of %q", len(s.Findings), s.Manifest.Tool)
	}
	put(t, filepath.Join(dir, resultMark), `{"tool":"other"}`)
	if _, err := readResult(dir); exitCode(err) != exitCorrupt {
		t.Errorf("manifest of another tool: %v", err)
	}
	if err := os.Remove(filepath.Join(dir, savedName)); err != nil {
		t.Fatal(err)
	}
	if _, err := readResult(dir); exitCode(err) != exitCorrupt {
		t.Errorf("no saved survey: %v", err)
	}
}

// FuzzDecodeSurvey looks behind the check sum of the file.
func FuzzDecodeSurvey(f *testing.F) {
	z, err := gzip.NewReader(bytes.NewReader(savedBytes(f, fixtureSurvey())[len(savedMagic):]))
	if err != nil {
		f.Fatal(err)
	}
	whole, err := io.ReadAll(z)
	if err != nil {
		f.Fatal(err)
	}
	if _, err := decodeSurvey(bytes.NewReader(whole)); err != nil {
		f.Fatal(err) // it also compiles the decoders, so that later runs cover the same lines
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Fuzz(func(t *testing.T, text []byte) {
		s, err := decodeSurvey(bytes.NewReader(text))
		if err != nil {
			return
		}
		if err := checkIndices(s); err != nil {
			t.Error(err)
		}
	})
}
