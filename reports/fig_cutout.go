package reports

import (
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

const (
	cutoutImage  = 60 * vg.Millimeter // side of a map
	cutoutLeft   = 10 * vg.Millimeter // room for the axis on the left
	cutoutBottom = 19 * vg.Millimeter // axis, scale bar
	cutoutTop    = 10 * vg.Millimeter
	cutoutRow    = cutoutImage + cutoutBottom + 5*vg.Millimeter
)

// cutoutFigure draws the maps round a crater, one panel per species. Panels
// of one unit share their limits.
func cutoutFigure(s *Survey, crater int) (Figure, bool) {
	var list []cutoutPanel
	for _, c := range s.Cutouts {
		if c.CraterIndex == crater && c.Size > 0 && len(c.Values) == c.Size*c.Size {
			list = append(list, cutoutPanel{Cutout: c})
		}
	}
	cutoutLimits(list)
	c := s.crater(crater)
	title := "Map round " + label(c.ID, c.Name)
	cols := min(len(list), 2)
	rows := (len(list) + 1) / 2
	fig := Figure{
		Name: figureName(crater, c.ID, "map"), Title: title, Alt: cutoutAlt(title, list), data: cutoutData(list),
		Width: oneColumn, Height: vg.Length(rows)*cutoutRow + cutoutTop - 5*vg.Millimeter,
	}
	if cols > 1 {
		fig.Width = twoColumns
	}
	fig.draw = func(p pen) {
		p.title(title)
		corner := func(i int) vg.Point {
			x := vg.Length(i%2)*(fig.Width-oneColumn) + cutoutLeft
			return at(x, fig.Height-cutoutTop-vg.Length(i/2)*cutoutRow-cutoutImage)
		}
		cutoutPicture(p, list, corner)
		for i, panel := range list {
			panel.draw(p, corner(i), c.Radius)
		}
	}
	return fig, len(list) > 0
}

// cutoutPanel is a cutout with the limits of its colours.
type cutoutPanel struct {
	Cutout
	lo, hi float64
}

// cutoutLimits sets limits from the 1st and 99th percentile of all panels of
// one unit.
func cutoutLimits(list []cutoutPanel) {
	for i := range list {
		var values []float64
		for _, o := range list {
			if o.Unit == list[i].Unit {
				values = o.finite(values)
			}
		}
		list[i].lo, list[i].hi = percentiles(values, 0.01, 0.99)
	}
}

func (c cutoutPanel) finite(dst []float64) []float64 {
	for _, v := range c.Values {
		if x := float64(v); !math.IsNaN(x) && !math.IsInf(x, 0) {
			dst = append(dst, x)
		}
	}
	return dst
}

func percentiles(values []float64, a, b float64) (lo, hi float64) {
	if len(values) == 0 {
		return 0, 1
	}
	slices.Sort(values)
	pick := func(q float64) float64 { return values[int(q*float64(len(values)-1)+0.5)] }
	lo, hi = pick(a), pick(b)
	if !(hi > lo) {
		hi = lo + max(math.Abs(lo)*0.01, 1e-9)
	}
	return lo, hi
}

func (c cutoutPanel) draw(p pen, corner vg.Point, radius float64) {
	far := at(corner.X+cutoutImage, corner.Y+cutoutImage)
	c.rings(p, corner)
	p.closed(stroke(inkColour, 0.6), rectangle(corner, far))
	p.write(DisplayText(c.Species), at((corner.X+far.X)/2, far.Y+3), plainText, inkColour, text.XCenter, text.YBottom)
	c.axis(p, corner)
	c.north(p, far)
	c.scale(p, corner, radius)
	c.bar(p, at(far.X+3*vg.Millimeter, corner.Y))
}

// place turns offsets in crater radii into a place in the panel.
func (c cutoutPanel) place(corner vg.Point, east, north float64) vg.Point {
	k := cutoutImage / 2 / vg.Length(c.HalfWidth)
	return at(corner.X+cutoutImage/2+k*vg.Length(east), corner.Y+cutoutImage/2+k*vg.Length(north))
}

func (c cutoutPanel) rings(p pen, corner vg.Point) {
	centre := c.place(corner, 0, 0)
	for rho := 1.0; rho <= 3 && rho < c.HalfWidth; rho++ {
		r := cutoutImage / 2 * vg.Length(rho/c.HalfWidth)
		p.closed(stroke(fade(inkColour, 0.75), 1.5), disc(centre, r))
		sty := stroke(paperColour, 0.75)
		if rho > 1 {
			sty = stroke(paperColour, 0.75, 3, 2)
		}
		p.closed(sty, disc(centre, r))
	}
	for rho := 1.0; rho <= 3 && rho < c.HalfWidth; rho++ {
		p.halo(strconv.Itoa(int(rho))+" R", bearing(centre, cutoutImage/2*vg.Length(rho/c.HalfWidth), 135), smallText)
	}
}

// axis writes offsets in crater radii along the lower and left edges.
func (c cutoutPanel) axis(p pen, corner vg.Point) {
	for _, v := range roundValues(-c.HalfWidth, c.HalfWidth, 5) {
		x, y := c.place(corner, v, -c.HalfWidth), c.place(corner, -c.HalfWidth, v)
		p.line(stroke(inkColour, 0.5), x, at(x.X, x.Y-2.5))
		p.line(stroke(inkColour, 0.5), y, at(y.X-2.5, y.Y))
		p.write(tickLabel(v), at(x.X, x.Y-4), smallText, inkColour, text.XCenter, text.YTop)
		p.write(tickLabel(v), at(y.X-4, y.Y), smallText, inkColour, text.XRight, text.YCenter)
	}
	middle := cutoutImage / 2
	p.write("east of the centre (crater radii)", at(corner.X+middle, corner.Y-12), plainText, inkColour, text.XCenter, text.YTop)
	p.writeUp("north of the centre (crater radii)", at(corner.X-20, corner.Y+middle), plainText, inkColour)
}

// north draws an arrow in the upper right corner.
func (c cutoutPanel) north(p pen, far vg.Point) {
	lo, hi := at(far.X-20, far.Y-30), at(far.X-4, far.Y-4)
	p.fill(fade(paperColour, 0.82), rectangle(lo, hi))
	x := (lo.X + hi.X) / 2
	p.fill(inkColour, polygon([]vg.Point{at(x, hi.Y-2), at(x-3.6, hi.Y-12), at(x, hi.Y-9.5), at(x+3.6, hi.Y-12)}))
	p.write("N", at(x, lo.Y+2), plainText, inkColour, text.XCenter, text.YBottom)
}

// scale draws a bar of a round number of kilometres, and what it is in radii.
func (c cutoutPanel) scale(p pen, corner vg.Point, radius float64) {
	width := 2 * c.HalfWidth * radius / 1000
	steps := roundValues(0, width/3, 2)
	if len(steps) < 2 {
		return
	}
	km := steps[len(steps)-1]
	length := cutoutImage * vg.Length(km/width)
	y := corner.Y - 13*vg.Millimeter
	p.fill(inkColour, rectangle(at(corner.X, y), at(corner.X+length/2, y+2.4)))
	p.closed(stroke(inkColour, 0.5), rectangle(at(corner.X, y), at(corner.X+length, y+2.4)))
	words := fmt.Sprintf("%s km = %s R", tickLabel(km), strconv.FormatFloat(km*1000/radius, 'g', 3, 64))
	p.write(words, at(corner.X+length+4, y+1.2), smallText, inkColour, text.XLeft, text.YCenter)
	words = "striped: no data"
	if c.Masked != nil {
		words += "; cross-hatched: masked"
	}
	p.write(words, at(corner.X, y-4), smallText, softColour, text.XLeft, text.YTop)
}

// bar draws the colours with their numbers and unit.
func (c cutoutPanel) bar(p pen, corner vg.Point) {
	const width = 3 * vg.Millimeter
	const steps = 96
	far := at(corner.X+width, corner.Y+cutoutImage)
	for i := range steps { // each step reaches to the top: no seams between them
		lo := corner.Y + cutoutImage*vg.Length(i)/steps
		p.fill(ramp((float64(i)+0.5)/steps), rectangle(at(corner.X, lo), far))
	}
	p.closed(stroke(inkColour, 0.5), rectangle(corner, far))
	for _, v := range roundValues(c.lo, c.hi, 5) {
		y := corner.Y + cutoutImage*vg.Length((v-c.lo)/(c.hi-c.lo))
		p.line(stroke(inkColour, 0.5), at(far.X, y), at(far.X+2, y))
		p.write(tickLabel(v), at(far.X+3, y), smallText, inkColour, text.XLeft, text.YCenter)
	}
	p.write(unitText(c.Unit), at(corner.X, far.Y+3), smallText, inkColour, text.XLeft, text.YBottom)
}

// cutoutPicture draws the maps of all panels as one picture with paper between
// them, because a PDF with several pictures is not the same in every run.
func cutoutPicture(p pen, list []cutoutPanel, corner func(int) vg.Point) {
	const dots = 480 / cutoutImage // per point
	area := vg.Rectangle{Min: corner(0), Max: corner(0)}
	for i := range list {
		lo := corner(i)
		area.Min = at(min(area.Min.X, lo.X), min(area.Min.Y, lo.Y))
		area.Max = at(max(area.Max.X, lo.X+cutoutImage), max(area.Max.Y, lo.Y+cutoutImage))
	}
	size := area.Size()
	img := image.NewNRGBA(image.Rect(0, 0, int(size.X*dots+0.5), int(size.Y*dots+0.5)))
	draw.Draw(img, img.Bounds(), image.NewUniform(paperColour), image.Point{}, draw.Src)
	for i, panel := range list {
		lo := corner(i)
		panel.paint(img, int((lo.X-area.Min.X)*dots+0.5), int((area.Max.Y-lo.Y-cutoutImage)*dots+0.5))
	}
	p.DrawImage(area, img)
}

// paint colours the values into a square of 480 dots, enlarged so that
// hatching shows.
func (c cutoutPanel) paint(img *image.NRGBA, x0, y0 int) {
	for y := range 480 {
		for x := range 480 {
			img.SetNRGBA(x0+x, y0+y, c.colour(y*c.Size/480*c.Size+x*c.Size/480, x, y))
		}
	}
}

// colour is the colour of one enlarged pixel of the picture.
func (c cutoutPanel) colour(i, x, y int) color.NRGBA {
	v := float64(c.Values[i])
	if math.IsNaN(v) {
		if (x+y)%12 < 3 {
			return rgb(0x8c8a84)
		}
		return rgb(0xf4f1ea)
	}
	base := ramp((v - c.lo) / (c.hi - c.lo))
	if c.Masked != nil && c.Masked[i] {
		base = mix(base, rgb(0xb9b6ae), 0.6)
		if (x+y)%14 < 2 || (x-y+14000)%14 < 2 {
			return rgb(0x4a4d52)
		}
	}
	return base
}

func cutoutAlt(title string, list []cutoutPanel) string {
	alt := title + ", north up, with rings at 1, 2 and 3 crater radii."
	for _, c := range list {
		alt += fmt.Sprintf(" %s from %s to %s %s.", c.Species, orUnknown(c.lo), orUnknown(c.hi), c.Unit)
	}
	return alt
}

// cutoutData writes the pictures as matrices, north row first.
func cutoutData(list []cutoutPanel) [][]string {
	if len(list) == 0 {
		return nil
	}
	head := []string{"species", "unit", "north_radii"}
	c := list[0]
	for x := range c.Size {
		head = append(head, "east_"+number(c.offset(x)))
	}
	rows := [][]string{head}
	for _, c := range list {
		for y := range c.Size {
			row := []string{NeutralText(c.Species), NeutralText(c.Unit), number(-c.offset(y))}
			for x := range c.Size {
				row = append(row, number(float64(c.Values[y*c.Size+x])))
			}
			rows = append(rows, row)
		}
	}
	return rows
}

// offset is the distance of pixel i from the middle, in crater radii.
func (c cutoutPanel) offset(i int) float64 {
	return c.HalfWidth * (2*float64(i) + 1 - float64(c.Size)) / float64(c.Size)
}
