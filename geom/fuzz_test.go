package geom_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"unicode"

	"github.com/paulmach/orb"

	"rimcast/geom"
)

// seeds adds the catalogues of testdata; none at all is a mistake of the test.
func seeds(f *testing.F, pattern string) {
	f.Helper()
	files, err := filepath.Glob(filepath.Join("..", "testdata", "catalogue", pattern))
	if err != nil || len(files) == 0 {
		f.Fatalf("no seeds %s: %v", pattern, err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
}

// checkCatalogue holds for whatever was read.
func checkCatalogue(t *testing.T, cat geom.Catalogue, err error) {
	var in *geom.InputError
	if err != nil {
		if !errors.As(err, &in) || in.Problem == "" {
			t.Fatalf("error of type %T: %v", err, err)
		}
		plain(t, err.Error())
	}
	ids := map[string]bool{}
	last := -1
	for _, c := range cat.Craters {
		if err != nil {
			break // half settled
		}
		if !c.Centre.Valid() || c.Centre.Lon < -180 || c.Centre.Lon > 180 {
			t.Fatalf("crater at %v", c.Centre)
		}
		if !(c.Radius > 0) || !(c.Extent() <= cat.Body.SemiMajor*1.58) || !(c.SigmaRadius >= 0) || !(c.SigmaCentre >= 0) {
			t.Fatalf("crater of size %v, sigma %v, %v", c.Radius, c.SigmaRadius, c.SigmaCentre)
		}
		if c.SemiMajor != 0 && !(c.SemiMajor >= c.SemiMinor && c.SemiMinor > 0 && c.RimAzimuth >= 0 && c.RimAzimuth < 180) {
			t.Fatalf("ellipse %v x %v at %v", c.SemiMajor, c.SemiMinor, c.RimAzimuth)
		}
		if ids[c.ID] || c.ID == "" || len(c.ID) > 1024 || len(c.Name) > 1024 {
			t.Fatalf("id %.100q, name %.100q", c.ID, c.Name)
		}
		if ids[c.ID] = true; c.Index <= last {
			t.Fatalf("crater %d after %d", c.Index, last)
		}
		last = c.Index
	}
	for _, r := range cat.Refused {
		plain(t, r.Reason)
	}
	for _, n := range cat.Notes {
		plain(t, n)
	}
}

// plain fails on a message that could harm a terminal or fill a screen.
func plain(t *testing.T, s string) {
	if len(s) == 0 || len(s) > 8000 {
		t.Fatalf("message of %d bytes", len(s))
	}
	for _, r := range s {
		if !unicode.IsPrint(r) {
			t.Fatalf("message with %U: %q", r, s)
		}
	}
}

// rewrite puts the craters back into a file of points.
func rewrite(cat geom.Catalogue) string {
	var features []object
	for _, c := range cat.Craters {
		features = append(features, outline(c.ID, orb.Point{c.Centre.Lon, c.Centre.Lat}, object{"name": c.Name, "radius_m": c.Radius}))
	}
	return overlay(cat.Body, features...)
}

func fuzzRead(t *testing.T, data []byte, opt geom.CatalogueOptions) {
	cat, err := geom.ReadCatalogue(strings.NewReader(string(data)), "fuzz", opt)
	checkCatalogue(t, cat, err)
	if err != nil {
		return
	}
	again, err := geom.ReadCatalogue(strings.NewReader(string(data)), "fuzz", opt)
	if err != nil || len(again.Craters) != len(cat.Craters) || !reflect.DeepEqual(again.Notes, cat.Notes) || !reflect.DeepEqual(again.Refused, cat.Refused) {
		t.Fatalf("read twice: %v, %v", err, again)
	}
	back, err := geom.ReadCatalogue(strings.NewReader(rewrite(cat)), "back", geom.CatalogueOptions{Body: cat.Body})
	if err != nil {
		t.Fatalf("written and read: %v", err)
	}
	for i, c := range cat.Craters {
		b := back.Craters[i]
		// JSON text is UTF-8: bytes that are not come back replaced.
		if b.Centre != c.Centre || b.Radius != c.Radius || b.ID != strings.ToValidUTF8(c.ID, "\ufffd") {
			t.Fatalf("written %+v, read %+v", c, b)
		}
	}
}

// FuzzReadCatalogue: no GeoJSON crashes the reader; what it takes is valid, and
// comes back the same when written and read again.
func FuzzReadCatalogue(f *testing.F) {
	seeds(f, "*.geojson")
	f.Add([]byte(`{"type":"FeatureCollection","features":[{"type":"Feature","geometry":{"type":"Point","coordinates":[NaN,1]}}]}`))
	f.Add([]byte(strings.Repeat(`{"a":[`, 300)))
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, geom.CatalogueOptions{Body: moon, Format: "geojson", FitEllipse: true, AssumeBodyCRS: true})
	})
}

