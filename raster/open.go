package raster

import (
	"fmt"
	"math"
	"os"
	"strings"

	"github.com/airbusgeo/godal"
)

// maxSide and maxPixels limit the size that a header may claim.
const (
	maxSide   = 1 << 24
	maxPixels = 1 << 42
)

// Open opens one band of a raster and settles everything needed to use it:
// band, missing values, scale, unit, CRS, body and longitudes. What was taken
// from the file, from the spec or guessed is in Info. Errors are of type *Error:
// Refused when the file cannot be used safely as it is, Corrupt when it cannot
// be read.
func Open(spec Spec) (*Layer, error) {
	spec.Path = cleanPath(spec.Path)
	if !spec.AllowVSI {
		if err := checkName(spec.Path); err != nil {
			return nil, err
		}
	}
	if spec.AllowVSI {
		allowRemote()
	}
	if err := checkBeside(spec); err != nil {
		return nil, err
	}
	j := &journal{}
	ds, err := openDataset(spec.Path, j)
	if err != nil {
		return nil, unreadable(spec.Path, err)
	}
	l := &Layer{spec: spec, j: j, scale: 1}
	if err := l.settle(ds); err != nil {
		ds.Close()
		return nil, j.orDamage(spec.Path, err)
	}
	j.strict = true
	return l, nil
}

func (l *Layer) settle(ds *godal.Dataset) error {
	for _, step := range []func(*godal.Dataset) error{
		l.settleSize, l.settleBand, l.settleValues, l.settleUnit, l.settleGrid, l.attach,
	} {
		if err := step(ds); err != nil {
			return err
		}
	}
	return nil
}

func (l *Layer) refuse(remedy, format string, args ...any) *Error {
	e := refused(l.spec.Path, remedy, format, args...)
	e.Band = l.info.Band
	return e
}

func (l *Layer) settleSize(ds *godal.Dataset) error {
	st := ds.Structure()
	if isWeb(l.spec.Path) {
		l.note("files beside a map on a server, such as .aux.xml and .msk, are not looked for")
	}
	l.info.Path, l.info.Driver = redact(l.spec.Path), ds.Driver().ShortName()
	l.info.Width, l.info.Height = st.SizeX, st.SizeY
	if st.SizeX <= 0 || st.SizeY <= 0 || st.SizeX > maxSide || st.SizeY > maxSide || int64(st.SizeX)*int64(st.SizeY) > maxPixels {
		return &Error{File: l.spec.Path, Kind: Corrupt, Problem: fmt.Sprintf("the header claims %d x %d pixels", st.SizeX, st.SizeY),
			Remedy: "check the copy of the file"}
	}
	if st.NBands == 0 {
		return l.refuse("name a subdataset", "the file has no raster band of its own")
	}
	return nil
}

// settleBand chooses the band by number or name, and refuses to guess.
func (l *Layer) settleBand(ds *godal.Dataset) error {
	bands := ds.Bands()
	for _, b := range bands {
		l.info.BandNames = append(l.info.BandNames, strings.TrimSpace(b.Description()))
	}
	n, err := l.chooseBand(l.info.BandNames)
	if err != nil {
		return err
	}
	l.info.Band, l.info.BandName = n, l.info.BandNames[n-1]
	st := bands[n-1].Structure()
	l.info.BlockWidth, l.info.BlockHeight = st.BlockSizeX, st.BlockSizeY
	l.info.DataType = st.DataType.String()
	l.info.Overviews = len(bands[n-1].Overviews())
	if int64(st.BlockSizeX)*int64(st.BlockSizeY) > 1<<28 {
		return l.refuse("rewrite it in tiles, for example as a cloud-optimised GeoTIFF",
			"its blocks of %d x %d pixels are too large to read piece by piece", st.BlockSizeX, st.BlockSizeY)
	}
	l.info.Lossy = lossyCompression(ds)
	if l.info.Palette = bands[n-1].ColorInterp() == godal.CIPalette; l.info.Palette {
		l.note("its pixels are numbers of a colour table")
	}
	switch st.DataType {
	case godal.CInt16, godal.CInt32, godal.CFloat32, godal.CFloat64:
		return l.refuse("give a band of real numbers", "its pixels are complex numbers")
	case godal.Float64, godal.Int32, godal.UInt32:
		l.note("%v values are read as float32, with about 7 digits", st.DataType)
	}
	return nil
}

