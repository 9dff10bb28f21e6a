package raster

import (
	"fmt"
	"math"
	"sync"

	"github.com/airbusgeo/godal"
)

// Layer is one band of a raster, or of values in memory. A Layer holds one
// file handle; calls from several goroutines wait for each other, so each
// worker should have its own Clone.
type Layer struct {
	spec  Spec
	grid  Grid
	info  Info
	rule  missing
	scale float64
	off   float64

	mu   sync.Mutex
	ds   *godal.Dataset
	band godal.Band
	mask *godal.Band
	mbuf []byte
	j    *journal

	memory []float32
	shared *cellCache // of clones; may be nil
}

// Grid returns how the pixels lie on the body.
func (l *Layer) Grid() *Grid { return &l.grid }

// Info returns what was found and guessed.
func (l *Layer) Info() Info {
	info := l.info
	if l.j != nil {
		l.j.mu.Lock()
		defer l.j.mu.Unlock()
		info.Notes = append(append([]string(nil), info.Notes...), l.j.notes...)
	}
	return info
}

// Close releases the file. The layer must not be read afterwards.
func (l *Layer) Close() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ds == nil {
		return nil
	}
	err := l.ds.Close(godal.ErrLogger(l.j.handle))
	l.ds = nil
	if l.shared != nil {
		l.shared.leave()
	}
	return err
}

// Clone returns the same layer with its own file handle, for another worker.
func (l *Layer) Clone() (*Layer, error) {
	if l.memory != nil {
		return l, nil
	}
	c := &Layer{spec: l.spec, grid: l.grid, info: l.info, rule: l.rule, scale: l.scale, off: l.off, j: &journal{strict: true}}
	ds, err := openDataset(l.spec.Path, c.j)
	if err != nil {
		return nil, corrupt(l.spec.Path, because(err))
	}
	if err := c.attach(ds); err != nil {
		ds.Close()
		return nil, err
	}
	return c, nil
}

// attach takes the band and mask of an open dataset.
func (l *Layer) attach(ds *godal.Dataset) error {
	bands := ds.Bands()
	st := ds.Structure()
	if l.info.Band > len(bands) || st.SizeX != l.grid.Width || st.SizeY != l.grid.Height {
		return corrupt(l.spec.Path, fmt.Errorf("the file has changed while it was in use"))
	}
	l.ds, l.band = ds, bands[l.info.Band-1]
	if l.info.MaskBand {
		m := l.band.MaskBand()
		l.mask = &m
	}
	return nil
}

