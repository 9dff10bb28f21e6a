package main

import (
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"

	"github.com/airbusgeo/godal"

	"rimcast/geom"
	"rimcast/raster"
)

// makemapMain is a command of the scripts that writes a raster with a fault:
//
//	makemap FILE [key=value]...
//
// size=WxH type=Float32 crs=moon|earth|mars|none|TEXT geo=6 numbers
// value=200 sigma=20 seed=1 smooth=0 crater=lon,lat,radius_deg,excess[,azimuth,half_width]
// set=VALUE:SHARE (repeatable) clip=LOW nodata=N scale=N offset=N
// calm=FACTOR (scatter of the western half) hole=lon,lat,width,height
// formula=incidence|azimuth|azimuth-east|strip|step|disc (maps of a sun over 20 E, 0 N)
// tag=NUMBER:VALUE (a 16-bit TIFF tag to spoil) bands=a,b point=yes opt=KEY=VALUE (repeatable) copy=DRIVER
func makemapMain() {
	if len(os.Args) < 2 {
		fmt.Fprintln(os.Stderr, "usage: makemap FILE [key=value]...")
		os.Exit(2)
	}
	if err := makeMap(os.Args[1], os.Args[2:]); err != nil {
		fmt.Fprintln(os.Stderr, "makemap:", err)
		os.Exit(1)
	}
}

// mapRecipe is what makemap was asked for.
type mapRecipe struct {
	w, h         int
	one          map[string]string
	opts, sets   []string
	craters      []string
	numberFaults []error
}

func parseRecipe(args []string) (*mapRecipe, error) {
	r := &mapRecipe{w: 240, h: 120, one: map[string]string{}}
	for _, a := range args {
		key, value, ok := strings.Cut(a, "=")
		switch {
		case !ok:
			return nil, errors.New("no key in " + a)
		case key == "opt":
			r.opts = append(r.opts, value)
		case key == "set":
			r.sets = append(r.sets, value)
		case key == "crater":
			r.craters = append(r.craters, value)
		case key == "size":
			if _, err := fmt.Sscanf(value, "%dx%d", &r.w, &r.h); err != nil {
				return nil, err
			}
		default:
			r.one[key] = value
		}
	}
	return r, nil
}

func (r *mapRecipe) number(key string, otherwise float64) float64 {
	text, ok := r.one[key]
	if !ok {
		return otherwise
	}
	return r.parse(text)
}

func (r *mapRecipe) parse(text string) float64 {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		r.numberFaults = append(r.numberFaults, err)
	}
	return v
}

func (r *mapRecipe) list(text string) (out []float64) {
	for part := range strings.SplitSeq(text, ",") {
		out = append(out, r.parse(part))
	}
	return out
}

func (r *mapRecipe) geo() [6]float64 {
	if text, ok := r.one["geo"]; ok {
		return [6]float64(r.list(text))
	}
	return [6]float64{-180, 360 / float64(r.w), 0, 90, 0, -180 / float64(r.h)}
}

// projection is well-known text for the key crs.
func (r *mapRecipe) projection() (string, error) {
	switch text := r.one["crs"]; text {
	case "", "moon":
		return raster.LonLatCRS(geom.Sphere("Moon", 1737400)), nil
	case "mars":
		return raster.LonLatCRS(geom.Ellipsoid("Mars", 3396190, 169.894447223612)), nil
	case "none":
		return "", nil
	case "earth":
		return projectionOf("EPSG:4326")
	default:
		return projectionOf(text)
	}
}

func projectionOf(text string) (string, error) {
	sr, err := godal.NewSpatialRef(text)
	if err != nil {
		return "", err
	}
	defer sr.Close()
	return sr.WKT()
}

