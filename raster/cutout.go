package raster

import (
	"math"

	"rimcast/geom"
)

// Cutout fills dst, size x size values row by row, with a picture of the layer
// round the centre of a frame: azimuthal equidistant, north up, from
// -halfWidth to halfWidth metres, each value that of the nearest map pixel. It
// is for looking at, not for measuring. It panics when dst is too short.
func Cutout(l *Layer, f *geom.Frame, halfWidth float64, size int, dst []float32) error {
	if len(dst) < size*size {
		panic("raster: buffer too short")
	}
	if size <= 0 {
		return nil
	}
	col, row := make([]int, size*size), make([]int, size*size)
	var c cutoutWindow
	c.x0, c.y0, c.x1, c.y1 = math.MaxInt, math.MaxInt, math.MinInt, math.MinInt
	cx, _, _ := l.grid.Pixel(f.Centre())
	step := 2 * halfWidth / float64(size)
	for i := range col {
		e, n := -halfWidth+(float64(i%size)+0.5)*step, halfWidth-(float64(i/size)+0.5)*step
		q := f.LonLat(math.Hypot(e, n), positive(math.Atan2(e, n)))
		x, y, ok := l.grid.Pixel(q)
		col[i] = math.MinInt
		if !ok || math.Abs(x) > maxPeriod || math.Abs(y) > maxPeriod {
			continue
		}
		if t := l.grid.turn(); t > 0 && finite(cx) {
			x -= t * math.Round((x-cx)/t)
		}
		col[i], row[i] = int(math.Floor(x)), min(int(math.Floor(y)), l.grid.Height+1)
		c.add(col[i], row[i])
	}
	return c.read(l, col, row, dst)
}

// cutoutWindow is the part of the map that a picture needs.
type cutoutWindow struct {
	x0, y0, x1, y1 int
	strip          []float32
}

func (c *cutoutWindow) add(x, y int) {
	c.x0, c.y0, c.x1, c.y1 = min(c.x0, x), min(c.y0, y), max(c.x1, x+1), max(c.y1, y+1)
}

func (c *cutoutWindow) read(l *Layer, col, row []int, dst []float32) error {
	fillNaN(dst[:len(col)])
	if c.x1 <= c.x0 {
		return nil
	}
	w := c.x1 - c.x0
	rows := max(1, stripPixels/w)
	for y := c.y0; y < c.y1; y += rows {
		h := min(rows, c.y1-y)
		c.strip = sized(c.strip, w*h)
		if err := l.Read(c.x0, y, w, h, c.strip); err != nil {
			return err
		}
		for i := range col {
			if col[i] != math.MinInt && row[i] >= y && row[i] < y+h {
				dst[i] = c.strip[(row[i]-y)*w+col[i]-c.x0]
			}
		}
	}
	return nil
}
