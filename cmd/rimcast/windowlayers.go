package main

import (
	"math"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// The windows of the noise know the covariates, strips and masks of the survey
// wherever they lie: a crater is measured beside them.

// windowLayer is a covariate or mask on a grid of its own.
type windowLayer struct {
	layer   *raster.Layer
	section *layerSection
	mask    bool
}

// windowLayers are the layers of other grids that the windows of a group need,
// opened once more.
func windowLayers(g *group) (out []windowLayer, err error) {
	for _, b := range g.beside {
		if b.epoch > 0 {
			continue
		}
		l, err := b.layer.Clone()
		if err != nil {
			closeWindowLayers(out)
			return nil, err
		}
		out = append(out, windowLayer{layer: l, section: b.section, mask: b.mask})
	}
	return out, nil
}

func closeWindowLayers(list []windowLayer) {
	for _, l := range list {
		l.layer.Close()
	}
}

// columns drops the pixels of a window that masks on other grids mark, and returns
// the columns that its craters would have; false when a layer cannot be read.
func (r *noiseRun) columns(j noiseJob, values [][]float32) (columns [][]float64, ok bool) {
	g := j.g
	for _, l := range r.beside {
		v, err := l.nearest(g.set.Layers[0].Grid(), j)
		switch {
		case err != nil:
			return nil, false
		case l.mask:
			l.drop(v, values[:len(g.species)])
		default:
			columns = append(columns, layerColumns(l.section, v, j.level)...)
		}
	}
	for k, v := range values[len(g.species)+len(g.masks):] {
		columns = append(columns, layerColumns(g.covSections[k], widened(v), j.level)...)
	}
	return columns, true
}

// drop takes the pixels that a mask marks out of all values.
func (l *windowLayer) drop(mask []float64, values [][]float32) {
	for i, x := range mask {
		if l.section.badPixel(float32(x)) {
			dropPixel(values, i)
		}
	}
}

// layerColumns turns a layer into columns, as [siteBuilder.covariateFields] does
// at a crater.
func layerColumns(section *layerSection, v []float64, level int) [][]float64 {
	switch section.Kind {
	case "sun_azimuth", "track_azimuth":
		return nil
	case "strip":
		return stripColumns(v)
	case "local_time":
		return hourColumns(v, level)
	}
	return [][]float64{v}
}

// hourColumns are times of day as they go round the clock; block means of them
// are none.
func hourColumns(v []float64, level int) [][]float64 {
	if level > 0 {
		return nil
	}
	cos, sin := make([]float64, len(v)), make([]float64, len(v))
	for i, hour := range v {
		sin[i], cos[i] = math.Sincos(hour * math.Pi / 12)
	}
	return [][]float64{cos, sin}
}

// stripColumns are the levels of the widest strips of a window.
func stripColumns(number []float64) (out [][]float64) {
	s := ejecta.Samples{Rho: make([]float64, len(number)), Area: make([]float64, len(number))}
	for i, v := range number {
		s.Area[i] = 1
		if math.Abs(v-math.Round(v)) > 1e-3 {
			number[i] = math.NaN()
		}
	}
	for _, f := range ejecta.StripFields(&s, number) {
		out = append(out, f.Values)
	}
	return out
}

// nearest are the values of a layer of another grid at the pixels of a window:
// those of the pixels, or blocks of about the same size, that hold them.
func (l *windowLayer) nearest(g *raster.Grid, j noiseJob) ([]float64, error) {
	cols, rows, level := l.pixels(g, j)
	out := make([]float64, len(cols))
	for i := range out {
		out[i] = math.NaN()
	}
	x0, w := reachOf(cols)
	y0, h := reachOf(rows)
	if w <= 0 || h <= 0 || w*h<<(2*level) > widestBox {
		return out, nil
	}
	box, err := readRect(l.layer, x0, y0, w, h, level)
	if err != nil {
		return nil, err
	}
	for i := range out {
		if cols[i] != nowhere {
			out[i] = box[(rows[i]-y0)*w+cols[i]-x0]
		}
	}
	return out, nil
}

// widestBox is the largest number of pixels of another grid that one window
// reads; nowhere is no column and no row.
const (
	widestBox = 1 << 24
	nowhere   = math.MinInt
)

// pixels are column and row, in blocks of the level, of the pixel of a layer at
// each pixel of a window.
func (l *windowLayer) pixels(g *raster.Grid, j noiseJob) (cols, rows []int, level int) {
	og, b := l.layer.Grid(), float64(int(1)<<j.level)
	half := float64(j.side) / 2
	if mid, ok := g.LonLat((float64(j.x)+half)*b, (float64(j.y)+half)*b); ok {
		level = levelLike(og, mid, g.PixelSize(mid)*b)
	}
	for i := range j.side * j.side {
		x, y := nowhere, nowhere
		if at, ok := g.LonLat((float64(j.x+i%j.side)+0.5)*b, (float64(j.y+i/j.side)+0.5)*b); ok {
			x, y = blockAt(og, at, level)
		}
		cols, rows = append(cols, x), append(rows, y)
	}
	if og.Global {
		unwrap(cols, og.Width>>level)
	}
	return cols, rows, level
}

// levelLike is the level of a grid whose blocks are nearest below a size in metres.
func levelLike(g *raster.Grid, at geom.LonLat, size float64) (level int) {
	for g.PixelSize(at)*float64(int(2)<<level) <= size && level < raster.MaxLevel {
		level++
	}
	return level
}

// blockAt is the block of a grid that holds a place.
func blockAt(g *raster.Grid, at geom.LonLat, level int) (col, row int) {
	x, y, ok := g.Pixel(at)
	if !ok || !g.Inside(x, y) {
		return nowhere, nowhere
	}
	return int(math.Floor(x)) >> level, int(math.Floor(y)) >> level
}

// unwrap moves columns by turns until they are nearest to the first.
func unwrap(cols []int, turn int) {
	first := nowhere
	for i, c := range cols {
		if c == nowhere {
			continue
		}
		if first == nowhere {
			first = c
		}
		cols[i] = c + turn*int(math.Round(float64(first-c)/float64(turn)))
	}
}

// reachOf is the least of some numbers and how many they span; none for nowhere.
func reachOf(v []int) (least, n int) {
	least, most := math.MaxInt, nowhere
	for _, x := range v {
		if x != nowhere {
			least, most = min(least, x), max(most, x)
		}
	}
	if most == nowhere {
		return 0, 0
	}
	return least, most - least + 1
}

// readRect reads w x h blocks of a level from a column and row on.
func readRect(l *raster.Layer, col, row, w, h, level int) ([]float64, error) {
	b := 1 << level
	out, buf := make([]float64, w*h), make([]float32, w*b*b)
	for y := range h {
		if err := l.Read(col*b, (row+y)*b, w*b, b, buf); err != nil {
			return nil, err
		}
		blockMeans(out[y*w:(y+1)*w], buf, b)
	}
	return out, nil
}

// blockMeans are the means of b x b pixels of a row of blocks, NaN where under
// half of them are valid.
func blockMeans(out []float64, buf []float32, b int) {
	for x := range out {
		sum, n := 0.0, 0
		for r := range b {
			at := (r*len(out) + x) * b
			for _, v := range buf[at : at+b] {
				if v == v {
					sum, n = sum+float64(v), n+1
				}
			}
		}
		out[x] = math.NaN()
		if n > 0 && 2*n >= b*b {
			out[x] = sum / float64(n)
		}
	}
}
