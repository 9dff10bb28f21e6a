package geom

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/paulmach/orb"
)

// CatalogueOptions says how to read a catalogue. The zero value guesses what can
// be guessed safely, and notes each guess; what cannot stops the reading.
//
// Names of columns are the names of properties in GeoJSON. An empty name means
// that the synonyms of [CatalogueColumns] are tried.
type CatalogueOptions struct {
	Body   Body   // body of the survey; the zero Body takes the one that the file declares
	Format string // "geojson", "csv", or "" to tell by the first character

	ID, Name         string
	Lon, Lat         string // CSV only
	Radius, Diameter string // a diameter is halved
	RadiusUnit       string // "km" or "m"; "" takes it from the column's name

	LonDirection string // "east", "west", or ""
	Latitude     string // "planetocentric", "planetographic", or ""

	CRS           string // in place of what the file declares
	AssumeBodyCRS bool   // take coordinates labelled as Earth's to be on the body

	SigmaCentre, SigmaRadius                   string
	EllipseMajor, EllipseMinor, EllipseAzimuth string
	Age, Freshness, Class                      string

	Dedupe     string // equal ids: "" refuses the file, "first" and "last" keep that one
	FitEllipse bool   // give polygon rims the ellipse of their second moments

	// Transform, when not nil, returns a conversion from a projected or unknown
	// coordinate reference system to degrees, east positive, planetocentric.
	Transform func(crs string) (func(x, y float64) (LonLat, error), error)

	MaxBytes int64 // size limit of the text, 0 for 8 GiB
}

const (
	defaultMaxBytes = 8 << 30
	maxIDBytes      = 1024
	maxNameBytes    = 1024
)

// ReadCatalogue reads craters from GeoJSON (a feature collection, one feature,
// or a sequence of features: points with a radius or a diameter, or rims as
// polygons) or from CSV (comma, semicolon or tab). source is the name of the
// file, for messages.
//
// A feature that cannot be used is listed in Catalogue.Refused; a fault of the
// file as a whole is an [*InputError]. When features were read but none can be
// used, the catalogue is returned together with an error.
func ReadCatalogue(r io.Reader, source string, opt CatalogueOptions) (Catalogue, error) {
	b, err := newBuilder(source, opt)
	if err == nil {
		err = b.read(r)
	}
	if err == nil {
		err = b.settle()
	}
	if err != nil {
		var in *InputError
		if errors.As(err, &in) && in.File == "" {
			in.File = source
		}
		return b.cat, err
	}
	return b.cat, nil
}

// builder gathers a catalogue. While it reads, centres and radii are in the
// file's own terms; settle converts them in place.
type builder struct {
	opt        CatalogueOptions
	cat        Catalogue
	roles      roles
	rims       map[int]orb.MultiPolygon // by feature, in file coordinates
	names      names
	count      int  // features met
	inFeatures bool // of GeoJSON, while its list is read

	crs        string // declared by the file
	crsFault   string // a crs member that cannot be understood
	ref        *ReferenceBody
	skipped    int // outlines of an overlay that are no rims
	noID       int
	longNames  int
	badText    int
	rimVsField int // rims whose radius disagrees with the radius property
	twoToOne   int // features where radius and diameter disagree
}

func newBuilder(source string, opt CatalogueOptions) (*builder, error) {
	b := &builder{opt: opt, rims: map[int]orb.MultiPolygon{}, names: names{}}
	b.cat.Source = source
	for _, f := range []struct {
		ro   role
		name string
	}{
		{roleID, opt.ID}, {roleName, opt.Name}, {roleLon, opt.Lon}, {roleLat, opt.Lat},
		{roleRadius, opt.Radius}, {roleDiameter, opt.Diameter},
		{roleSigmaCentre, opt.SigmaCentre}, {roleSigmaRadius, opt.SigmaRadius},
		{roleMajor, opt.EllipseMajor}, {roleMinor, opt.EllipseMinor}, {roleRimAzimuth, opt.EllipseAzimuth},
		{roleAge, opt.Age}, {roleFreshness, opt.Freshness}, {roleClass, opt.Class},
	} {
		b.roles.force(f.ro, f.name)
	}
	return b, checkOptions(opt)
}

// checkOptions refuses words that mean nothing, before a file is opened.
func checkOptions(opt CatalogueOptions) error {
	for _, w := range []struct {
		field, value string
		allowed      []string
	}{
		{"format", opt.Format, []string{"", "geojson", "csv"}},
		{"longitude direction", opt.LonDirection, []string{"", EastPositive, WestPositive}},
		{"latitude", opt.Latitude, []string{"", PlanetocentricLatitude, PlanetographicLatitude}},
		{"dedupe", opt.Dedupe, []string{"", "first", "last"}},
	} {
		if !slices.Contains(w.allowed, w.value) {
			return refuse(w.field, "use "+strings.Join(w.allowed[1:], " or "), "%s means nothing here", Quote(w.value))
		}
	}
	if _, ok := unitFactor(opt.RadiusUnit); !ok && opt.RadiusUnit != "" {
		return refuse("radius unit", "use km or m", "%s is not a unit of length known here", Quote(opt.RadiusUnit))
	}
	if opt.Body != (Body{}) {
		if err := opt.Body.Valid(); err != nil {
			return refuse("body", "", "%v", err)
		}
	}
	return nil
}

