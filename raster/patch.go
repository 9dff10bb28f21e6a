package raster

import (
	"math"

	"rimcast/geom"
)

// Patch is the pixels within reach of a crater: their geometry and, after
// LayerSet.Fill, their values. A Patch is reused from crater to crater; the
// zero value is ready.
//
// Pixels come row by row, each ground point once. The patch of a crater near
// the edge of the map also holds the pixel positions within reach that lie
// beyond the edge, where values are NaN, so that the valid share of a ring
// counts what the map does not cover; it is empty when no part of the map can
// be within reach.
// At Level > 0 a pixel is the mean of Block x Block map pixels whose first
// column and row are multiples of Block. Where Block does not divide the
// number of columns round the body, the last block before the edge of the map
// is narrower and has its own centre and area. A block with less than half of
// its pixels valid is missing.
type Patch struct {
	Level, Block int         // Block = 1 << Level
	X, Y         []int32     // column and row at this level, relative to the centre pixel; columns unwrapped
	R, Az        []float64   // range in metres and azimuth in radians of each pixel centre
	Sin, Cos     []float64   // of the azimuth
	Area         []float64   // ground area of each pixel, m^2
	Values       [][]float32 // [layer][pixel], NaN = missing
	Fraction     [][]float32 // valid share of each block; nil at level 0
	CX, CY       float64     // crater centre from the centre of pixel X=0, Y=0, in pixels of this level; NaN when the map cannot show it
	PixelSize    float64     // root of the ground area of a pixel at the centre, metres
	ColMetres    float64     // ground length of one column step at the centre
	RowMetres    float64     // ground length of one row step at the centre
	Rotation     float64     // azimuth, radians, of decreasing row at the centre

	col0, row0 int  // absolute column and row, at this level, of X = 0, Y = 0
	ranges     bool // only X, Y and R are wanted, of the window asked for
	asked      Window
	within     bool // vary is wanted
	vary       [][]float32
	boxes      []span     // runs of pixels that are read together
	runs       []run      // pixels side by side
	tables     *mapTables // of a visit; may be nil
	s          scratch    // buffers
}

// span is a rectangle of level pixels and the patch pixels in it.
type span struct {
	x0, y0, x1, y1 int // half-open, absolute, columns unwrapped
	from, to       int // pixel indices, half-open
}

// run is pixels side by side in one row: the first column and row, absolute,
// and the index of the first pixel.
type run struct{ x, y, from int }

type scratch struct {
	colS, colSin []float64
	colN         []float64 // width of a column relative to a whole one
	strip        []float32
	f64          [6][]float64
	ok           []bool
	blocks, sums blockSums
	general      generalKernel
	sphere       sphereFrame
}

// MaxPatch is the largest number of pixels of one patch; a crater that needs
// more must be looked at on a coarser level.
const MaxPatch = 1 << 24

// Len returns the number of pixels.
func (p *Patch) Len() int { return len(p.R) }

// Column returns the absolute column of a pixel at the level of the patch; it
// may lie beyond the edge of the map.
func (p *Patch) Column(i int) int { return p.col0 + int(p.X[i]) }

// Row returns the absolute row of a pixel at the level of the patch.
func (p *Patch) Row(i int) int { return p.row0 + int(p.Y[i]) }

func (p *Patch) reset(level int) {
	p.Level, p.Block = level, 1<<level
	p.X, p.Y = p.X[:0], p.Y[:0]
	p.R, p.Az, p.Area = p.R[:0], p.Az[:0], p.Area[:0]
	p.Sin, p.Cos = p.Sin[:0], p.Cos[:0]
	p.boxes, p.runs = p.boxes[:0], p.runs[:0]
	p.CX, p.CY = math.NaN(), math.NaN()
	p.col0, p.row0 = 0, 0
}

// grow returns s with at least n more capacity.
func grow[T any](s []T, n int) []T {
	if cap(s)-len(s) >= n {
		return s
	}
	t := make([]T, len(s), max(len(s)+n+64, 2*cap(s)))
	copy(t, s)
	return t
}

func (p *Patch) grow(n int) {
	p.X, p.Y = grow(p.X, n), grow(p.Y, n)
	p.R, p.Az, p.Area = grow(p.R, n), grow(p.Az, n), grow(p.Area, n)
	p.Sin, p.Cos = grow(p.Sin, n), grow(p.Cos, n)
}

// newRow is a row of pixels being appended to a patch. east and north are of
// any one length; directions turns them into sine and cosine.
type newRow struct{ h, az, area, east, north []float64 }

// extend appends n pixels from column x of a row on, for the caller to fill in.
func (p *Patch) extend(n, x, y int) newRow {
	p.grow(n)
	from, to := len(p.R), len(p.R)+n
	p.beginRun(run{p.col0 + x, p.row0 + y, from})
	p.X, p.Y, p.R, p.Az, p.Area = p.X[:to], p.Y[:to], p.R[:to], p.Az[:to], p.Area[:to]
	for i := range p.X[from:to] {
		p.X[from+i], p.Y[from+i] = int32(x+i), int32(y)
	}
	p.Sin, p.Cos = p.Sin[:to], p.Cos[:to]
	return newRow{p.R[from:to], p.Az[from:to], p.Area[from:to], p.Sin[from:to], p.Cos[from:to]}
}

