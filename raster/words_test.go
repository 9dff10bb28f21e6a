package raster

import (
	"errors"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
)

// The messages are those of GDAL 3.6, as it gives them for damaged files.
func TestGDALWords(t *testing.T) {
	const path = "/maps/water.tif"
	for said, want := range map[string]string{
		"TIFFFillTile:Read error at row 4294967295, col 4294967295, tile 15; got 100 bytes, expected 200":     "tile 15 is cut off: got 100 bytes, expected 200",
		"/maps/water.tif:TIFFFillStrip:Read error on strip 14; got 5659 bytes, expected 7200":                 "strip 14 is cut off: got 5659 bytes, expected 7200",
		"/maps/water.tif: TIFFFetchDirectory:/maps/water.tif: Can not read TIFF directory count":              "its directory cannot be read: it is cut off or damaged",
		"/maps/water.tif, band 1: IReadBlock failed at X offset 1, Y offset 0: TIFFReadEncodedTile() failed.": "the block cannot be decoded",
		"`/maps/water.tif' not recognized as a supported file format.":                                        "it is in no format that GDAL reads",
		"ZIPDecode:Decoding error at scanline 0, incorrect header check":                                      "compressed data are damaged: Decoding error at scanline 0, incorrect header check",
		"TIFFReadRawStrip1:Read error at scanline 4294967295; got 0 bytes, expected 32":                       "the file is cut off: got 0 bytes, expected 32",
		"/maps/water.tif: Cannot open TIFF file due to missing codec of code 50999.":                          "nothing here knows its compression 50999",
		"a\x01b\nc": "a\uFFFDb c",
	} {
		if got := gdalWords(path, said); got != want {
			t.Errorf("%q becomes %q, want %q", said, got, want)
		}
	}
	if got := gdalWords("", strings.Repeat("long ", 1000)); len(got) > maxWords+4 {
		t.Errorf("a message of %d bytes", len(got))
	}
	if got := reason(errors.New("the cause\nwhat follows\nand again")); got != "the cause" {
		t.Errorf("reason %q", got)
	}
}

func TestFarCoordinatesAndLongMaps(t *testing.T) {
	for geo, words := range map[[6]float64]string{
		{1e300, 45, 0, 90, 0, -45}:      "cannot be told apart",
		{-180, 45, 0, 1e17, 0, -45}:     "cannot be told apart",
		{-180, 1e-14, 0, 90, 0, -1e-14}: "cannot be told apart",
		{1e9, 45, 0, 90, 0, -45}:        "it begins at longitude 1e+09",
	} {
		_, err := Open(Spec{Path: rawFile{types: godal.Float32, geo: &geo}.write(t), Body: moon})
		refusal(t, err, Refused, words)
	}
	for _, scale := range [][2]float64{{1e300, 0}, {1e-300, 0}, {1, -1e300}} {
		_, err := Open(Spec{Path: rawFile{types: godal.Float32, scale: scale}.write(t), Body: moon})
		refusal(t, err, Refused, "make no values")
	}
	l := mustOpen(t, Spec{Path: rawFile{types: godal.Float32, geo: &[6]float64{-360, 90, 0, 90, 0, -45}}.write(t), Body: moon})
	if notes := strings.Join(l.Info().Notes, "; "); !strings.Contains(notes, "spans 720 degrees of longitude; from column 4 on") {
		t.Errorf("notes %q", notes)
	}
}
