package raster

import (
	"errors"
	"math"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/geom"

	"github.com/airbusgeo/godal"
)

// rawFile writes stored values as they are with the binding, so that reading
// is not tested with our own writer.
type rawFile struct {
	w, h     int
	bands    []string
	types    godal.DataType
	crs      string
	geo      *[6]float64
	nodata   *float64
	scale    [2]float64
	point    bool
	values   []float64 // of every band
	mask     []byte
	compress string
}

func (r rawFile) write(t testing.TB) string {
	t.Helper()
	setup()
	path := filepath.Join(t.TempDir(), "map.tif")
	check := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	if r.w == 0 {
		r.w, r.h = 8, 4
	}
	opts := []string{"TILED=YES", "BLOCKXSIZE=16", "BLOCKYSIZE=16"}
	if r.compress != "" {
		opts = append(opts, "COMPRESS="+r.compress)
	}
	ds, err := godal.Create(godal.GTiff, path, max(1, len(r.bands)), r.types, r.w, r.h, godal.CreationOption(opts...))
	check(err)
	if r.geo == nil {
		r.geo = &[6]float64{-180, 360 / float64(r.w), 0, 90, 0, -180 / float64(r.h)}
	}
	check(ds.SetGeoTransform(*r.geo))
	if r.crs != "none" {
		if r.crs == "" {
			r.crs = LonLatCRS(moon)
		}
		check(ds.SetProjection(r.crs))
	}
	if r.point {
		check(ds.SetMetadata("AREA_OR_POINT", "Point"))
	}
	for i, b := range ds.Bands() {
		if i < len(r.bands) {
			check(b.SetDescription(r.bands[i]))
		}
		if r.nodata != nil {
			check(b.SetNoData(*r.nodata))
		}
		if r.scale != [2]float64{} {
			check(b.SetScaleOffset(r.scale[0], r.scale[1]))
		}
		if r.values != nil {
			check(b.Write(0, 0, r.values, r.w, r.h))
		}
	}
	if r.mask != nil {
		m, err := ds.CreateMaskBand(0x02, godal.ConfigOption("GDAL_TIFF_INTERNAL_MASK=YES"))
		check(err)
		check(m.Write(0, 0, r.mask, r.w, r.h))
	}
	check(ds.Close())
	return path
}

func ptr[T any](v T) *T { return &v }

func mustOpen(t testing.TB, s Spec) *Layer {
	t.Helper()
	l, err := Open(s)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	return l
}

func readAll(t testing.TB, l *Layer) []float32 {
	t.Helper()
	dst := make([]float32, l.grid.Width*l.grid.Height)
	if err := l.Read(0, 0, l.grid.Width, l.grid.Height, dst); err != nil {
		t.Fatal(err)
	}
	return dst
}

// refusal checks the kind and the words of an error.
func refusal(t *testing.T, err error, kind Kind, words ...string) {
	t.Helper()
	var e *Error
	if !errors.As(err, &e) {
		t.Fatalf("error %v (%T) is not an *Error", err, err)
	}
	if e.Kind != kind || e.Remedy == "" && kind == Refused {
		t.Errorf("%v: kind %v, remedy %q", err, e.Kind, e.Remedy)
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("error %q does not say %q", err, w)
		}
	}
}