// FuzzReadCSV does the same for CSV.
func FuzzReadCSV(f *testing.F) {
	seeds(f, "*.csv")
	f.Add([]byte("lon;lat;d_km\n\"1\n,5\";2,5;1.0\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		fuzzRead(t, data, geom.CatalogueOptions{Body: moon, Format: "csv", LonDirection: "east", Dedupe: "last", RadiusUnit: "km"})
	})
}

// FuzzParseCRS: no name crashes; what is understood has a valid body.
func FuzzParseCRS(f *testing.F) {
	for _, s := range []string{"IAU_2015:30100", "urn:ogc:def:crs:IAU::49901", "EPSG:4326", `PROJCS["a",GEOGCS["b",DATUM["c",SPHEROID["Mars",3396190,169.9]]]]`} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, name string) {
		c, err := geom.ParseCRS(name)
		if err != nil {
			plain(t, err.Error())
			return
		}
		if err := c.Body.Valid(); err != nil {
			t.Fatalf("%q: %v", name, err)
		}
		if _, err := json.Marshal(geom.NewReferenceBody(c.Body)); err != nil {
			t.Fatal(err)
		}
	})
}

// TestSeedCatalogues reads each file as a user would.
func TestSeedCatalogues(t *testing.T) {
	for name, want := range map[string]struct{ craters, refused int }{
		"points.geojson": {3, 0}, "own.geojson": {1, 0}, "rims.geojson": {2, 1}, "sequence.geojson": {2, 0},
		"refused.geojson": {1, 6}, "comma.csv": {3, 0}, "semicolon.csv": {2, 0}, "tab.csv": {1, 2}, "truncated.geojson": {-1, 0},
	} {
		data, err := os.ReadFile(filepath.Join("..", "testdata", "catalogue", name))
		if err != nil {
			t.Fatal(err)
		}
		cat, err := read(string(data), geom.CatalogueOptions{})
		if want.craters < 0 {
			if kind, ok := geom.KindOf(err); !ok || kind != geom.Corrupt {
				t.Errorf("%s: %v", name, err)
			}
			continue
		}
		if err != nil || len(cat.Craters) != want.craters || len(cat.Refused) != want.refused {
			t.Errorf("%s: %d craters, %v, %s", name, len(cat.Craters), err, told(cat))
		}
	}
}

func BenchmarkReadCatalogue(b *testing.B) {
	cat := geom.Catalogue{Body: moon, Craters: scatter(moon, 1e5, 500, 2)}
	csv := []string{"id,name,lon,lat,radius_m"}
	for i := range cat.Craters {
		c := &cat.Craters[i]
		c.ID, c.Name = fmt.Sprint(i), "Tansy"
		csv = append(csv, fmt.Sprintf("%s,%s,%.6f,%.6f,%.2f", c.ID, c.Name, c.Centre.Lon, c.Centre.Lat, c.Radius))
	}
	for name, text := range map[string]string{"GeoJSON": rewrite(cat), "CSV": strings.Join(csv, "\n")} {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			b.ReportAllocs()
			for b.Loop() {
				if _, err := read(text, geom.CatalogueOptions{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