func (l *Layer) chooseBand(names []string) (int, error) {
	s := l.spec
	list := bandList(names)
	if s.Band != 0 {
		if s.Band < 0 || s.Band > len(names) {
			return 0, l.refuse("give a band that exists", "there is no band %d among %s", s.Band, list)
		}
		if s.BandName != "" && !strings.EqualFold(s.BandName, names[s.Band-1]) {
			return 0, l.refuse("give the band by name or by number", "band %d is called %q, not %q", s.Band, names[s.Band-1], s.BandName)
		}
		return s.Band, nil
	}
	if s.BandName == "" {
		if len(names) == 1 {
			return 1, nil
		}
		return 0, l.refuse("choose one by name or number", "it has several bands: %s", list)
	}
	found := 0
	for i, n := range names {
		if strings.EqualFold(n, strings.TrimSpace(s.BandName)) {
			if found > 0 {
				return 0, l.refuse("choose it by number", "bands %d and %d are both called %q", found, i+1, s.BandName)
			}
			found = i + 1
		}
	}
	if found == 0 {
		return 0, l.refuse("give a name from this list, or a number", "no band is called %q among %s", s.BandName, list)
	}
	return found, nil
}

func bandList(names []string) string {
	var b strings.Builder
	for i, n := range names {
		if i == 20 {
			fmt.Fprintf(&b, ", and %d more", len(names)-i)
			break
		}
		if i > 0 {
			b.WriteString(", ")
		}
		fmt.Fprintf(&b, "%d", i+1)
		if n != "" {
			fmt.Fprintf(&b, " %q", n)
		}
	}
	return b.String()
}

// settleValues finds missing values, mask, scale and offset.
func (l *Layer) settleValues(ds *godal.Dataset) error {
	band := ds.Bands()[l.info.Band-1]
	st := band.Structure()
	flags := band.MaskFlags()
	l.info.MaskBand = flags&0x01 == 0 && flags&0x08 == 0
	var values []float64
	if tag, ok := band.NoData(); ok {
		l.info.NoDataTag = &tag
		if l.info.MaskBand {
			l.note("a mask band decides which pixels are missing; the declared value %v is ignored", tag)
		} else {
			values = append(values, tag)
		}
	}
	if l.info.Driver == "PDS4" {
		values = append(values, pds4Constants(xmlText(l.spec.Path))...)
	}
	l.info.NoData = distinct(append(values, l.spec.NoData...))
	var notes []string
	l.rule, notes = newMissing(l.info.NoData, l.spec.KeepValues, st.DataType)
	l.info.Notes = append(l.info.Notes, notes...)
	l.scale, l.off = st.Scale, st.Offset
	if l.spec.Scale != nil {
		l.scale = *l.spec.Scale
	}
	if l.spec.Offset != nil {
		l.off = *l.spec.Offset
	}
	l.info.Scale, l.info.Offset = l.scale, l.off
	if size := math.Abs(l.scale); !(size > 1/farValue && size < farValue && math.Abs(l.off) < farValue) {
		return l.refuse("give scale and offset", "scale %g and offset %g make no values", l.scale, l.off)
	}
	return nil
}

// farValue bounds scale and offset: values are kept with single precision.
const farValue = 1e30

func distinct(values []float64) (out []float64) {
	for _, v := range values {
		seen := false
		for _, o := range out {
			seen = seen || o == v || math.IsNaN(o) && math.IsNaN(v)
		}
		if !seen {
			out = append(out, v)
		}
	}
	return out
}

func (l *Layer) settleUnit(ds *godal.Dataset) error {
	l.info.FileUnit = bandUnit(ds, l.info.Band)
	switch {
	case l.spec.Unit != "":
		l.info.Unit, l.info.UnitSource = l.spec.Unit, "option"
	case l.info.FileUnit != "":
		l.info.Unit, l.info.UnitSource = l.info.FileUnit, "file"
	default:
		l.info.UnitSource = "none"
	}
	return nil
}

// settleGrid reads transform and CRS and compares the bodies.
func (l *Layer) settleGrid(ds *godal.Dataset) error {
	geo, err := ds.GeoTransform(godal.ErrLogger(l.j.handle))
	if err != nil {
		return l.refuse("write a geotransform into the file", "it does not say where its pixels lie (no geotransform)")
	}
	c, err := l.settleCRS(ds)
	if err != nil {
		return err
	}
	if c.west && c.method == "" && !l.spec.LonWest {
		return l.refuse("say that longitudes are positive west, or give the CRS of an east-positive map",
			"its CRS %q counts longitudes positive west", c.name)
	}
	body, err := l.settleBody(c, geo)
	if err != nil {
		return err
	}
	p, err := c.projection()
	if err != nil {
		return l.refuse("give another CRS", "its projection cannot be computed: %v", err)
	}
	if l.spec.LonWest {
		p = mirrored(p)
		l.info.LonWest = true
	}
	l.grid, err = NewGrid(l.info.Width, l.info.Height, geo, p, body)
	if err != nil {
		return l.refuse("correct the geotransform", "its %v", err)
	}
	l.describeGrid(ds, c)
	if err := l.checkRounding(); err != nil {
		return err
	}
	return l.checkExtent(c)
}

