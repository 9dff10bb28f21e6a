package reports

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// golden compares got with testdata/name.
func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs from the golden file; look at the difference, then run go test -update", name)
	}
}

func filled(t *testing.T, fill func(io.Writer) error) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := fill(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestFilesGolden(t *testing.T) {
	for _, f := range files(fixture(12), Options{OverlayTop: 2, MaxChordError: 400, NoReport: true}) {
		golden(t, f.name, filled(t, f.write))
	}
}

// The columns of the file contract, in order.
var contract = map[string]string{
	"findings.csv":  "crater_id name lon_deg lat_deg radius_m species unit status pixels coverage n_eff background background_se excess excess_se excess_p excess_q rim_excess rim_excess_se decay_exponent decay_exponent_se extent_radii pattern asymmetry asymmetry_se asymmetry_p asymmetry_q axis_deg axis_se_deg detectable_50 detectable_95 upper_limit_95 alarms",
	"contrasts.csv": "crater_id species_a species_b contrast_p contrast_q axis_difference_deg",
	"targets.csv":   "rank crater_id name lon_deg lat_deg lon_west_deg radius_m score rank_lo rank_hi p_top10 verdict why",
}

func TestColumnsOfTheContract(t *testing.T) {
	for _, f := range files(fixture(8), Options{NoReport: true}) {
		want, ok := contract[f.name]
		if !ok {
			continue
		}
		header, _, _ := strings.Cut(string(filled(t, f.write)), "\n")
		names := strings.Fields(want)
		got := strings.Split(header, ",")
		if len(got) < len(names) || !slices.Equal(got[:len(names)], names) {
			t.Errorf("%s begins with %v, want %v", f.name, got, names)
		}
	}
}

func TestTablesAreReadableAndHarmless(t *testing.T) {
	s := fixture(30)
	for _, f := range files(s, Options{NoReport: true}) {
		if !strings.HasSuffix(f.name, ".csv") {
			continue
		}
		records, err := csv.NewReader(bytes.NewReader(filled(t, f.write))).ReadAll()
		if err != nil {
			t.Fatalf("%s: %v", f.name, err)
		}
		if len(records) < 2 {
			t.Errorf("%s has no rows", f.name)
		}
		for _, record := range records {
			for _, cell := range record {
				if isFormula(cell) && !plainNumber(cell) && number64(cell) != nil {
					t.Errorf("%s: cell %q would run as a formula", f.name, cell)
				}
				if cell == "NaN" || strings.Contains(cell, "Inf") {
					t.Errorf("%s: cell %q", f.name, cell)
				}
			}
		}
	}
}

// number64 returns an error unless the cell is a JSON number.
func number64(cell string) error {
	var v float64
	return json.Unmarshal([]byte(cell), &v)
}

func TestIDsComeBack(t *testing.T) {
	s := fixture(12)
	records, err := csv.NewReader(bytes.NewReader(filled(t, s.writeFindings))).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	for i, c := range s.Catalogue.Craters {
		row := records[1+i*len(s.Species)]
		if OriginalText(row[0]) != c.ID || OriginalText(row[1]) != c.Name {
			t.Errorf("crater %d: %q %q, want %q %q", i, row[0], row[1], c.ID, c.Name)
		}
	}
}

func TestNeutralText(t *testing.T) {
	for _, row := range []struct{ in, want string }{
		{"HV-001", "HV-001"}, {"", ""}, {"=1+1", "'=1+1"}, {"-12", "-12"}, {"+3.5", "+3.5"}, {"-1-1", "'-1-1"},
		{"'Oum", "'Oum"}, {"'=x", "''=x"}, {"\tx", "\u2409x"}, {"a\nb\x1b\x7f", "a\u240ab\u241b\u2421"}, {"\u0085", "\u2426E"}, {"\u240a", "\u2426\u240a"}, {"@a", "'@a"}, {"-", "'-"},
	} {
		if got := NeutralText(row.in); got != row.want {
			t.Errorf("NeutralText(%q) = %q, want %q", row.in, got, row.want)
		}
	}
}

func TestNeutralTextComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.OneOf(rapid.String(), rapid.StringMatching(`'*[=+@\-\t]?[0-9a-z.]*`), rapid.StringMatching(`[\x00-\x9f\x{2400}-\x{2427}]*`)).Draw(t, "text")
		cell := NeutralText(s)
		if OriginalText(cell) != s {
			t.Fatalf("%q became %q and then %q", s, cell, OriginalText(cell))
		}
		if isFormula(cell) && !plainNumber(cell) {
			t.Fatalf("%q is still a formula", cell)
		}
	})
}