// values draws the pixels of one band.
func (r *mapRecipe) values(band int) []float64 {
	rng := rand.New(rand.NewPCG(uint64(r.number("seed", 1)), uint64(band)))
	level, sigma := r.number("value", 200), r.number("sigma", 20)
	v := make([]float64, r.w*r.h)
	for i := range v {
		v[i] = level + sigma*rng.NormFloat64()
	}
	r.smooth(v)
	r.calm(v, level)
	r.addCraters(v)
	r.sun(v)
	r.hole(v)
	for _, s := range r.sets {
		value, share, _ := strings.Cut(s, ":")
		x, p := r.parse(value), r.parse(share)
		for i := range v {
			if rng.Float64() < p {
				v[i] = x
			}
		}
	}
	if low, ok := r.one["clip"]; ok {
		for i := range v {
			v[i] = math.Max(v[i], r.parse(low))
		}
	}
	return v
}

// smooth takes running means along the rows, as an interpolation would.
func (r *mapRecipe) smooth(v []float64) {
	n := int(r.number("smooth", 0))
	for y := 0; y < 2*r.h && n > 1; y++ { // twice: a triangle, like linear interpolation
		row := v[y%r.h*r.w:][:r.w]
		in := append([]float64(nil), row...)
		for x := range row {
			sum := 0.0
			for k := range n {
				sum += in[(x+k)%r.w]
			}
			row[x] = sum / float64(n)
		}
	}
}

// calm quiets the western half, as a warp does that blurs one side of a cut.
func (r *mapRecipe) calm(v []float64, level float64) {
	f := r.number("calm", 1)
	for i := range v {
		if i%r.w < r.w/2 {
			v[i] = level + f*(v[i]-level)
		}
	}
}

// at is the place of a pixel of a map in degrees.
func (r *mapRecipe) at(i int) geom.LonLat {
	geo, x, y := r.geo(), float64(i%r.w)+0.5, float64(i/r.w)+0.5
	return geom.LonLat{Lon: geom.WrapLon(geo[0] + x*geo[1] + y*geo[2]), Lat: geo[3] + x*geo[4] + y*geo[5]}
}

func (r *mapRecipe) hole(v []float64) {
	text, ok := r.one["hole"]
	if !ok {
		return
	}
	h := r.list(text)
	for i := range v {
		if p := r.at(i); math.Abs(p.Lon-h[0]) < h[2]/2 && math.Abs(p.Lat-h[1]) < h[3]/2 {
			v[i] = math.NaN()
		}
	}
}

// sun replaces the values by those of a formula.
func (r *mapRecipe) sun(v []float64) {
	f := geom.Sphere("Unit", 180/math.Pi)
	if r.one["formula"] == "" {
		return
	}
	for i := range v {
		p := r.at(i)
		d, az := geom.NewFrame(f, p).Polar(geom.LonLat{Lon: 20})
		az *= 180 / math.Pi
		switch r.one["formula"] {
		case "incidence":
			v[i] = d
		case "azimuth":
			v[i] = az
		case "azimuth-east":
			v[i] = math.Mod(450-az, 360)
		case "disc": // of 4.7 crater radii of 1.5 degrees round 30 E, 10 N, and little beyond
			d, _ = geom.NewFrame(f, p).Polar(geom.LonLat{Lon: 30, Lat: 10})
			if v[i] = 0; d < 1.5*4.7 || d > 16 {
				v[i] = 1
			}
		case "strip":
			v[i] = math.Floor((p.Lon + 180) / 20)
		case "step":
			if p.Lon > 40 && p.Lon < 60 {
				v[i] += 60
			}
		}
	}
}

// spoil overwrites the value of a 16-bit tag in the first directory of a
// little-endian TIFF.
func (r *mapRecipe) spoil(path string) error {
	text, ok := r.one["tag"]
	if !ok {
		return nil
	}
	number, value, _ := strings.Cut(text, ":")
	b, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	at := binary.LittleEndian.Uint32(b[4:])
	for n := range uint32(binary.LittleEndian.Uint16(b[at:])) {
		entry := b[at+2+12*n:]
		if binary.LittleEndian.Uint16(entry) == uint16(r.parse(number)) {
			binary.LittleEndian.PutUint16(entry[8:], uint16(r.parse(value)))
		}
	}
	return os.WriteFile(path, b, 0o644)
}

