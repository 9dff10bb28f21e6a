package reports

import (
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"

	"github.com/parquet-go/parquet-go"
	"github.com/paulmach/orb"
	"github.com/paulmach/orb/encoding/wkb"
)

// ParquetFile is the overlay for data tools.
const ParquetFile = "overlay.parquet"

// The overlay as GeoParquet 1.1 (OGC): one table with a column for the kind, one
// for the geometry as WKB, and the attributes of all kinds; what a kind does not
// have is null. Rings turn as in GeoJSON, edges are straight in longitude and
// latitude, and the metadata carry the reference system of the body.

// WriteGeoParquet writes the overlay as GeoParquet.
func WriteGeoParquet(w io.Writer, s *Survey, opt Options) error {
	layers := Layers(s, opt)
	t := newParquetTable(layers)
	options := append(parquetOptions(), t.schema)
	out := parquet.NewGenericWriter[any](w, options...)
	box := orb.Bound{Min: orb.Point{180, 90}, Max: orb.Point{-180, -90}}
	types := map[string]bool{}
	for _, layer := range layers {
		for f := range layer.Features {
			row, err := t.row(f)
			if err != nil {
				return fmt.Errorf("crater %q, kind %s: %w", f.CraterID, f.Kind, err)
			}
			if _, err := out.WriteRows([]parquet.Row{row}); err != nil {
				return err
			}
			box, types[f.Geometry.GeoJSONType()] = box.Union(f.Geometry.Bound()), true
		}
	}
	meta, err := geoMetadata(s, box, types)
	if err != nil {
		return err
	}
	out.SetKeyValueMetadata("geo", meta)
	return out.Close()
}

// parquetTable is the columns of the overlay.
type parquetTable struct {
	schema *parquet.Schema
	kinds  map[string]parquet.Kind // of the attributes
}

// newParquetTable tells the attributes from the first feature of each kind.
func newParquetTable(layers []Layer) *parquetTable {
	t := &parquetTable{kinds: map[string]parquet.Kind{}}
	group := parquet.Group{
		"kind": parquet.String(), "crater_id": parquet.String(), "geometry": parquet.Leaf(parquet.ByteArrayType),
	}
	for _, layer := range layers {
		for f := range layer.Features {
			for _, p := range f.Props {
				node := parquetNode(p.Value)
				t.kinds[p.Name], group[p.Name] = node.Type().Kind(), parquet.Optional(node)
			}
			break
		}
	}
	t.schema = parquet.NewSchema("overlay", group)
	return t
}

func parquetNode(v any) parquet.Node {
	switch v.(type) {
	case float64:
		return parquet.Leaf(parquet.DoubleType)
	case int:
		return parquet.Int(64)
	case bool:
		return parquet.Leaf(parquet.BooleanType)
	}
	return parquet.String()
}

// row is a feature; attributes that it lacks, and missing numbers, are null.
func (t *parquetTable) row(f Feature) (parquet.Row, error) {
	shape, err := wkb.Marshal(f.Geometry)
	if err != nil {
		return nil, err
	}
	row := make(parquet.Row, len(t.schema.Columns()))
	for i := range row {
		row[i] = parquet.NullValue().Level(0, 0, i)
	}
	put := func(name string, v parquet.Value, definition int) {
		leaf, _ := t.schema.Lookup(name)
		row[leaf.ColumnIndex] = v.Level(0, definition, leaf.ColumnIndex)
	}
	put("kind", parquet.ByteArrayValue([]byte(f.Kind)), 0)
	put("crater_id", parquet.ByteArrayValue([]byte(DisplayText(f.CraterID))), 0)
	put("geometry", parquet.ByteArrayValue(shape), 0)
	for _, p := range f.Props {
		v, ok := parquetValue(p.Value)
		if ok && v.Kind() == t.kinds[p.Name] {
			put(p.Name, v, 1)
		}
	}
	return row, nil
}

func parquetValue(v any) (parquet.Value, bool) {
	switch v := v.(type) {
	case float64:
		return parquet.DoubleValue(v), !math.IsNaN(v) && !math.IsInf(v, 0)
	case int:
		return parquet.Int64Value(int64(v)), true
	case bool:
		return parquet.BooleanValue(v), true
	case string:
		return parquet.ByteArrayValue([]byte(DisplayText(v))), true
	}
	return parquet.Value{}, false
}

// geoMetadata is the value of the key "geo" of the file.
func geoMetadata(s *Survey, box orb.Bound, types map[string]bool) (string, error) {
	columns := map[string]any{"geometry": geoColumn(s, box, types)}
	text, err := json.Marshal(map[string]any{"version": "1.1.0", "primary_column": "geometry", "columns": columns})
	return string(text), err
}

func geoColumn(s *Survey, box orb.Bound, types map[string]bool) map[string]any {
	column := map[string]any{
		"encoding": "WKB", "geometry_types": sortedKeys(types), "crs": s.projJSON(), "orientation": "counterclockwise", "edges": "planar",
	}
	if box.Min[0] <= box.Max[0] {
		column["bbox"] = []float64{box.Min[0], box.Min[1], box.Max[0], box.Max[1]}
	}
	return column
}

func sortedKeys(m map[string]bool) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// projJSON is the reference system of the survey as PROJJSON: degrees on the
// sphere of the equatorial radius, as in [Survey.CRSText].
func (s *Survey) projJSON() map[string]any {
	name := DisplayText(s.Body.Name) + " (sphere)"
	axis := func(name, short, direction string) map[string]any {
		return map[string]any{"name": name, "abbreviation": short, "direction": direction, "unit": "degree"}
	}
	crs := map[string]any{
		"$schema": "https://proj.org/schemas/v0.5/projjson.schema.json",
		"type":    "GeographicCRS", "name": name + " / planetocentric",
		"datum": map[string]any{
			"type": "GeodeticReferenceFrame", "name": name,
			"ellipsoid":      map[string]any{"name": name, "radius": s.Body.SemiMajor},
			"prime_meridian": map[string]any{"name": "Reference meridian", "longitude": 0},
		},
		"coordinate_system": map[string]any{"subtype": "ellipsoidal", "axis": []any{
			axis("Geodetic latitude", "Lat", "north"), axis("Geodetic longitude", "Lon", "east")}},
	}
	if code := s.CRSCode(); code != "" {
		crs["id"] = map[string]any{"authority": "IAU_2015", "code": json.Number(code)}
	}
	return crs
}
