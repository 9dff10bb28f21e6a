package testblanket

import (
	"math"

	"rimcast/geom"
)

// painter paints one blanket on a map of the survey.
type painter struct {
	v         *Survey
	frame     *geom.Frame
	shape     *Shape
	radius    float64 // metres
	side      float64 // of an equatorial pixel, metres
	meridians [9][]geom.Meridian
	parallels [9]geom.Parallel // of the current row
}

// paint adds a blanket to a map of the survey, with true ranges and azimuths
// on the sphere. Pixels hold the mean over their square, as in [Field.Paint].
func (v *Survey) paint(values []float64, c geom.Crater, s *Shape) {
	g := v.Grid
	p := &painter{v: v, frame: geom.NewFrame(v.Body, c.Centre), shape: s, radius: c.Radius, side: v.pixel()}
	p.setMeridians()
	reach := s.Reach(0.05, 12) * c.Radius
	y0, y1 := v.rows(c.Centre.Lat, reach)
	for y := y0; y <= y1; y++ {
		p.setRow(y)
		x0, x1 := v.columns(c.Centre, reach)
		for x := x0; x <= x1; x++ {
			col := x
			if g.Wraps {
				col = (x%g.Width + g.Width) % g.Width
			}
			if col < 0 || col >= g.Width {
				continue
			}
			if r, az := p.frame.Grid(p.parallels[0], p.meridians[0][col]); r <= reach {
				values[y*g.Width+col] += p.pixelMean(r, az, col)
			}
		}
	}
}

// offsets are the sub-sample places of a pixel for 1, 3 and 5 points per side,
// in pixels from its centre.
var offsets = [9]float64{0, -1. / 3, 0, 1. / 3, -0.4, -0.2, 0, 0.2, 0.4}

// firstOffset is where the offsets of 1, 3 and 5 points per side begin.
var firstOffset = [6]int{1: 0, 3: 1, 5: 4}

func (p *painter) setMeridians() {
	for k, off := range offsets {
		m := make([]geom.Meridian, p.v.Grid.Width)
		for x := range m {
			m[x] = p.frame.Meridian(p.v.Grid.LonLat(float64(x)+0.5+off, 0).Lon)
		}
		p.meridians[k] = m
	}
}

func (p *painter) setRow(y int) {
	for k, off := range offsets {
		p.parallels[k] = p.frame.Parallel(p.v.Grid.LonLat(0, float64(y)+0.5+off).Lat)
	}
}

func (p *painter) pixelMean(r, az float64, col int) float64 {
	n := subSamples(r/p.side, p.radius/p.side)
	if n == 1 {
		return p.shape.At(r/p.radius, az)
	}
	from := firstOffset[n]
	sum := 0.0
	for j := range n {
		for i := range n {
			r, az := p.frame.Grid(p.parallels[from+j], p.meridians[from+i][col])
			sum += p.shape.At(r/p.radius, az)
		}
	}
	return sum / float64(n*n)
}

// rows returns the first and last row within reach of a latitude.
func (v *Survey) rows(lat, reach float64) (y0, y1 int) {
	span := reach / v.Body.SemiMajor * 180 / math.Pi / v.Grid.Step
	mid := (v.Grid.North - lat) / v.Grid.Step
	return max(0, int(mid-span-1)), min(v.Grid.Height-1, int(mid+span+1))
}

// columns returns the first and last column, unwrapped, within reach of a
// centre: all of them when the reach goes over a pole.
func (v *Survey) columns(c geom.LonLat, reach float64) (x0, x1 int) {
	g := v.Grid
	mid := geom.WrapLon(c.Lon-g.West-180) + 180 // 0..360
	if width := g.Step * float64(g.Width); !g.Wraps && mid > 180+width/2 {
		mid -= 360 // nearer to the western edge
	}
	ang := reach / v.Body.SemiMajor
	cos := math.Cos(c.Lat * math.Pi / 180)
	if sin := math.Sin(ang); ang < math.Pi/2 && sin < cos {
		span := math.Asin(sin/cos) * 180 / math.Pi / g.Step
		x0, x1 = int(math.Floor(mid/g.Step-span-1)), int(math.Ceil(mid/g.Step+span+1))
		if x1-x0 < g.Width {
			return x0, x1
		}
	}
	return 0, g.Width - 1
}