func TestMissingValues(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	one := func(v float64) []float64 {
		out := make([]float64, 32)
		for i := range out {
			out[i] = 5
		}
		out[3] = v
		return out
	}
	const isis = -3.4028226550889045e38 // null of an ISIS cube
	for _, c := range []struct {
		name    string
		types   godal.DataType
		tag     *float64
		list    []float64
		keep    []float64
		stored  float64
		missing bool
		note    string
	}{
		{name: "tag", types: godal.Float32, tag: ptr(-9999.0), stored: -9999, missing: true},
		{name: "other value", types: godal.Float32, tag: ptr(-9999.0), stored: -9998.999},
		{name: "no tag", types: godal.Float32, stored: -9999},
		{name: "NaN without tag", types: godal.Float32, stored: nan, missing: true},
		{name: "NaN tag", types: godal.Float32, tag: &nan, stored: nan, missing: true},
		{name: "NaN tag, other special", types: godal.Float32, tag: &nan, list: []float64{-9999}, stored: -9999, missing: true},
		{name: "infinity", types: godal.Float32, stored: inf, missing: true},
		{name: "tag and list: tag", types: godal.Float32, tag: ptr(-9999.0), list: []float64{-32768, 1e30}, stored: -9999, missing: true},
		{name: "tag and list: list", types: godal.Float32, tag: ptr(-9999.0), list: []float64{-32768, 1e30}, stored: 1e30, missing: true},
		{name: "near-equal tag", types: godal.Float32, tag: ptr(-3.4e38), stored: -math.MaxFloat32, missing: true},
		{name: "rounded tag", types: godal.Float32, tag: ptr(1.70141e38), stored: 1.7014118346046923e38, missing: true, note: "are taken as missing"},
		{name: "tag with few digits", types: godal.Float32, tag: ptr(-0.1), stored: float64(float32(-0.1)), missing: true},
		{name: "listed with few digits", types: godal.Float32, list: []float64{-0.1}, stored: float64(float32(-0.1)), missing: true, note: "is not a float32"},
		{name: "tag beyond float32", types: godal.Float32, tag: ptr(-1.797e308), stored: math.Inf(-1), missing: true, note: "cannot occur"},
		{name: "isis null", types: godal.Float32, stored: isis, missing: true},
		{name: "byte tag that cannot occur", types: godal.Byte, list: []float64{-9999}, stored: 0, note: "masks nothing"},
		{name: "byte tag", types: godal.Byte, tag: ptr(0.0), stored: 0, missing: true},
		{name: "int16", types: godal.Int16, tag: ptr(-32768.0), list: []float64{-32767}, stored: -32767, missing: true},
		{name: "int32 limit", types: godal.Int32, tag: ptr(-2147483648.0), stored: -2147483648, missing: true},
		{name: "keep: other", types: godal.Byte, keep: []float64{5}, stored: 1, missing: true},
		{name: "keep: kept", types: godal.Byte, keep: []float64{5, 1}, stored: 1},
	} {
		path := rawFile{types: c.types, nodata: c.tag, values: one(c.stored)}.write(t)
		l := mustOpen(t, Spec{Path: path, Body: moon, NoData: c.list, KeepValues: c.keep})
		got := readAll(t, l)
		if missing := got[3] != got[3]; missing != c.missing {
			t.Errorf("%s: read %g", c.name, got[3])
		}
		if got[4] != 5 {
			t.Errorf("%s: good value became %g", c.name, got[4])
		}
		if notes := strings.Join(l.Info().Notes, "; "); c.note != "" && !strings.Contains(notes, c.note) {
			t.Errorf("%s: notes %q do not say %q", c.name, notes, c.note)
		}
	}
}

func TestMaskWinsOverTag(t *testing.T) {
	values, mask := make([]float64, 32), make([]byte, 32)
	for i := range values {
		values[i], mask[i] = 5, 255
	}
	values[1] = -9999 // declared, but the mask says valid
	mask[2] = 0
	path := rawFile{types: godal.Float32, nodata: ptr(-9999.0), values: values, mask: mask}.write(t)
	l := mustOpen(t, Spec{Path: path, Body: moon})
	got := readAll(t, l)
	if got[1] != -9999 || got[2] == got[2] || got[3] != 5 {
		t.Errorf("read %v", got[:4])
	}
	if !l.Info().MaskBand || !strings.Contains(strings.Join(l.Info().Notes, " "), "mask band decides") {
		t.Errorf("info %+v", l.Info())
	}
	l = mustOpen(t, Spec{Path: path, Body: moon, NoData: []float64{-9999}})
	if got := readAll(t, l); got[1] == got[1] {
		t.Errorf("listed value read as %g", got[1])
	}
}

