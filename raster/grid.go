package raster

import (
	"fmt"
	"math"

	"rimcast/geom"
)

// Grid is how the rows and columns of a map lie on a body.
//
// Geo is the affine transform of GDAL: the map coordinates of the pixel
// coordinates (x, y) are Geo[0]+x*Geo[1]+y*Geo[2] and Geo[3]+x*Geo[4]+y*Geo[5].
// Pixel coordinates count from the outer corner of the first pixel, so that
// pixel centres lie at halves. Body is the surface on which distances are
// measured. Global maps run on from the last column to the first.
type Grid struct {
	Width, Height int
	Geo           [6]float64
	Proj          Projection
	Body          geom.Body
	Global        bool
}

// NewGrid returns a grid and finds out whether its columns go round the body.
// It returns an error for a transform that is not one or a size that is not
// positive.
func NewGrid(width, height int, geo [6]float64, p Projection, b geom.Body) (Grid, error) {
	g := Grid{Width: width, Height: height, Geo: geo, Proj: p, Body: b}
	if width <= 0 || height <= 0 || p == nil {
		return g, fmt.Errorf("grid of %d x %d pixels", width, height)
	}
	for _, v := range geo {
		if !finite(v) {
			return g, fmt.Errorf("geotransform %v is not finite", geo)
		}
	}
	if det := geo[1]*geo[5] - geo[2]*geo[4]; det == 0 || !finite(det) {
		return g, fmt.Errorf("geotransform %v has no pixel size", geo)
	}
	if n := g.period(); n > 0 && width >= n {
		g.Global = true
	}
	return g, nil
}

// rotated reports whether rows and columns are turned against the map axes.
func (g *Grid) rotated() bool { return g.Geo[2] != 0 || g.Geo[4] != 0 }

// cylinder returns the cylindrical projection of an unrotated grid, else nil.
func (g *Grid) cylinder() *cylindrical {
	if g.rotated() {
		return nil
	}
	c, _ := g.Proj.(*cylindrical)
	return c
}

// turn returns the number of columns in 360 degrees of longitude, not rounded;
// 0 when columns are not meridians.
func (g *Grid) turn() float64 {
	c := g.cylinder()
	if c == nil {
		return 0
	}
	return math.Abs(360 * c.kx / g.Geo[1])
}

const maxPeriod = 1 << 30

// period returns turn as a whole number; 0 when columns do not repeat.
func (g *Grid) period() int {
	t := g.turn()
	if t < 0.5 || t > maxPeriod {
		return 0
	}
	return int(math.Round(t))
}

// xy returns map coordinates of pixel coordinates.
func (g *Grid) xy(px, py float64) (x, y float64) {
	return g.Geo[0] + px*g.Geo[1] + py*g.Geo[2], g.Geo[3] + px*g.Geo[4] + py*g.Geo[5]
}

// pixel returns pixel coordinates of map coordinates.
func (g *Grid) pixel(x, y float64) (px, py float64) {
	if !g.rotated() {
		return (x - g.Geo[0]) / g.Geo[1], (y - g.Geo[3]) / g.Geo[5]
	}
	det := g.Geo[1]*g.Geo[5] - g.Geo[2]*g.Geo[4]
	x, y = x-g.Geo[0], y-g.Geo[3]
	return (x*g.Geo[5] - y*g.Geo[2]) / det, (y*g.Geo[1] - x*g.Geo[4]) / det
}

// Pixel returns the pixel coordinates of a place, with pixel centres at halves.
// ok is false for a place that the projection cannot show; the coordinates may
// lie outside the map (see Inside). Where columns repeat, the nearest column
// to the map is taken.
func (g *Grid) Pixel(p geom.LonLat) (x, y float64, ok bool) {
	mx, my, ok := g.Proj.Forward(p)
	if !ok {
		return math.NaN(), math.NaN(), false
	}
	x, y = g.pixel(mx, my)
	if t := g.turn(); t > 0 {
		x -= t * math.Floor(x/t)
		if gap := t - float64(g.Width); gap > 0 && x-float64(g.Width) > gap/2 {
			x -= t
		}
	}
	return x, y, true
}

// Inside reports whether pixel coordinates lie on the map.
func (g *Grid) Inside(x, y float64) bool {
	return y >= 0 && y < float64(g.Height) && (x >= 0 && x < float64(g.Width) || g.Global)
}

// LonLat returns the place at pixel coordinates; ok is false when there is
// none, as beyond the outline of a sinusoidal map.
func (g *Grid) LonLat(x, y float64) (geom.LonLat, bool) {
	return g.Proj.Inverse(g.xy(x, y))
}