// addCraters adds blankets that fall with the third power of the range; the
// map must be in degrees.
func (r *mapRecipe) addCraters(v []float64) {
	for _, text := range r.craters {
		c := r.list(text)
		f := geom.NewFrame(geom.Sphere("Unit", 180/math.Pi), geom.LonLat{Lon: c[0], Lat: c[1]})
		for i := range v {
			d, az := f.Polar(r.at(i))
			if len(c) > 4 && math.Abs(math.Remainder(az*180/math.Pi-c[4], 360)) > c[5] {
				continue
			}
			v[i] += c[3] * math.Pow(math.Max(d/c[2], 1), -3)
		}
	}
}

var mapTypes = map[string]godal.DataType{
	"": godal.Float32, "Float32": godal.Float32, "Float64": godal.Float64, "Byte": godal.Byte,
	"Int16": godal.Int16, "UInt16": godal.UInt16, "Int32": godal.Int32, "CFloat32": godal.CFloat32,
}

func makeMap(path string, args []string) error {
	r, err := parseRecipe(args)
	if err != nil {
		return err
	}
	godal.RegisterAll()
	bands := strings.Split(r.one["bands"], ",")
	ds, err := godal.Create(godal.GTiff, path, len(bands), mapTypes[r.one["type"]], r.w, r.h, godal.CreationOption(r.opts...))
	if err != nil {
		return err
	}
	err = errors.Join(r.describe(ds), r.fill(ds, bands))
	if _, copied := r.one["copy"]; copied {
		err = errors.Join(err, r.copy(ds, path))
	} else {
		err = errors.Join(err, ds.Close(), r.spoil(path))
	}
	return errors.Join(append(r.numberFaults, err)...)
}

func (r *mapRecipe) describe(ds *godal.Dataset) error {
	wkt, err := r.projection()
	if err != nil {
		return err
	}
	if wkt != "" {
		err = ds.SetProjection(wkt)
	}
	if r.one["point"] != "" {
		err = errors.Join(err, ds.SetMetadata("AREA_OR_POINT", "Point"))
	}
	if r.one["geo"] == "none" {
		return err
	}
	return errors.Join(err, ds.SetGeoTransform(r.geo()))
}

func (r *mapRecipe) fill(ds *godal.Dataset, names []string) error {
	var faults []error
	for i, b := range ds.Bands() {
		if names[i] != "" {
			faults = append(faults, b.SetDescription(names[i]))
		}
		if _, ok := r.one["nodata"]; ok {
			faults = append(faults, b.SetNoData(r.number("nodata", 0)))
		}
		if scale, offset := r.number("scale", 1), r.number("offset", 0); scale != 1 || offset != 0 {
			faults = append(faults, b.SetScaleOffset(scale, offset))
		}
		faults = append(faults, b.Write(0, 0, r.values(i), r.w, r.h))
	}
	return errors.Join(faults...)
}

// copiedPath is where a copy in another format goes.
func copiedPath(path, driver string) string {
	return strings.TrimSuffix(path, ".tif") + map[string]string{
		"PDS4": ".xml", "ISIS3": ".cub", "VICAR": ".vic", "ENVI": ".envi", "VRT": ".vrt", "COG": ".cog.tif", "AAIGrid": ".asc",
	}[driver]
}

// copy closes and rewrites the map in another format beside it, named copy.xml, copy.cub
// and the like.
func (r *mapRecipe) copy(ds *godal.Dataset, path string) error {
	driver := r.one["copy"]
	if err := ds.Close(); err != nil { // so that the pixels are there to copy
		return err
	}
	src, err := godal.Open(path)
	if err != nil {
		return err
	}
	defer src.Close()
	out, err := src.Translate(copiedPath(path, driver), []string{"-q", "-of", driver}, godal.ErrLogger(failuresOnly))
	if err != nil {
		return err
	}
	return out.Close(godal.ErrLogger(failuresOnly))
}

// failuresOnly lets the warnings of a driver pass.
func failuresOnly(ec godal.ErrorCategory, _ int, msg string) error {
	if ec >= godal.CE_Failure {
		return errors.New(msg)
	}
	return nil
}
