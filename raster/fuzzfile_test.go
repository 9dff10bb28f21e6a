package raster

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode"

	"github.com/airbusgeo/godal"
)

// fuzzNames are the endings under which fuzzed bytes are opened; the first
// argument of the target chooses.
var fuzzNames = []string{"map.tif", "map.vrt", "map.xml"}

// maxFuzzedFile is the size up to which the target opens a file.
const maxFuzzedFile = 32 << 10

// FuzzRasterFile opens whole files whose bytes are damaged: GeoTIFFs of several
// kinds, virtual rasters, PDS4 labels. Whatever they hold, they are read or
// refused with an *Error that a person can read; nothing crashes.
func FuzzRasterFile(f *testing.F) {
	seeds := rasterSeeds(f)
	if len(seeds) == 0 {
		f.Fatal("there are no seeds")
	}
	for i, s := range seeds {
		if len(s.text) == 0 {
			f.Fatalf("seed %d is empty", i)
		}
		f.Add(s.name, s.text)
	}
	dir := f.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "base.tif"), seedTIFF(f, rawFile{types: godal.Float32}), 0o644); err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, name uint8, text []byte) {
		if len(text) > maxFuzzedFile {
			return // slower, and no other lines
		}
		path := filepath.Join(dir, fuzzNames[int(name)%len(fuzzNames)])
		if err := os.WriteFile(path, text, 0o644); err != nil {
			t.Fatal(err)
		}
		// A file that keeps the reader busy for ever is a crash, too.
		late := time.AfterFunc(time.Minute, func() { panic("reading takes more than a minute: " + path) })
		defer late.Stop()
		readFuzzed(t, path)
	})
}

// readFuzzed opens a file and reads its corners.
func readFuzzed(t *testing.T, path string) {
	l, err := Open(Spec{Path: path, Body: moon})
	if err != nil {
		readable(t, path, err)
		return
	}
	defer l.Close()
	info := l.Info()
	for _, n := range info.Notes {
		plainText(t, n)
	}
	if int64(info.BlockWidth)*int64(info.BlockHeight) > 1<<20 {
		return // memory for the fuzzing machine, not for the reader
	}
	dst := make([]float32, 40*20)
	for _, at := range [][2]int{{0, 0}, {-20, -10}, {info.Width - 20, info.Height - 10}} {
		if err := l.Read(at[0], at[1], 40, 20, dst); err != nil {
			readable(t, path, err)
		}
	}
}

// readable fails unless an error is one of this package, names the file, and
// is in words.
func readable(t *testing.T, path string, err error) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) || e.Problem == "" || !strings.HasPrefix(err.Error(), path) {
		t.Fatalf("error of type %T: %v", err, err)
	}
	plainText(t, err.Error())
}

// leaks are pieces of text that only a program understands.
var leaks = []string{"%!", "4294967295", "18446744073709551615", "0x", "<nil>", "*errors", "CPLE_", "hSRS", "poDS"}

func plainText(t *testing.T, s string) {
	t.Helper()
	if len(s) == 0 || len(s) > 8000 {
		t.Fatalf("message of %d bytes", len(s))
	}
	for _, r := range s {
		if !unicode.IsPrint(r) {
			t.Fatalf("message with %U: %q", r, s)
		}
	}
	for _, l := range leaks {
		if strings.Contains(s, l) {
			t.Fatalf("message with %q: %q", l, s)
		}
	}
}

// rasterSeed is a file of the fuzz target.
type rasterSeed struct {
	name uint8
	text []byte
}

// rasterSeeds are small files of every kind that the target opens, made as GDAL
// makes them, and the real map.
func rasterSeeds(f *testing.F) []rasterSeed {
	var seeds []rasterSeed
	for _, r := range []rawFile{
		{types: godal.Float32}, {types: godal.Byte, nodata: ptr(255.0)}, {types: godal.Float64, compress: "DEFLATE"},
		{types: godal.Int16, compress: "LZW", nodata: ptr(-32768.0), scale: [2]float64{0.1, 5}},
		{types: godal.UInt16, bands: []string{"water", "hydroxyl"}, point: true},
		{types: godal.Float32, w: 24, h: 20, crs: StereographicCRS(moon, true, 0), geo: &[6]float64{-3e5, 25e3, 0, 25e4, 0, -25e3}},
		{types: godal.Float32, crs: "none"},
	} {
		seeds = append(seeds, rasterSeed{0, seedTIFF(f, r)})
	}
	real, err := os.ReadFile("../testdata/real/moon_albedo_crop.tif")
	if err != nil {
		f.Fatal(err)
	}
	seeds = append(seeds, rasterSeed{0, real[:min(len(real), 8000)]})
	for i, driver := range []string{"VRT", "PDS4"} {
		seeds = append(seeds, rasterSeed{uint8(i + 1), seedLabel(f, driver)})
	}
	return append(seeds, rasterSeed{1, []byte(`<VRTDataset rasterXSize="1000000000" rasterYSize="1000000000"/>`)})
}

func seedTIFF(f *testing.F, r rawFile) []byte {
	w, h := max(r.w, 8), max(r.h, 4)
	r.values = make([]float64, w*h)
	for i := range r.values {
		r.values[i] = float64(i % 100)
	}
	text, err := os.ReadFile(r.write(f))
	if err != nil {
		f.Fatal(err)
	}
	return text
}

// seedLabel is the text of a virtual raster, or of a PDS4 label, over a file
// that the target keeps as base.tif.
func seedLabel(f *testing.F, driver string) []byte {
	dir := f.TempDir()
	base := filepath.Join(dir, "base.tif")
	if err := os.WriteFile(base, seedTIFF(f, rawFile{types: godal.Float32}), 0o644); err != nil {
		f.Fatal(err)
	}
	ds, err := openDataset(base, &journal{})
	if err != nil {
		f.Fatal(err)
	}
	defer ds.Close()
	out := filepath.Join(dir, "label.xml")
	c, err := ds.Translate(out, []string{"-of", driver}, godal.ErrLogger((&journal{}).handle))
	if err != nil {
		f.Fatal(err)
	}
	if err := c.Close(godal.ErrLogger((&journal{}).handle)); err != nil {
		f.Fatal(err)
	}
	text, err := os.ReadFile(out)
	if err != nil {
		f.Fatal(err)
	}
	return []byte(strings.ReplaceAll(string(text), "label.img", "base.tif"))
}
