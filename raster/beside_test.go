package raster

import (
	"errors"
	"os"
	"strings"
	"testing"

	"github.com/airbusgeo/godal"
)

// TestDamagedFilesBeside: what GDAL would leave out without a word is a fault of
// the map, which names the file.
func TestDamagedFilesBeside(t *testing.T) {
	for _, c := range []struct {
		beside, text string
		words        string // "" is no fault
	}{
		{".aux.xml", `<PAMDataset><PAMRasterBand band="1"><UnitType>ppm</UnitType></PAMRasterBand></PAMDataset>`, ""},
		{".aux.xml", `<?xml version="1.0" encoding="ISO-8859-1"?><PAMDataset></PAMDataset>`, ""},
		{".aux.xml", `<PAMDataset><PAMRasterBand band="1"><Scale>2</Scale>`, "(scale, unit, missing values) would be lost"},
		{".aux.xml", "<PAMDataset><Metadata><MDI key=\"t\">20 \xb0C \x01</MDI></Metadata></PAMDataset>", ""},
		{".aux.xml", "PAM & more", "would be lost"},
		{".msk", "II*", "which pixels of the map are missing would be lost"},
		{".msk", "", "which pixels of the map are missing would be lost"},
		{".ovr", "II*", ""}, // overviews are not read
	} {
		path := rawFile{types: godal.Float32, values: make([]float64, 32)}.write(t)
		if err := os.WriteFile(path+c.beside, []byte(c.text), 0o644); err != nil {
			t.Fatal(err)
		}
		l, err := Open(Spec{Path: path})
		if err == nil {
			l.Close()
		}
		var e *Error
		switch {
		case c.words == "" && err != nil:
			t.Errorf("%s %q: %v", c.beside, c.text, err)
		case c.words != "" && (!errors.As(err, &e) || e.Kind != Corrupt || e.File != path+c.beside || !strings.Contains(e.Error(), c.words)):
			t.Errorf("%s %q: %v", c.beside, c.text, err)
		}
	}
}
