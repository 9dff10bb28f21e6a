package reports

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"strconv"

	"github.com/paulmach/orb"
)

// WriteOverlay writes the overlay as GeoJSON, one feature per line, kinds in
// drawing order. Coordinates have eight decimals, 0.3 mm on the Moon.
//
// The crs member names the body as the 2008 form of GeoJSON does; a reader
// that follows RFC 7946 ignores it, and would take the Moon for the Earth, so
// the foreign member reference_body says the same in plain words.
// [Options].RFC7946 leaves the crs member out.
func WriteOverlay(w io.Writer, s *Survey, opt Options) error {
	head, err := overlayHead(s, opt)
	if err != nil {
		return err
	}
	if _, err := w.Write(head); err != nil {
		return err
	}
	sep := "\n"
	var buf bytes.Buffer
	for _, layer := range Layers(s, opt) {
		for f := range layer.Features {
			buf.Reset()
			buf.WriteString(sep)
			if err := appendFeature(&buf, f); err != nil {
				return fmt.Errorf("crater %q, kind %s: %w", f.CraterID, f.Kind, err)
			}
			if _, err := w.Write(buf.Bytes()); err != nil {
				return err
			}
			sep = ",\n"
		}
	}
	_, err = io.WriteString(w, "\n]}\n")
	return err
}

type (
	referenceBody struct {
		Name      string  `json:"name"`
		SemiMajor float64 `json:"semi_major_m"`
		InverseF  float64 `json:"inverse_flattening"`
		Latitude  string  `json:"latitude_type"`
		Longitude string  `json:"longitude_direction"`
		Code      string  `json:"code"`
	}
	crsMember struct {
		Type       string            `json:"type"`
		Properties map[string]string `json:"properties"`
	}
)

// overlayHead is the collection up to the opening bracket of its features.
func overlayHead(s *Survey, opt Options) ([]byte, error) {
	code := s.CRSCode()
	if code != "" {
		code = "IAU:2015:" + code
	}
	body, err := json.Marshal(referenceBody{s.Body.Name, s.Body.SemiMajor, s.Body.InverseFlattening, "planetocentric", "east", code})
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	b.WriteString("{\"type\":\"FeatureCollection\",\n")
	if !opt.RFC7946 {
		crs, err := json.Marshal(crsMember{"name", map[string]string{"name": s.CRSName()}})
		if err != nil {
			return nil, err
		}
		fmt.Fprintf(&b, "\"crs\":%s,\n", crs)
	}
	fmt.Fprintf(&b, "\"reference_body\":%s,\n\"features\":[", body)
	return b.Bytes(), nil
}

func appendFeature(b *bytes.Buffer, f Feature) error {
	b.WriteString(`{"type":"Feature","properties":{`)
	props := append([]Prop{{"kind", f.Kind}, {"crater_id", f.CraterID}}, f.Props...)
	for i, p := range append(props, simpleStyle(f)...) {
		if i > 0 {
			b.WriteByte(',')
		}
		value, err := json.Marshal(jsonValue(p.Value))
		if err != nil {
			return err
		}
		b.WriteString(strconv.Quote(p.Name)) // names are ours, plain ASCII
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteString(`},"geometry":`)
	appendGeometry(b, f.Geometry)
	b.WriteByte('}')
	return nil
}

// jsonValue makes missing numbers null and rounds the others as tables do.
func jsonValue(v any) any {
	x, ok := v.(float64)
	switch {
	case !ok:
		return v
	case math.IsNaN(x) || math.IsInf(x, 0):
		return nil
	}
	return json.Number(shortest(x))
}

// shortest rounds to nine significant digits, enough for coordinates.
func shortest(v float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 9, 64), 64)
	if rounded == 0 {
		return "0"
	}
	return strconv.FormatFloat(rounded, 'g', -1, 64)
}

func appendGeometry(b *bytes.Buffer, g orb.Geometry) {
	switch g := g.(type) {
	case orb.MultiPolygon:
		b.WriteString(`{"type":"MultiPolygon","coordinates":`)
		list(b, g, func(p orb.Polygon) { list(b, p, func(r orb.Ring) { list(b, r, func(q orb.Point) { point(b, q) }) }) })
	case orb.MultiLineString:
		b.WriteString(`{"type":"MultiLineString","coordinates":`)
		list(b, g, func(l orb.LineString) { list(b, l, func(q orb.Point) { point(b, q) }) })
	default:
		panic("reports: overlay geometry of another type")
	}
	b.WriteByte('}')
}

func list[S ~[]T, T any](b *bytes.Buffer, items S, one func(T)) {
	b.WriteByte('[')
	for i, item := range items {
		if i > 0 {
			b.WriteByte(',')
		}
		one(item)
	}
	b.WriteByte(']')
}

func point(b *bytes.Buffer, p orb.Point) {
	b.WriteByte('[')
	b.WriteString(coordinate(p[0]))
	b.WriteByte(',')
	b.WriteString(coordinate(p[1]))
	b.WriteByte(']')
}

// coordinate writes eight decimals without trailing zeros.
func coordinate(v float64) string {
	rounded := math.Round(v*1e8) / 1e8
	if rounded == 0 {
		return "0"
	}
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