func (b *builder) read(r io.Reader) error {
	limit := b.opt.MaxBytes
	if limit <= 0 {
		limit = defaultMaxBytes
	}
	br := bufio.NewReaderSize(&limitReader{r: r, left: limit, limit: limit}, 64<<10)
	format, err := b.sniff(br)
	if err != nil {
		return err
	}
	if format == "csv" {
		return b.readCSV(br)
	}
	return b.readGeoJSON(br)
}

// limitReader fails, rather than ends, at the limit: a cut file must not look
// like a whole one.
type limitReader struct {
	r           io.Reader
	left, limit int64
}

// Read reads up to the limit.
func (l *limitReader) Read(p []byte) (int, error) {
	if l.left <= 0 {
		return 0, fmt.Errorf("the text is larger than the limit of %d bytes", l.limit)
	}
	n, err := l.r.Read(p[:min(int64(len(p)), l.left)])
	l.left -= int64(n)
	return n, err
}

// foreign are beginnings of files that are neither GeoJSON nor CSV.
var foreign = []struct {
	magic, what, how string
}{
	{"\x1f\x8b", "gzip compressed", ""}, {"PK\x03\x04", "a zip archive", ""},
	{"SQLite format 3", "an SQLite database (GeoPackage)", byOGR}, {"\x00\x00\x27\x0a", "a shapefile", byOGR},
	{"fgb\x03", "a FlatGeobuf", byOGR}, {"PAR1", "a Parquet file", byOGR}, {"<", "XML or HTML", ""},
	{"\xff\xfe", "UTF-16 text", ""}, {"\xfe\xff", "UTF-16 text", ""}, {"II*\x00", "a TIFF image", ""}, {"MM\x00*", "a TIFF image", ""},
}

// byOGR is how GDAL's own tool converts the formats that it knows.
const byOGR = ", for example with: ogr2ogr craters.geojson FILE"

// sniff drops a byte order mark and tells the format.
func (b *builder) sniff(br *bufio.Reader) (string, error) {
	head, err := br.Peek(512)
	if len(head) == 0 {
		if err != nil && !errors.Is(err, io.EOF) {
			return "", corrupt(-1, "", "", "reading failed: %v", err)
		}
		return "", corrupt(-1, "", "", "the file is empty")
	}
	for _, f := range foreign {
		if bytes.HasPrefix(head, []byte(f.magic)) {
			return "", refuse("", "convert it to GeoJSON or CSV in UTF-8"+f.how, "this is %s, not GeoJSON or CSV", f.what)
		}
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		if _, err := br.Discard(3); err != nil {
			return "", corrupt(-1, "", "", "reading failed: %v", err)
		}
		head = head[3:]
	}
	if bytes.IndexByte(head, 0) >= 0 {
		return "", refuse("", "convert it to GeoJSON or CSV in UTF-8", "this is a binary file, not GeoJSON or CSV")
	}
	if b.opt.Format != "" {
		return b.opt.Format, nil
	}
	switch t := bytes.TrimLeft(head, " \t\r\n\x1e"); {
	case len(t) > 0 && (t[0] == '{' || t[0] == '['):
		return "geojson", nil
	case len(t) == 0:
		return "", corrupt(-1, "", "", "the file begins with %d blank characters and nothing else was found", len(head))
	}
	return "csv", nil
}

// feature is one entry as it was read.
type feature struct {
	index int
	id    string
	value func(ro role) (text string, present bool)
	x, y  float64
	rim   orb.MultiPolygon // nil for a point
}

func (b *builder) refused(index int, id, reason string, args ...any) {
	b.cat.Refused = append(b.cat.Refused, Refusal{Index: index, ID: clip(id, maxIDBytes), Reason: fmt.Sprintf(reason, args...)})
}

// clip cuts text of a stranger at a character boundary.
func clip(s string, n int) string {
	if len(s) <= n {
		return s
	}
	for n > 0 && !utf8.RuneStart(s[n]) {
		n--
	}
	return s[:n]
}