func (l *Layer) describeGrid(ds *godal.Dataset, c *crs) {
	g := &l.grid
	l.info.CRSName, l.info.CRS, l.info.Projection = c.name, c.wkt, g.Proj.Name()
	l.info.Body, l.info.Geo, l.info.Global, l.info.Rotated = g.Body, g.Geo, g.Global, g.rotated()
	if strings.EqualFold(ds.Metadata("AREA_OR_POINT"), "Point") {
		l.info.PixelIsPoint = true
		if v := strings.ToUpper(os.Getenv("GTIFF_POINT_GEO_IGNORE")); v == "YES" || v == "TRUE" || v == "ON" || v == "1" {
			l.note("coordinates were given for pixel centres, but GTIFF_POINT_GEO_IGNORE is set: the map may lie half a pixel off")
		} else {
			l.note("coordinates were given for pixel centres; the half pixel has been taken into account")
		}
	}
	if p, ok := g.LonLat(float64(g.Width)/2, float64(g.Height)/2); ok {
		l.info.PixelSize = g.PixelSize(p)
	}
	if g.rotated() {
		l.note("rows and columns are turned against the map axes; columns do not run on across the edge of the map")
	}
	l.info.LonDomain = g.lonDomain()
}

// lonDomain says how the map counts longitudes.
func (g *Grid) lonDomain() string {
	c := g.cylinder()
	if c == nil {
		return ""
	}
	if !g.Global {
		return "regional"
	}
	west := math.Min(g.Geo[0], g.Geo[0]+float64(g.Width)*g.Geo[1])
	lon := c.lon0 + (west-c.x0)/math.Abs(c.kx)
	switch {
	case math.Abs(lon+180) < 1:
		return "-180..180"
	case math.Abs(lon) < 1:
		return "0..360"
	}
	return fmt.Sprintf("%.6g..%.6g", lon, lon+360)
}

// checkRounding refuses coordinates so far out that double precision cannot
// tell a thousandth of a pixel.
func (l *Layer) checkRounding() error {
	g := &l.grid
	x, y := g.xy(float64(g.Width), float64(g.Height))
	farX, farY := math.Max(math.Abs(x), math.Abs(g.Geo[0])), math.Max(math.Abs(y), math.Abs(g.Geo[3]))
	stepX, stepY := math.Abs(g.Geo[1])+math.Abs(g.Geo[2]), math.Abs(g.Geo[4])+math.Abs(g.Geo[5])
	if farX*0x1p-52 < stepX/1000 && farY*0x1p-52 < stepY/1000 {
		return nil
	}
	return l.refuse("correct the geotransform", "its coordinates reach %.3g, where pixels of %.3g cannot be told apart", math.Max(farX, farY), math.Min(stepX, stepY))
}

// farLongitude is the longitude beyond which a map does not begin, degrees.
const farLongitude = 1080

// checkExtent refuses a transform that does not fit the CRS, such as degrees
// under a CRS in metres.
func (l *Layer) checkExtent(c *crs) error {
	g := &l.grid
	cy := g.cylinder()
	if cy == nil {
		return nil
	}
	limit := 90.0 + 1.01*math.Abs(g.Geo[5]/cy.ky)
	for _, row := range []float64{0, float64(g.Height)} {
		lat := cy.lat0 + (g.Geo[3]+row*g.Geo[5]-cy.y0)/cy.ky
		if math.Abs(lat) > limit {
			return l.refuse("give the CRS the map was made with", "it reaches latitude %.6g: its CRS %q does not fit its coordinates", lat, c.name)
		}
	}
	if west := cy.lon0 + (g.Geo[0]-cy.x0)/cy.kx; math.Abs(west) > farLongitude {
		return l.refuse("give the CRS the map was made with", "it begins at longitude %.6g: its CRS %q does not fit its coordinates", west, c.name)
	}
	span := math.Abs(float64(g.Width) * g.Geo[1] / cy.kx)
	if span > 800 {
		return l.refuse("give the CRS the map was made with", "it spans %.6g degrees of longitude: its CRS %q does not fit its coordinates", span, c.name)
	}
	if span > 361 {
		l.note("it spans %.6g degrees of longitude; from column %d on it shows the same ground again, which is not read", span, g.period())
	}
	if c.method != "" && span < 0.02 && math.Abs(float64(g.Height)*g.Geo[5]) <= 180 && float64(g.Width) > 64 {
		l.note("the whole map spans %.2g degrees of longitude; are its coordinates degrees, not metres?", span)
	}
	return nil
}