func TestScaleOnce(t *testing.T) {
	values := make([]float64, 32)
	for i := range values {
		values[i] = float64(i * 100)
	}
	values[7] = -32768
	path := rawFile{types: godal.Int16, nodata: ptr(-32768.0), scale: [2]float64{0.1, 5}, values: values}.write(t)
	l := mustOpen(t, Spec{Path: path, Body: moon})
	got := readAll(t, l)
	if got[3] != 35 || got[7] == got[7] || l.Info().Scale != 0.1 || l.Info().Offset != 5 {
		t.Errorf("read %v, info %+v", got[:8], l.Info())
	}
	l = mustOpen(t, Spec{Path: path, Body: moon, Scale: ptr(2.0), Offset: ptr(0.0)})
	if got := readAll(t, l); got[3] != 600 {
		t.Errorf("with given scale: %g", got[3])
	}
	_, err := Open(Spec{Path: path, Body: moon, Scale: ptr(0.0)})
	refusal(t, err, Refused, "scale 0")
}

func TestBandChoice(t *testing.T) {
	path := rawFile{types: godal.Float32, bands: []string{"Hydroxyl", "Water", "water "}}.write(t)
	for _, c := range []struct {
		band  int
		name  string
		want  int
		words string
	}{
		{words: `several bands: 1 "Hydroxyl", 2 "Water"`},
		{band: 2, want: 2},
		{name: "hydroxyl", want: 1},
		{name: "water", words: "both called"},
		{name: "albedo", words: `no band is called "albedo"`},
		{band: 4, words: "no band 4"},
		{band: -1, words: "no band -1"},
		{band: 1, name: "Water", words: `band 1 is called "Hydroxyl"`},
	} {
		l, err := Open(Spec{Path: path, Body: moon, Band: c.band, BandName: c.name})
		if c.want == 0 {
			refusal(t, err, Refused, c.words, path)
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		if l.Info().Band != c.want {
			t.Errorf("band %d, want %d", l.Info().Band, c.want)
		}
		l.Close()
	}
}

func TestBodies(t *testing.T) {
	m := math.Pi / 180 * 1737400
	eqc := &[6]float64{-180 * m, 45 * m, 0, 90 * m, 0, -45 * m}
	fine := &[6]float64{-180 * m, 180 * m / 4000, 0, 90 * m, 0, -45 * m}
	big := geom.Body{Name: "Other sphere", SemiMajor: 1738000}
	for _, c := range []struct {
		name  string
		file  rawFile
		spec  Spec
		words []string // empty: opens
		note  string
	}{
		{name: "no CRS", file: rawFile{crs: "none"}, spec: Spec{Body: moon}, words: []string{"has no CRS", "give the CRS"}},
		{name: "no CRS, given", file: rawFile{crs: "none"}, spec: Spec{Body: moon, CRS: "IAU_2015:30100"}},
		{name: "unknown CRS given", file: rawFile{crs: "none"}, spec: Spec{Body: moon, CRS: "IAU_2015:30101"}, words: []string{"IAU_2015:30101"}},
		{name: "Earth", file: rawFile{crs: "EPSG:4326"}, spec: Spec{Body: moon}, words: []string{"Earth", "Test sphere", "assume_body_crs"}},
		{name: "Earth, no body", file: rawFile{crs: "EPSG:4326"}, words: []string{"Earth", "give the body"}},
		{name: "Earth, only the label", file: rawFile{crs: "EPSG:4326"}, spec: Spec{Body: moon, AssumeBodyCRS: true}, note: "as they are"},
		{name: "Earth, other CRS given", file: rawFile{crs: "EPSG:4326"}, spec: Spec{Body: moon, CRS: "IAU_2015:30100"}},
		{name: "no body", file: rawFile{}, note: "body taken from the CRS"},
		{name: "radius in degrees", file: rawFile{}, spec: Spec{Body: big}, note: "radius_mismatch"},
		{name: "radius in metres, coarse", file: rawFile{crs: EquirectangularCRS(moon, 0, 0), geo: eqc}, spec: Spec{Body: big}, note: "radius_mismatch"},
		{name: "radius in metres, fine", file: rawFile{crs: EquirectangularCRS(moon, 0, 0), geo: fine, w: 8000, h: 4}, spec: Spec{Body: big}, words: []string{"1737400", "1738000", "pixels"}},
		{name: "other body", file: rawFile{}, spec: Spec{Body: geom.Body{Name: "Ceres", SemiMajor: 482000}}, words: []string{"1737400", "Ceres"}},
		{name: "metres under a degree CRS", file: rawFile{geo: eqc}, spec: Spec{Body: moon}, words: []string{"latitude"}},
		{name: "west-positive CRS", file: rawFile{crs: "none"}, spec: Spec{Body: geom.Body{SemiMajor: 3396190, InverseFlattening: 169.894447223612}, CRS: "IAU_2015:49901"}, words: []string{"positive west"}},
	} {
		c.file.types = godal.Byte
		c.spec.Path = c.file.write(t)
		l, err := Open(c.spec)
		if len(c.words) > 0 {
			if err == nil {
				t.Errorf("%s: opened", c.name)
				continue
			}
			refusal(t, err, Refused, append(c.words, c.spec.Path)...)
			continue
		}
		if err != nil {
			t.Errorf("%s: %v", c.name, err)
			continue
		}
		if notes := strings.Join(l.Info().Notes, "; "); !strings.Contains(notes, c.note) {
			t.Errorf("%s: notes %q", c.name, notes)
		}
		l.Close()
	}
}

// TestRadiusShift: 0.6 km in 1737.4 km moves a place 90 degrees away by 942 m.
func TestRadiusShift(t *testing.T) {
	m := math.Pi / 180 * 1737400
	path := rawFile{types: godal.Byte, crs: EquirectangularCRS(moon, 0, 0), w: 64, h: 2, geo: &[6]float64{0, 90 * m / 64, 0, 0.01 * m, 0, -0.01 * m}}.write(t)
	l := mustOpen(t, Spec{Path: path, Body: geom.Body{SemiMajor: 1738000}})
	if got := l.Info().RadiusShift * 90 * m / 64; math.Abs(got-942.5) > 1 {
		t.Errorf("shift of %.1f m, want 942.5", got)
	}
}

func TestPixelIsPoint(t *testing.T) {
	area := rawFile{types: godal.Byte}.write(t)
	point := rawFile{types: godal.Byte, point: true}.write(t)
	a, p := mustOpen(t, Spec{Path: area, Body: moon}), mustOpen(t, Spec{Path: point, Body: moon})
	if a.Info().PixelIsPoint || !p.Info().PixelIsPoint {
		t.Error("pixel is point not told apart")
	}
	if a.Info().Geo != p.Info().Geo {
		t.Errorf("transforms %v and %v", a.Info().Geo, p.Info().Geo)
	}
	if !strings.Contains(strings.Join(p.Info().Notes, " "), "half pixel") {
		t.Errorf("notes %v", p.Info().Notes)
	}
}

func TestLongitudeDomains(t *testing.T) {
	for _, c := range []struct {
		west float64
		want string
	}{{-180, "-180..180"}, {0, "0..360"}, {-90, "-90..270"}} {
		path := rawFile{types: godal.Byte, geo: &[6]float64{c.west, 45, 0, 90, 0, -45}}.write(t)
		l := mustOpen(t, Spec{Path: path, Body: moon})
		if l.Info().LonDomain != c.want || !l.Info().Global {
			t.Errorf("domain %q, want %q", l.Info().LonDomain, c.want)
		}
		x, _, _ := l.Grid().Pixel(geom.LonLat{Lon: -10, Lat: 1})
		if q, _ := l.Grid().LonLat(x, 1.9); math.Abs(q.Lon+10) > 1e-9 || x < 0 || x > 8 {
			t.Errorf("%s: longitude -10 at column %g, back at %g", c.want, x, q.Lon)
		}
	}
}