// Read fills dst, of w*h values row by row, with the pixels from column x0 and
// row y0: scaled once, missing values as NaN. Columns run on across the edge of
// a map that goes round the body; beyond the edge of any other map, and above
// and below every map, values are NaN.
//
// It panics when dst is shorter than w*h, and returns an *Error that names the
// damaged block when one cannot be read.
func (l *Layer) Read(x0, y0, w, h int, dst []float32) error {
	if w <= 0 || h <= 0 {
		return nil
	}
	if len(dst) < w*h {
		panic("raster: buffer too short")
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	ya, yb := max(y0, 0), min(y0+h, l.grid.Height)
	fillNaN(dst[:min(max(ya-y0, 0), h)*w])
	if yb <= ya {
		fillNaN(dst[:w*h])
		return nil
	}
	fillNaN(dst[(yb-y0)*w : w*h])
	period := l.grid.period()
	for x := x0; x < x0+w; {
		col := x
		if period > 0 {
			col = floorMod(x, period)
		}
		n, inside := l.segment(col, x0+w-x, period)
		at := dst[(ya-y0)*w+x-x0:]
		if !inside {
			for r := 0; r < yb-ya; r++ {
				fillNaN(at[r*w : r*w+n])
			}
		} else if err := l.readInside(col, ya, n, yb-ya, at, w); err != nil {
			return err
		}
		x += n
	}
	return nil
}

// segment returns how many columns from col, at most n, lie in one piece on
// the map or off it.
func (l *Layer) segment(col, n, period int) (count int, inside bool) {
	width := l.grid.Width
	if period > 0 {
		width = min(width, period)
		if col >= width {
			return min(n, period-col), false
		}
		return min(n, width-col), true
	}
	switch {
	case col < 0:
		return min(n, -col), false
	case col >= width:
		return n, false
	}
	return min(n, width-col), true
}

func fillNaN(s []float32) {
	nan := float32(math.NaN())
	for i := range s {
		s[i] = nan
	}
}

// readInside reads a window that lies on the map; rows of dst are stride apart.
func (l *Layer) readInside(x, y, w, h int, dst []float32, stride int) error {
	if l.memory != nil {
		for r := 0; r < h; r++ {
			copy(dst[r*stride:r*stride+w], l.memory[(y+r)*l.grid.Width+x:])
		}
		return nil
	}
	if l.ds == nil {
		panic("raster: layer is closed")
	}
	if l.shared != nil && l.readShared(Window{x, y, w, h}, dst, stride) {
		return nil
	}
	return l.readFile(x, y, w, h, dst, stride)
}

// readFile is readInside for a layer in a file, past the cells that are shared.
func (l *Layer) readFile(x, y, w, h int, dst []float32, stride int) error {
	if err := l.band.Read(x, y, dst, w, h, godal.LineStride(stride), godal.ErrLogger(l.j.handle)); err != nil {
		return l.damaged(x, y, w, h, err)
	}
	if l.mask != nil {
		return l.readMasked(x, y, w, h, dst, stride)
	}
	for r := 0; r < h; r++ {
		l.decode(dst[r*stride : r*stride+w])
	}
	return nil
}

func (l *Layer) readMasked(x, y, w, h int, dst []float32, stride int) error {
	l.mbuf = sized(l.mbuf, w*h)
	if err := l.mask.Read(x, y, l.mbuf, w, h, godal.ErrLogger(l.j.handle)); err != nil {
		return l.damaged(x, y, w, h, fmt.Errorf("mask: %s", reason(err)))
	}
	nan := float32(math.NaN())
	for r := 0; r < h; r++ {
		row := dst[r*stride : r*stride+w]
		l.decode(row)
		for i := range row {
			if l.mbuf[r*w+i] == 0 {
				row[i] = nan
			}
		}
	}
	return nil
}

// checkTheCopy is the remedy for a damaged file.
const checkTheCopy = "check the copy of the file against its checksum"

// damaged looks for the block that cannot be read.
func (l *Layer) damaged(x, y, w, h int, cause error) error {
	e := &Error{File: l.spec.Path, Band: l.info.Band, Window: Window{x, y, w, h}, Problem: reason(cause), Kind: Corrupt,
		Remedy: checkTheCopy + "; craters away from this place are not affected"}
	bw, bh := l.info.BlockWidth, l.info.BlockHeight
	if isWeb(l.spec.Path) || bw <= 0 || bh <= 0 || int64(bw)*int64(bh) > MaxPatch {
		return e
	}
	buf := make([]float32, bw*bh)
	for by := y / bh; by <= (y+h-1)/bh; by++ {
		for bx := x / bw; bx <= (x+w-1)/bw; bx++ {
			n, m := min(bw, l.grid.Width-bx*bw), min(bh, l.grid.Height-by*bh)
			if err := l.band.Read(bx*bw, by*bh, buf, n, m, godal.ErrLogger(l.j.handle)); err != nil {
				e.Tile, e.Problem = fmt.Sprintf("block column %d, row %d", bx, by), reason(err)
				return e
			}
		}
	}
	return e
}

// note records a guess for Info.
func (l *Layer) note(format string, args ...any) {
	l.info.Notes = append(l.info.Notes, fmt.Sprintf(format, args...))
}

// NewMemory returns a layer of values in memory, row by row, NaN where
// missing. It panics when their number does not fit the grid. The slice is
// kept, not copied.
func NewMemory(name, unit string, g Grid, values []float32) *Layer {
	if len(values) != g.Width*g.Height {
		panic("raster: values do not fit the grid")
	}
	l := &Layer{grid: g, memory: values, scale: 1}
	l.info = Info{Path: name, Driver: "memory", Width: g.Width, Height: g.Height, BlockWidth: g.Width, BlockHeight: 1,
		DataType: "Float32", Band: 1, BandName: name, Body: g.Body, FileBody: g.Body, CRS: g.Proj.WKT(), Projection: g.Proj.Name(),
		Geo: g.Geo, Global: g.Global, Rotated: g.rotated(), Scale: 1, Unit: unit, UnitSource: "option"}
	return l
}
