package raster

import (
	"fmt"
	"io"
	"maps"
	"math"
	"os"
	"slices"
	"strings"

	"github.com/airbusgeo/godal"
)

// Band is one band to write: values row by row, NaN where missing.
type Band struct {
	Name, Unit string
	Values     []float32
}

// WriteOptions say how a GeoTIFF is written. The zero value gives float32 with
// NaN for missing, in compressed tiles of 512 x 512 pixels.
type WriteOptions struct {
	Int16         bool     // store round((value-Offset)/Scale) in 16 bits
	Scale, Offset float64  // value = stored * Scale + Offset; Scale 0 = 1
	NoData        *float64 // stored value for missing; nil = NaN, or -32768 for Int16
	Compress      string   // "" = ZSTD if available, else DEFLATE; "NONE"
	BlockSize     int      // 0 = 512; a multiple of 16
	COG           bool     // cloud-optimised: tiles and overviews
	PixelIsPoint  bool     // say that coordinates belong to pixel centres (the pixels stay where they are)
	CRS           string   // replaces the CRS of the grid
	Metadata      map[string]string
}

// WriteGeoTIFF writes bands that share a grid to a new GeoTIFF. It panics when
// the values do not fit the grid and returns an *Error of kind Output when the
// file cannot be written, or when a value does not fit into 16 bits.
func WriteGeoTIFF(path string, g *Grid, bands []Band, opt WriteOptions) error {
	for _, b := range bands {
		if len(b.Values) != g.Width*g.Height {
			panic("raster: values do not fit the grid")
		}
	}
	if len(bands) == 0 {
		panic("raster: no bands to write")
	}
	setup()
	w := &writer{path: path, g: g, bands: bands, opt: opt}
	w.defaults()
	err := w.run()
	os.Remove(w.stage())
	if err != nil {
		return &Error{File: path, Kind: Output, Problem: err.Error(), Remedy: "check the directory and the free space"}
	}
	return nil
}

type writer struct {
	path   string
	g      *Grid
	bands  []Band
	opt    WriteOptions
	nodata float64
	j      journal
}

func (w *writer) stage() string { return w.path + ".stage" }

func (w *writer) defaults() {
	if w.opt.Scale == 0 {
		w.opt.Scale = 1
	}
	if w.opt.BlockSize == 0 {
		w.opt.BlockSize = 512
	}
	if w.opt.CRS == "" {
		w.opt.CRS = w.g.Proj.WKT()
	}
	w.nodata = math.NaN()
	if w.opt.Int16 {
		w.nodata = -32768
	}
	if w.opt.NoData != nil {
		w.nodata = *w.opt.NoData
	}
	if w.opt.Compress == "" {
		w.opt.Compress = "DEFLATE"
		if d, ok := godal.RasterDriver(godal.GTiff); ok && strings.Contains(d.Metadata("DMD_CREATIONOPTIONLIST"), "<Value>ZSTD</Value>") {
			w.opt.Compress = "ZSTD"
		}
	}
}

// run writes the pixels to a plain file first, and copies that through a
// virtual dataset which adds the units: the Go binding of GDAL cannot set them.
func (w *writer) run() error {
	if err := w.writeStage(); err != nil {
		return err
	}
	ds, err := godal.Open(w.stage(), godal.ErrLogger(w.j.handle))
	if err != nil {
		return err
	}
	defer ds.Close()
	text, err := w.describe(ds)
	if err != nil {
		return err
	}
	v, err := godal.Open(text, godal.RasterOnly(), godal.ErrLogger(w.j.handle))
	if err != nil {
		return err
	}
	defer v.Close()
	out, err := v.Translate(w.path, w.switches(), godal.ErrLogger(w.j.handle))
	if err != nil {
		return err
	}
	return out.Close(godal.ErrLogger(w.j.handle))
}

func (w *writer) switches() []string {
	co := func(kv string) []string { return []string{"-co", kv} }
	s := []string{"-q", "-of", "GTiff"}
	if w.opt.COG {
		s = append([]string{"-q", "-of", "COG"}, co(fmt.Sprintf("BLOCKSIZE=%d", w.opt.BlockSize))...)
		if w.opt.Compress != "NONE" {
			s = append(s, co("PREDICTOR=YES")...)
		}
	} else {
		s = append(s, co("TILED=YES")...)
		s = append(s, co(fmt.Sprintf("BLOCKXSIZE=%d", w.opt.BlockSize))...)
		s = append(s, co(fmt.Sprintf("BLOCKYSIZE=%d", w.opt.BlockSize))...)
		if w.opt.Compress != "NONE" {
			p := "PREDICTOR=3"
			if w.opt.Int16 {
				p = "PREDICTOR=2"
			}
			s = append(s, co(p)...)
		}
	}
	s = append(s, co("COMPRESS="+w.opt.Compress)...)
	return append(s, co("BIGTIFF=IF_SAFER")...)
}