// beginRun begins a run of pixels, unless they go on beside the last.
func (p *Patch) beginRun(r run) {
	if n := len(p.runs); n > 0 {
		if last := p.runs[n-1]; last.y == r.y && last.x+r.from-last.from == r.x {
			return
		}
	}
	p.runs = append(p.runs, r)
}

// sized returns a slice of length n, reusing s.
func sized[T any](s []T, n int) []T {
	if cap(s) < n {
		return make([]T, n, n+n/4+16)
	}
	return s[:n]
}

// MaxLevel is the coarsest level of a patch.
const MaxLevel = 12

// level returns the grid whose pixels are blocks of 1<<level pixels.
func (g *Grid) level(level int) Grid {
	l, b := *g, 1<<level
	l.Width, l.Height = (g.Width+b-1)/b, (g.Height+b-1)/b
	for _, i := range []int{1, 2, 4, 5} {
		l.Geo[i] *= float64(b)
	}
	return l
}

// Geometry fills p with the geometry of all pixels whose centres lie within
// reach metres of a centre on body b, along the ground. It reuses the slices of
// p. The body need not be that of the grid, only one like it.
//
// It panics for a level outside 0..MaxLevel and returns an *Error when reach
// is not a positive number or holds more than MaxPatch pixels.
func (g *Grid) Geometry(b geom.Body, centre geom.LonLat, reach float64, level int, p *Patch) error {
	p.ranges = false
	return g.geometry(b, centre, reach, level, p)
}

func (g *Grid) geometry(b geom.Body, centre geom.LonLat, reach float64, level int, p *Patch) error {
	reach, err := p.begin(g, b, centre, reach, level)
	if err == nil {
		err = g.fillGeometry(b, centre, reach, p)
	}
	if err != nil {
		p.reset(level)
	}
	return err
}

// begin sets what a patch says about its centre and returns its reach.
func (p *Patch) begin(g *Grid, b geom.Body, centre geom.LonLat, reach float64, level int) (float64, error) {
	if level < 0 || level > MaxLevel {
		panic("raster: level out of range")
	}
	p.reset(level)
	if !(reach > 0) || !(math.Abs(centre.Lat) <= 90) || !finite(centre.Lon) {
		return 0, refused("", "check the catalogue", "no pixels within %g m of longitude %g, latitude %g", reach, centre.Lon, centre.Lat)
	}
	g.centre(b, centre, p)
	return math.Min(reach, 4*b.SemiMajor), nil
}

func (g *Grid) fillGeometry(b geom.Body, centre geom.LonLat, reach float64, p *Patch) error {
	switch q := g.fastPath(b, centre, reach).(type) {
	case *cylindrical:
		return g.cylinderPatch(b, q, centre, reach, p)
	case *stereographic:
		return g.stereoPatch(b, q, centre, reach, p)
	}
	return g.generalPatch(b, centre, reach, p)
}

// fastPath returns the projection when it and the body have a closed form for
// the cap, else nil.
func (g *Grid) fastPath(b geom.Body, centre geom.LonLat, reach float64) Projection {
	if b.InverseFlattening != 0 || g.rotated() {
		return nil
	}
	switch q := g.Proj.(type) {
	case *cylindrical:
		if q.rf == 0 && g.period() > 0 {
			return q
		}
	case *stereographic:
		if q.e == 0 && q.wholeCap(centre, reach/b.SemiMajor) {
			return q
		}
	}
	return nil
}

// centre sets what the patch says about its centre.
func (g *Grid) centre(b geom.Body, centre geom.LonLat, p *Patch) {
	block := float64(p.Block)
	l := p.local(g, b, centre)
	p.ColMetres, p.RowMetres, p.Rotation = l.col*block, l.row*block, l.rotation
	p.PixelSize = math.Sqrt(l.area) * block
	x, y, ok := g.Pixel(centre)
	if !ok || math.Abs(x) > maxPeriod || math.Abs(y) > maxPeriod {
		return
	}
	if g.Global && x >= float64(g.period()) {
		x -= g.turn()
	}
	p.col0, p.row0 = int(math.Floor(x/block)), int(math.Floor(y/block))
	p.CX = x/block - (float64(p.col0) + 0.5)
	p.CY = y/block - (float64(p.row0) + 0.5)
}

// local is that of the grid, without memory of its own on a sphere.
func (p *Patch) local(g *Grid, b geom.Body, centre geom.LonLat) local {
	if b.InverseFlattening != 0 || g.cylinder() != nil {
		return g.local(b, centre)
	}
	p.s.sphere = sphereFrameAt(b.SemiMajor, centre)
	return g.localIn(&p.s.sphere, centre)
}

func tooLarge(reach float64, n float64) error {
	return refused("", "use a coarser level or a smaller reach", "about %.3g pixels lie within %.4g m of one crater", n, reach)
}
