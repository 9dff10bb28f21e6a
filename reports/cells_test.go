package reports

import (
	"bytes"
	"encoding/binary"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/parquet-go/parquet-go"

	"rimcast/ejecta"
)

// withSums is the fixture with sums of its directions.
func withSums(n int) *Survey {
	s := fixture(n)
	for i := range s.Findings {
		if i%3 != 0 {
			v := float64(i)
			s.Findings[i].Sums = &ejecta.Sums{Score: []float64{v, -v}, Info: []float64{1, 2, v}, DecayScore: []float64{0.1}, DecayInfo: []float64{v / 7}}
		}
	}
	return s
}

func writtenCells(t *testing.T, s *Survey) (dir string) {
	t.Helper()
	dir = t.TempDir()
	for name, write := range map[string]func(*Survey) error{
		CellsFile: func(s *Survey) error { return writeFile(filepath.Join(dir, CellsFile), s.writeCells) },
		SumsFile:  func(s *Survey) error { return writeFile(filepath.Join(dir, SumsFile), s.writeSums) },
	} {
		if err := write(s); err != nil {
			t.Fatal(name, err)
		}
	}
	return dir
}

// The cells that are read are those of the findings, in their order, and
// what is missing is null.
func TestCellsReadBack(t *testing.T) {
	s := withSums(14)
	rows, err := parquet.ReadFile[cellRow](filepath.Join(writtenCells(t, s), CellsFile))
	if err != nil {
		t.Fatal(err)
	}
	k := 0
	for i := range s.Findings {
		f := &s.Findings[i]
		for n, ring := range f.Radial {
			r := rows[k]
			k++
			if r.CraterID != s.crater(f.CraterIndex).ID || r.Species != f.Species || r.Kind != "ring" || int(r.Number) != n || r.Pixels != int32(ring.Pixels) {
				t.Fatalf("row %d is %+v", k, r)
			}
			if math.IsNaN(ring.Mean) != (r.Mean == nil) || r.Mean != nil && *r.Mean != float32(ring.Mean) {
				t.Fatalf("mean of row %d: %v, want %g", k, r.Mean, ring.Mean)
			}
		}
		k += len(f.Azimuthal)
	}
	if k != len(rows) {
		t.Errorf("%d rows, want %d", len(rows), k)
	}
}

func TestSumsReadBack(t *testing.T) {
	s := withSums(14)
	path := filepath.Join(writtenCells(t, s), SumsFile)
	bare := fixture(14)
	if err := bare.ReadSums(path); err != nil {
		t.Fatal(err)
	}
	for i := range s.Findings {
		a, b := s.Findings[i].Sums, bare.Findings[i].Sums
		if (a == nil) != (b == nil) || a != nil && (a.Score[1] != b.Score[1] || a.Info[2] != b.Info[2] || a.DecayInfo[0] != b.DecayInfo[0]) {
			t.Fatalf("finding %d: %+v, want %+v", i, b, a)
		}
	}
	if err := fixture(3).ReadSums(path); err == nil {
		t.Error("the sums of another survey were taken")
	}
	damagedSums(t, path)
}

// damagedSums cuts and flips the file: an error, never a crash.
func damagedSums(t *testing.T, path string) {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range [][]byte{nil, text[:len(text)/2], text[:len(text)-3], append(bytes.Repeat([]byte{0xff}, 200), text[200:]...)} {
		if err := os.WriteFile(path, bad, 0o666); err != nil {
			t.Fatal(err)
		}
		if err := fixture(14).ReadSums(path); err == nil {
			t.Errorf("%d bytes of damage were read", len(bad))
		}
	}
}

// TestSumsFooterTakesNoMemory: a length in the last bytes of a damaged file is
// held against the file before it is believed.
func TestSumsFooterTakesNoMemory(t *testing.T) {
	var b bytes.Buffer
	if err := withSums(4).writeSums(&b); err != nil {
		t.Fatal(err)
	}
	text := b.Bytes()
	binary.LittleEndian.PutUint32(text[len(text)-8:], 3<<30)
	path := filepath.Join(t.TempDir(), SumsFile)
	if err := os.WriteFile(path, text, 0o666); err != nil {
		t.Fatal(err)
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	err := fixture(4).ReadSums(path)
	runtime.ReadMemStats(&after)
	if err == nil || !strings.Contains(err.Error(), "3221225472 bytes of description") || after.TotalAlloc-before.TotalAlloc > 50<<20 {
		t.Errorf("%d bytes taken: %v", after.TotalAlloc-before.TotalAlloc, err)
	}
}

func FuzzReadSums(f *testing.F) {
	var b bytes.Buffer
	if err := withSums(4).writeSums(&b); err != nil {
		f.Fatal(err)
	}
	f.Add(b.Bytes())
	f.Add([]byte("PAR1PAR1"))
	s := fixture(4)
	path := filepath.Join(f.TempDir(), SumsFile)
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(path, text, 0o666); err != nil {
			t.Fatal(err)
		}
		_ = s.ReadSums(path) // whatever it says, it must not crash
	})
}

// Equal surveys give equal bytes.
func TestCellsAreTheSameTwice(t *testing.T) {
	var a, b bytes.Buffer
	for _, out := range []*bytes.Buffer{&a, &b} {
		if err := withSums(9).writeCells(out); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("two writings differ")
	}
}

const hyparquetScript = `
const {asyncBufferFromFile, parquetReadObjects} = await import('hyparquet')
const rows = async name => await parquetReadObjects({file: await asyncBufferFromFile(process.argv[1] + '/' + name)})
const cells = await rows('cells.parquet'), sums = await rows('sums.parquet')
console.log(JSON.stringify({cells: cells.length, sums: sums.length, first: cells[1], score: sums[0].score, nulls: cells.filter(r => r.mean === null && r.kind === 'ring').length}))
`

// A reader that shares no code with the writer reads the same numbers.
func TestCellsByAnotherReader(t *testing.T) {
	run := otherReader(t)
	s := withSums(14)
	text := run(hyparquetScript, writtenCells(t, s))
	var got struct {
		Cells, Sums, Nulls int
		First              map[string]any
		Score              []float64
	}
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	cells, sums, nulls := 0, 0, 0
	for i := range s.Findings {
		f := &s.Findings[i]
		cells += len(f.Radial) + len(f.Azimuthal)
		if f.Sums != nil {
			sums++
		}
		for _, r := range f.Radial {
			if math.IsNaN(r.Mean) {
				nulls++
			}
		}
	}
	ring := s.Findings[0].Radial[1]
	if got.Cells != cells || got.Sums != sums || got.Nulls != nulls || len(got.Score) != 2 || got.Score[0] != 1 ||
		got.First["crater_id"] != s.crater(0).ID || math.Abs(got.First["se"].(float64)-ring.SE) > 1e-5 {
		t.Errorf("read %+v; want %d cells, %d sums, %d nulls", got, cells, sums, nulls)
	}
}

// BenchmarkCells writes the cells of 2000 craters of two species.
func BenchmarkCells(b *testing.B) {
	s := fixture(2000)
	b.ResetTimer()
	for range b.N {
		var out countingWriter
		if err := s.writeCells(&out); err != nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(out)/2000, "B/crater")
	}
}

type countingWriter int

func (n *countingWriter) Write(p []byte) (int, error) {
	*n += countingWriter(len(p))
	return len(p), nil
}