func TestSafeName(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := SafeName(rapid.String().Draw(t, "id"))
		if name == "" || len(name) > 40 || name[0] == '.' || strings.ContainsAny(name, "/\\:\x00 ") || filepath.Base(name) != name {
			t.Fatalf("%q is not a safe name", name)
		}
	})
}

func TestNumber(t *testing.T) {
	for _, row := range []struct {
		in   float64
		want string
	}{
		{math.NaN(), ""}, {math.Inf(1), ""}, {math.Copysign(0, -1), "0"}, {1.0 / 3, "0.333333"}, {1234567, "1.23457e+06"}, {2e-5, "2e-05"},
	} {
		if got := number(row.in); got != row.want {
			t.Errorf("number(%v) = %q, want %q", row.in, got, row.want)
		}
	}
}

func TestLongitudes(t *testing.T) {
	for _, row := range []struct{ in, east, west float64 }{
		{190, -170, 170}, {-180, -180, 180}, {180, -180, 180}, {0, 0, 0}, {359, -1, 1}, {12, 12, 348},
	} {
		if e, w := eastLongitude(row.in), westLongitude(row.in); e != row.east || w != row.west {
			t.Errorf("longitude %v: east %v west %v, want %v %v", row.in, e, w, row.east, row.west)
		}
	}
}

func TestSchemaCoversEveryColumn(t *testing.T) {
	var schema schemaFile
	if err := json.Unmarshal(filled(t, WriteSchema), &schema); err != nil {
		t.Fatal(err)
	}
	fields := map[string][]schemaField{}
	for _, r := range schema.Resources {
		fields[r.Path] = r.Schema.Fields
	}
	for _, f := range files(fixture(8), Options{NoReport: true}) {
		if !strings.HasSuffix(f.name, ".csv") {
			continue
		}
		header, _, _ := strings.Cut(string(filled(t, f.write)), "\n")
		names := strings.Split(header, ",")
		if len(names) != len(fields[f.name]) {
			t.Errorf("%s: %d columns, %d in the schema", f.name, len(names), len(fields[f.name]))
		}
		for i, field := range fields[f.name] {
			if field.Name != names[i] || field.Description == "" {
				t.Errorf("%s: column %s, schema %+v", f.name, names[i], field)
			}
		}
	}
}

func TestExplainKnowsEveryWord(t *testing.T) {
	alarms := strings.Fields("axis_near_sun axis_near_track seam_step neighbour_overlap changed_by_neighbour coverage_can_fake below_background one_strip radius_uncertain other_covariate centre_uncertain radius_mismatch rim_elliptical terrain_contact uneven_ground common_direction noise_nonuniform null_scale clipped_at_zero spike_values unit_implausible smoothed_input special_values_undeclared thermal illumination albedo not_separable background_short near_duplicate gap_probable")
	statuses := strings.Fields("ok radial_only not_testable too_small too_large not_covered low_coverage no_background no_variance unreadable refused")
	patterns := strings.Fields("none symmetric one-sided bilateral rays gap")
	for _, term := range slices.Concat(alarms, statuses, patterns) {
		if short, long, ok := Explain(term); !ok || short == "" || len(long) < 80 {
			t.Errorf("Explain(%q) = %q, %q, %v", term, short, long, ok)
		}
	}
	if _, _, ok := Explain("One Sided"); !ok {
		t.Error("case and blanks should not matter")
	}
	if _, _, ok := Explain("no such word"); ok {
		t.Error("an unknown word was explained")
	}
}