// describe returns the text of a virtual copy of the plain file, with units.
func (w *writer) describe(ds *godal.Dataset) (string, error) {
	name := fmt.Sprintf("/vsimem/rimcast-write-%d.vrt", vrtSerial.Add(1))
	v, err := ds.Translate(name, []string{"-of", "VRT"}, godal.ErrLogger(w.j.handle))
	if err != nil {
		return "", err
	}
	if err := v.Close(); err != nil {
		return "", err
	}
	defer godal.VSIUnlink(name)
	f, err := godal.VSIOpen(name)
	if err != nil {
		return "", err
	}
	defer f.Close()
	text, err := io.ReadAll(f)
	if err != nil {
		return "", err
	}
	parts := strings.Split(string(text), "<VRTRasterBand ")
	for i := 1; i < len(parts); i++ {
		if unit := w.bands[i-1].Unit; unit != "" {
			head, tail, _ := strings.Cut(parts[i], ">")
			parts[i] = head + "><UnitType>" + xmlEscape(unit) + "</UnitType>" + tail
		}
	}
	return strings.Join(parts, "<VRTRasterBand "), nil
}

func xmlEscape(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;").Replace(s)
}

func (w *writer) writeStage() (err error) {
	dt := godal.Float32
	if w.opt.Int16 {
		dt = godal.Int16
	}
	log := godal.ErrLogger(w.j.handle)
	ds, err := godal.Create(godal.GTiff, w.stage(), len(w.bands), dt, w.g.Width, w.g.Height,
		godal.CreationOption("BIGTIFF=IF_SAFER", "INTERLEAVE=BAND"), log)
	if err != nil {
		return err
	}
	defer func() {
		if e := ds.Close(log); err == nil {
			err = e
		}
	}()
	if err := w.header(ds); err != nil {
		return err
	}
	for i, b := range ds.Bands() {
		if err := w.band(b, w.bands[i]); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) header(ds *godal.Dataset) error {
	log := godal.ErrLogger(w.j.handle)
	if err := ds.SetGeoTransform(w.g.Geo, log); err != nil {
		return err
	}
	if err := ds.SetProjection(w.opt.CRS, log); err != nil {
		return err
	}
	if err := ds.SetNoData(w.nodata, log); err != nil {
		return err
	}
	if w.opt.PixelIsPoint {
		if err := ds.SetMetadata("AREA_OR_POINT", "Point", log); err != nil {
			return err
		}
	}
	for _, k := range slices.Sorted(maps.Keys(w.opt.Metadata)) {
		if err := ds.SetMetadata(k, w.opt.Metadata[k], log); err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) band(b godal.Band, in Band) error {
	log := godal.ErrLogger(w.j.handle)
	if in.Name != "" {
		if err := b.SetDescription(in.Name, log); err != nil {
			return err
		}
	}
	if w.opt.Scale != 1 || w.opt.Offset != 0 {
		if err := b.SetScaleOffset(w.opt.Scale, w.opt.Offset, log); err != nil {
			return err
		}
	}
	rows := max(1, stripPixels/w.g.Width)
	for y := 0; y < w.g.Height; y += rows {
		h := min(rows, w.g.Height-y)
		part := in.Values[y*w.g.Width : (y+h)*w.g.Width]
		var err error
		if w.opt.Int16 {
			err = w.rows16(b, y, h, part)
		} else {
			err = b.Write(0, y, w.floats(part), w.g.Width, h, log)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

func (w *writer) stored(v float32) float64 {
	if v != v {
		return w.nodata
	}
	return (float64(v) - w.opt.Offset) / w.opt.Scale
}

func (w *writer) floats(part []float32) []float32 {
	out := make([]float32, len(part))
	for i, v := range part {
		out[i] = float32(w.stored(v))
	}
	return out
}

func (w *writer) rows16(b godal.Band, y, h int, part []float32) error {
	out := make([]int16, len(part))
	for i, v := range part {
		s := math.Round(w.stored(v))
		if !(s >= math.MinInt16 && s <= math.MaxInt16) || v == v && s == w.nodata {
			return fmt.Errorf("value %g of pixel %d, %d does not fit into 16 bits with scale %g and offset %g",
				v, i%w.g.Width, y+i/w.g.Width, w.opt.Scale, w.opt.Offset)
		}
		out[i] = int16(s)
	}
	return b.Write(0, y, out, w.g.Width, h, godal.ErrLogger(w.j.handle))
}