// Same reports whether two grids have the same pixels: the same size,
// projection and body, and corners that agree within a thousandth of a pixel.
func (g *Grid) Same(o *Grid) bool {
	if g.Width != o.Width || g.Height != o.Height || g.Proj.Name() != o.Proj.Name() ||
		g.Body.SemiMajor != o.Body.SemiMajor || g.Body.InverseFlattening != o.Body.InverseFlattening {
		return false
	}
	w, h := float64(g.Width), float64(g.Height)
	for _, c := range [][2]float64{{0, 0}, {w, 0}, {0, h}, {w, h}} {
		x, y := g.pixel(o.xy(c[0], c[1]))
		if math.Abs(x-c[0]) > 1e-3 || math.Abs(y-c[1]) > 1e-3 {
			return false
		}
	}
	return true
}

// PixelSize returns the square root of the ground area of a pixel at a place,
// in metres; NaN where the projection shows nothing.
func (g *Grid) PixelSize(p geom.LonLat) float64 {
	return math.Sqrt(g.local(g.Body, p).area)
}

// local describes the ground under one pixel step.
type local struct {
	col, row float64 // metres
	rotation float64 // azimuth of decreasing row
	area     float64
}

// local measures one step along the columns and the rows at a place.
func (g *Grid) local(b geom.Body, p geom.LonLat) local {
	if c := g.cylinder(); c != nil {
		return g.localCylinder(b, c, p)
	}
	return g.localIn(newFrame(b, p), p)
}

// localIn is local with the frame of the place.
func (g *Grid) localIn(f frame, p geom.LonLat) local {
	x, y, ok := g.Pixel(p)
	nan := math.NaN()
	if !ok {
		return local{nan, nan, nan, nan}
	}
	dx, ok1 := g.step(f, x, y, 0.25, 0)
	dy, ok2 := g.step(f, x, y, 0, 0.25)
	if !ok1 || !ok2 {
		return local{nan, nan, nan, nan}
	}
	return local{
		col: 2 * math.Hypot(dx[0], dx[1]), row: 2 * math.Hypot(dy[0], dy[1]),
		rotation: positive(math.Atan2(-dy[0], -dy[1])),
		area:     4 * math.Abs(dx[0]*dy[1]-dx[1]*dy[0]),
	}
}

// step returns the ground vector (east, north) over twice a pixel offset,
// scaled up from one side where the other falls off the map.
func (g *Grid) step(f frame, x, y, dx, dy float64) ([2]float64, bool) {
	a, okA := g.LonLat(x-dx, y-dy)
	b, okB := g.LonLat(x+dx, y+dy)
	var u, v [2]float64
	if okA {
		u[0], u[1] = f.offset(a)
	}
	if okB {
		v[0], v[1] = f.offset(b)
	}
	switch {
	case okA && okB:
		return [2]float64{v[0] - u[0], v[1] - u[1]}, true
	case okA:
		return [2]float64{-2 * u[0], -2 * u[1]}, true
	case okB:
		return [2]float64{2 * v[0], 2 * v[1]}, true
	}
	return [2]float64{}, false
}

func (g *Grid) localCylinder(b geom.Body, c *cylindrical, p geom.LonLat) local {
	dlon, dlat := g.Geo[1]/c.kx*degree, g.Geo[5]/c.ky*degree
	up := 0.0
	if dlat > 0 {
		up = math.Pi
	}
	// Radii of curvature at the geodetic latitude; on a sphere both are the
	// radius.
	phi := toGraphic(p.Lat, b.InverseFlattening) * degree
	e2 := 0.0
	if b.InverseFlattening != 0 {
		e2 = (2 - 1/b.InverseFlattening) / b.InverseFlattening
	}
	s, co := math.Sincos(phi)
	w := math.Sqrt(1 - e2*s*s)
	n, m := b.SemiMajor/w, b.SemiMajor*(1-e2)/(w*w*w)
	if e2 != 0 && c.rf == 0 {
		// rows step in planetocentric latitude: dg/dc = (1-e2) sec^2 c / (...)
		q := 1 - 1/b.InverseFlattening
		sc, cc := math.Sincos(p.Lat * degree)
		m *= q * q / (q*q*q*q*cc*cc + sc*sc)
	}
	col, row := n*co*math.Abs(dlon), m*math.Abs(dlat)
	return local{col: col, row: row, rotation: up, area: col * row}
}

// positive returns an angle in 0 <= a < 2 pi.
func positive(a float64) float64 {
	if a < 0 {
		a += 2 * math.Pi
	}
	if a >= 2*math.Pi {
		a = 0
	}
	return a
}
