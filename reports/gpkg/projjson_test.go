package gpkg

import (
	"bytes"
	"encoding/json"
	"testing"

	"github.com/airbusgeo/godal"

	"rimcast/geom"
	"rimcast/reports"
)

// PROJ takes the reference system in the metadata of overlay.parquet for the
// body that it is.
func TestParquetReferenceSystem(t *testing.T) {
	for _, row := range []struct {
		body geom.Body
		code string
	}{{moon, "IAU_2015:30100"}, {geom.Sphere("Halven \"x\"", 412000), ""}} {
		var b bytes.Buffer
		if err := reports.WriteGeoParquet(&b, survey(row.body, row.code), reports.Options{}); err != nil {
			t.Fatal(err)
		}
		from := bytes.Index(b.Bytes(), []byte(`{"columns":`))
		var meta struct {
			Columns map[string]struct{ CRS json.RawMessage }
		}
		if err := json.NewDecoder(bytes.NewReader(b.Bytes()[from:])).Decode(&meta); err != nil {
			t.Fatal(err)
		}
		sr, err := godal.NewSpatialRef(string(meta.Columns["geometry"].CRS))
		if err != nil {
			t.Fatalf("%s: %v", row.body.Name, err)
		}
		if a, err := sr.SemiMajor(); err != nil || a != row.body.SemiMajor || !sr.Geographic() {
			t.Errorf("%s: radius %g (%v)", row.body.Name, a, err)
		}
		if want := row.code; want != "" && (sr.AuthorityName("") != "IAU_2015" || sr.AuthorityCode("") != "30100") {
			t.Errorf("%s: %s:%s, want %s", row.body.Name, sr.AuthorityName(""), sr.AuthorityCode(""), want)
		}
		sr.Close()
	}
}
