package reports

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// pen draws on a canvas with the few marks that figures are made of.
type pen struct{ draw.Canvas }

// Sizes of text at final size.
const (
	smallText = 6 * vg.Length(1)
	plainText = 7 * vg.Length(1)
	titleText = 8.5 * vg.Length(1)
)

func at(x, y vg.Length) vg.Point { return vg.Point{X: x, Y: y} }

// textStyle returns a sans-serif style.
func textStyle(size vg.Length, c color.Color, x text.XAlignment, y text.YAlignment) text.Style {
	return text.Style{Color: c, Font: sans(size), XAlign: x, YAlign: y, Handler: text.Plain{Fonts: font.DefaultCache}}
}

func sans(size vg.Length) font.Font {
	return font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
}

// write puts text at a place; x and y say which part of it lies there.
func (p pen) write(s string, pt vg.Point, size vg.Length, c color.Color, x text.XAlignment, y text.YAlignment) {
	p.FillText(textStyle(size, c, x, y), pt, s)
}

// title writes a line at the top left, cut when it is wider than the figure.
func (p pen) title(s string) {
	sty := textStyle(plainText, inkColour, text.XLeft, text.YTop)
	for n := len([]rune(s)); n > 1 && sty.Width(s) > p.Max.X-p.Min.X-6; n-- {
		s = shorten(s, n-1)
	}
	p.FillText(sty, at(p.Min.X+2, p.Max.Y-3), s)
}

// writeUp puts text that reads upwards, centred at a place.
func (p pen) writeUp(s string, pt vg.Point, size vg.Length, c color.Color) {
	sty := textStyle(size, c, text.XCenter, text.YCenter)
	sty.Rotation = math.Pi / 2
	p.FillText(sty, pt, s)
}

// halo puts text on a light ground, for labels over pictures.
func (p pen) halo(s string, pt vg.Point, size vg.Length) {
	sty := textStyle(size, inkColour, text.XCenter, text.YCenter)
	w, h := sty.Width(s)/2+1.5, size/2+0.8
	p.fill(fade(paperColour, 0.82), rectangle(at(pt.X-w, pt.Y-h), at(pt.X+w, pt.Y+h)))
	p.FillText(sty, pt, s)
}

func stroke(c color.Color, width vg.Length, dashes ...vg.Length) draw.LineStyle {
	return draw.LineStyle{Color: c, Width: width, Dashes: dashes}
}

func (p pen) line(sty draw.LineStyle, pts ...vg.Point) { p.StrokeLines(sty, pts) }

// closed strokes a path that ends where it began.
func (p pen) closed(sty draw.LineStyle, path vg.Path) {
	p.SetLineStyle(sty)
	p.Stroke(path)
}

func (p pen) fill(c color.Color, path vg.Path) {
	p.SetColor(c)
	p.Fill(path)
}

func rectangle(lo, hi vg.Point) vg.Path {
	var path vg.Path
	path.Move(lo)
	path.Line(at(hi.X, lo.Y))
	path.Line(hi)
	path.Line(at(lo.X, hi.Y))
	path.Close()
	return path
}

func disc(centre vg.Point, r vg.Length) vg.Path {
	var path vg.Path
	path.Move(at(centre.X+r, centre.Y))
	path.Arc(centre, r, 0, 2*math.Pi)
	path.Close()
	return path
}

func polygon(pts []vg.Point) vg.Path {
	var path vg.Path
	for i, pt := range pts {
		if i == 0 {
			path.Move(pt)
			continue
		}
		path.Line(pt)
	}
	path.Close()
	return path
}

// bearing is the place at a distance and an azimuth (degrees clockwise from
// up) from a centre.
func bearing(centre vg.Point, r vg.Length, azimuth float64) vg.Point {
	s, c := math.Sincos(azimuth * math.Pi / 180)
	return at(centre.X+r*vg.Length(s), centre.Y+r*vg.Length(c))
}

// arcPoints are points along an arc between two azimuths, 3 degrees apart.
func arcPoints(centre vg.Point, r vg.Length, az0, az1 float64) []vg.Point {
	n := max(int(math.Ceil(math.Abs(az1-az0)/3)), 1)
	pts := make([]vg.Point, n+1)
	for i := range pts {
		pts[i] = bearing(centre, r, az0+(az1-az0)*float64(i)/float64(n))
	}
	return pts
}

// cell is the outline between two radii and two azimuths.
func cell(centre vg.Point, r0, r1 vg.Length, az0, az1 float64) vg.Path {
	if az1-az0 >= 359 {
		return polygon(append(arcPoints(centre, r0, az0, az1), arcPoints(centre, r1, az1, az0)...))
	}
	turn := radians(az1 - az0)
	var path vg.Path
	path.Move(bearing(centre, r0, az0))
	path.Arc(centre, r0, radians(90-az0), -turn)
	path.Line(bearing(centre, r1, az1))
	path.Arc(centre, r1, radians(90-az1), turn)
	path.Close()
	return path
}

// mark draws one of the shapes that tell species and patterns apart.
func (p pen) mark(shape int, pt vg.Point, r vg.Length, c color.Color) {
	path := shapePath(shape, pt, r)
	p.fill(c, path)
	p.closed(stroke(paperColour, 0.3), path)
}

// shapePath returns the outline of shape number n: disc, square, triangle,
// diamond, star, hexagon, and so on again.
func shapePath(n int, pt vg.Point, r vg.Length) vg.Path {
	corner := func(count int, turn float64, grow vg.Length) vg.Path {
		pts := make([]vg.Point, count)
		for i := range pts {
			pts[i] = bearing(pt, grow*r, turn+360*float64(i)/float64(count))
		}
		return polygon(pts)
	}
	switch n % 6 {
	case 1:
		return corner(4, 45, 1.2)
	case 2:
		return corner(3, 0, 1.35)
	case 3:
		return corner(4, 0, 1.3)
	case 4:
		return star(pt, r)
	case 5:
		return corner(6, 0, 1.1)
	}
	return disc(pt, r)
}

func star(pt vg.Point, r vg.Length) vg.Path {
	pts := make([]vg.Point, 12)
	for i := range pts {
		pts[i] = bearing(pt, r*[2]vg.Length{1.5, 0.7}[i%2], 30*float64(i))
	}
	return polygon(pts)
}

// hatchCell fills a cell of a rose with slanted lines, 3 pt apart.
func (p pen) hatchCell(centre vg.Point, r0, r1 vg.Length, az0, az1 float64) {
	inside := func(x, y vg.Length) bool {
		r := vg.Length(math.Hypot(float64(x), float64(y)))
		az := math.Mod(math.Atan2(float64(x), float64(y))*180/math.Pi-az0+720, 360)
		return r >= r0 && r <= r1 && az <= az1-az0
	}
	const gap, step = 3, 0.5
	for c := -2 * r1; c <= 2*r1; c += gap {
		var run []vg.Point
		for x := -r1; x <= r1+step; x += step {
			if y := x + c; x <= r1 && inside(x, y) {
				run = append(run, at(centre.X+x, centre.Y+y))
				continue
			}
			if len(run) > 1 {
				p.line(stroke(softColour, 0.4), run[0], run[len(run)-1])
			}
			run = nil
		}
	}
}