// add takes a feature into the catalogue, or refuses it.
func (b *builder) add(f feature) {
	if len(f.id) > maxIDBytes {
		b.refused(f.index, f.id, "id of %d bytes; the limit is %d", len(f.id), maxIDBytes)
		return
	}
	c := Crater{Index: f.index, ID: f.id, Centre: LonLat{f.x, f.y}, Age: math.NaN(), Freshness: math.NaN()}
	if name, ok := f.value(roleName); ok {
		if c.Name = clip(name, maxNameBytes); len(c.Name) < len(name) {
			b.longNames++
		}
	}
	if class, ok := f.value(roleClass); ok && !missing(strings.TrimSpace(class)) {
		c.Class = clip(strings.TrimSpace(class), maxNameBytes)
	}
	radius, reason := b.radius(f)
	if f.rim != nil {
		b.rims[f.index] = f.rim
	} else if reason != "" {
		b.refused(f.index, f.id, "%s", reason)
		return
	}
	c.Radius = radius
	if reason := b.extras(f, &c); reason != "" {
		b.refused(f.index, f.id, "%s", reason)
		return
	}
	b.cat.Craters = append(b.cat.Craters, c)
}

// radius returns the rim radius in the unit of its column, NaN when the file has
// shown no column for it yet.
func (b *builder) radius(f feature) (float64, string) {
	r, reason, okR := b.length(f, roleRadius)
	d, reasonD, okD := b.length(f, roleDiameter)
	switch {
	case okR && okD && reason == "" && reasonD == "":
		b.crossCheck(r, d)
		return r, ""
	case okR && (b.roles.forced[roleRadius] || reason == "" || !okD):
		return r, reason
	case okD:
		return d / 2 * b.unitRatio(), reasonD
	case b.roles.usable(roleRadius) || b.roles.usable(roleDiameter):
		return math.NaN(), "no " + label(b.sizeColumn().name)
	}
	return math.NaN(), ""
}

// unitRatio brings a halved diameter to the unit of the radius column, when a
// file has both and a feature lacks the radius.
func (b *builder) unitRatio() float64 {
	r, d := b.roles.cols[roleRadius].factor, b.roles.cols[roleDiameter].factor
	if b.roles.usable(roleRadius) && r > 0 && d > 0 {
		return d / r
	}
	return 1
}

// sizeColumn is the column that sizes are read from.
func (b *builder) sizeColumn() column {
	if b.roles.usable(roleRadius) {
		return b.roles.cols[roleRadius]
	}
	return b.roles.cols[roleDiameter]
}

// crossCheck counts features whose diameter is not twice the radius.
func (b *builder) crossCheck(r, d float64) {
	if math.Abs(d*b.unitRatio()-2*r) > 0.02*2*r {
		b.twoToOne++
	}
}

// length reads a positive number; ok is false when the feature lacks it.
func (b *builder) length(f feature, ro role) (v float64, reason string, ok bool) {
	name := label(b.roles.cols[ro].name)
	text, present := f.value(ro)
	if !present {
		return math.NaN(), "", false
	}
	text = strings.TrimSpace(text)
	v, isNumber := parseNumber(text)
	switch {
	case missing(text):
		return v, name + " is blank", true
	case !isNumber:
		return v, fmt.Sprintf("%s %s is not a number", name, Quote(text)), true
	case v <= 0:
		return v, fmt.Sprintf("%s is %s", name, clip(text, 40)), true
	}
	return v, "", true
}

// extras reads the optional numbers. A blank is no value; anything else that is
// not a number refuses the feature, for it may be a shifted column.
func (b *builder) extras(f feature, c *Crater) string {
	for _, e := range []struct {
		ro   role
		dst  *float64
		free bool // any text is allowed: words stand for no value
	}{
		{roleSigmaCentre, &c.SigmaCentre, false}, {roleSigmaRadius, &c.SigmaRadius, false},
		{roleMajor, &c.SemiMajor, false}, {roleMinor, &c.SemiMinor, false}, {roleRimAzimuth, &c.RimAzimuth, false},
		{roleAge, &c.Age, true}, {roleFreshness, &c.Freshness, true},
	} {
		text, present := f.value(e.ro)
		if text = strings.TrimSpace(text); !present || missing(text) {
			continue
		}
		v, ok := parseNumber(text)
		switch {
		case ok:
			*e.dst = v
		case !e.free:
			return fmt.Sprintf("%s %s is not a number", label(b.roles.cols[e.ro].name), Quote(text))
		}
	}
	if c.SigmaCentre < 0 || c.SigmaRadius < 0 {
		return "a negative 1-sigma"
	}
	return ""
}

// checkEllipse takes semi-axes in one unit.
func checkEllipse(c *Crater) string {
	switch {
	case c.SemiMajor == 0 && c.SemiMinor == 0:
		c.RimAzimuth = 0
	case !(c.SemiMajor >= c.SemiMinor && c.SemiMinor > 0):
		return fmt.Sprintf("rim with semi-axes %g and %g: the long one must be the larger, both positive", c.SemiMajor, c.SemiMinor)
	}
	c.RimAzimuth = math.Mod(math.Mod(c.RimAzimuth, 180)+180, 180)
	return ""
}
