package reports

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

const (
	layersRow    = 58 * vg.Millimeter
	layersTop    = 6 * vg.Millimeter
	layersBelow  = 8 * vg.Millimeter
	layersRadius = 19 * vg.Millimeter
)

// bareColour is how a crater looks without its covariates.
var bareColour = rgb(0x8c8a84)

// layersFigure draws a crater without and with its covariates: the radial
// profile of the excess, and what its rim has more or less by direction.
func layersFigure(s *Survey, crater int) (Figure, bool) {
	var list []layersPanel
	for i, f := range s.wholeOf(crater) {
		if f.HasLayers() && len(f.Layers.With.Ring) > 0 {
			list = append(list, layersPanel{f, speciesLook(i)})
		}
	}
	c := s.crater(crater)
	title := "Without and with the covariates, " + label(c.ID, c.Name)
	fig := Figure{
		Name: figureName(crater, c.ID, "covariates"), Title: title, Alt: layersAlt(title, list), data: layersData(c.ID, list),
		Width: twoColumns, Height: vg.Length(len(list))*layersRow + layersTop + layersBelow,
	}
	fig.draw = func(p pen) {
		p.title(title)
		for i, panel := range list {
			top := p.Max.Y - layersTop - vg.Length(i)*layersRow
			panel.draw(p, top, i == len(list)-1)
		}
		layersLegend(p)
	}
	return fig, len(list) > 0
}

// layersPanel is one species of the figure.
type layersPanel struct {
	ejecta.Finding
	look look
}

func (l layersPanel) draw(p pen, top vg.Length, last bool) {
	middle := p.Min.X + 100*vg.Millimeter
	box := vg.Rectangle{Min: at(p.Min.X+2, top-layersRow+3), Max: at(middle, top-12)}
	l.radial(last).Draw(draw.Canvas{Canvas: p.Canvas, Rectangle: box})
	words := fmt.Sprintf("rim excess %s, with %s %s %s", withError(l.Layers.Without.RimExcess, l.Layers.Without.RimExcessSE),
		figureText(strings.Join(l.Layers.Layers, ", ")), withError(l.Layers.With.RimExcess, l.Layers.With.RimExcessSE), unitText(l.Unit))
	p.write(shorten(words, 90), at(p.Min.X+30, top-8), smallText, inkColour, text.XLeft, text.YBottom)
	l.around(p, at(p.Min.X+142*vg.Millimeter, top-layersRow/2-4))
}

// views are the crater without and with its covariates, the latter on top.
func (l layersPanel) views() []layersView {
	return []layersView{
		{"without", l.Layers.Without, bareColour, 0, stroke(bareColour, 1, 3, 1.5)},
		{"with", l.Layers.With, l.look.colour, l.look.shape, stroke(l.look.colour, 1.2)},
	}
}

type layersView struct {
	name string
	ejecta.LayerView
	colour color.NRGBA
	shape  int
	line   draw.LineStyle
}

// at is the range at which ring k is drawn.
func (l layersPanel) at(k int) float64 {
	lo, hi := l.Layers.Edges[k], l.Layers.Edges[k+1]
	return math.Sqrt((lo*lo + hi*hi) / 2)
}

func (l layersPanel) radial(last bool) *plot.Plot {
	x := ""
	if last {
		x = "range from the centre (crater radii)"
	}
	p := newPlot(x, figureText(l.Species)+", excess ("+unitText(l.Unit)+")")
	var b bounds
	b.add(0)
	for _, v := range l.views() {
		for k := range v.Ring {
			b.add(v.Ring[k]-v.RingSE[k], v.Ring[k]+v.RingSE[k])
		}
	}
	p.X.Min, p.X.Max = 0, l.Layers.Edges[len(l.Layers.Edges)-1]
	p.Y.Min, p.Y.Max = b.padded(0.08)
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		x, y := p.Transforms(&c)
		c.StrokeLine2(stroke(inkColour, 0.6), c.Min.X, y(0), c.Max.X, y(0))
		for i, v := range l.views() {
			l.rings(pen{c}, v, x, y, 1.4*vg.Length(2*i-1))
		}
	}))
	return p
}

func (l layersPanel) rings(d pen, v layersView, x, y func(float64) vg.Length, shift vg.Length) {
	var pts []vg.Point
	for k, value := range v.Ring {
		if math.IsNaN(value) {
			continue
		}
		px := x(l.at(k)) + shift
		d.line(stroke(v.colour, 0.8), at(px, y(value-v.RingSE[k])), at(px, y(value+v.RingSE[k])))
		pts = append(pts, at(px, y(value)))
	}
	if len(pts) > 1 {
		d.line(v.line, pts...)
	}
	for _, pt := range pts {
		v.mark(d, pt)
	}
}

// mark is open for the view without, in the shape of the species for the other.
func (v layersView) mark(d pen, pt vg.Point) {
	if v.name == "with" {
		d.mark(v.shape, pt, 1.8, v.colour)
		return
	}
	openMark(d, pt)
}

func openMark(d pen, pt vg.Point) {
	d.fill(paperColour, disc(pt, 1.7))
	d.closed(stroke(bareColour, 0.8), disc(pt, 1.7))
}

// around draws the directional part as curves round a circle of zero.
func (l layersPanel) around(p pen, centre vg.Point) {
	var b bounds
	for _, v := range l.views() {
		for k := range v.Around {
			b.add(math.Abs(v.Around[k]) + v.AroundSE[k])
		}
	}
	if !b.some || b.hi <= 0 {
		p.write("no direction was tested", centre, smallText, softColour, text.XCenter, text.YCenter)
		return
	}
	radius := func(value float64) vg.Length {
		return layersRadius * vg.Length(0.55+0.45*min(max(value/b.hi, -1.1), 1.1))
	}
	for _, value := range roundValues(-b.hi, b.hi, 4) {
		p.closed(stroke(gridColour, 0.5), disc(centre, radius(value)))
	}
	p.closed(stroke(inkColour, 0.8), disc(centre, radius(0)))
	for _, v := range l.views() {
		v.curve(p, centre, radius)
	}
	for _, value := range roundValues(-b.hi, b.hi, 4) {
		p.halo(tickLabel(value), bearing(centre, radius(value), 67.5), smallText)
	}
	for i, s := range []string{"N", "E", "S", "W"} {
		p.write(s, bearing(centre, layersRadius*1.14, 90*float64(i)), plainText, inkColour, text.XCenter, text.YCenter)
	}
	words := fmt.Sprintf("p of direction %s, with %s", chance(l.Layers.Without.DirectionP), chance(l.Layers.With.DirectionP))
	p.write(words, at(centre.X, centre.Y+layersRadius+17), smallText, inkColour, text.XCenter, text.YBottom)
	p.write("rim excess less its mean ("+unitText(l.Unit)+")", at(centre.X, centre.Y-layersRadius-13), smallText, softColour, text.XCenter, text.YTop)
}

// curve draws the directional part with its band of one standard error.
func (v layersView) curve(p pen, centre vg.Point, radius func(float64) vg.Length) {
	n := len(v.Around)
	if n == 0 {
		return
	}
	var line, band []vg.Point
	for i := range n + 1 {
		k := i % n
		line = append(line, bearing(centre, radius(v.Around[k]), 360*float64(i)/float64(n)))
		band = append(band, bearing(centre, radius(v.Around[k]+v.AroundSE[k]), 360*float64(i)/float64(n)))
	}
	for i := n; i >= 0; i-- {
		k := i % n
		band = append(band, bearing(centre, radius(v.Around[k]-v.AroundSE[k]), 360*float64(i)/float64(n)))
	}
	p.fill(fade(v.colour, 0.22), polygon(band))
	p.line(v.line, line...)
}

func layersLegend(p pen) {
	p.legend(at(p.Min.X+30, p.Min.Y+9), []legendEntry{
		{"without the covariates", func(p pen, lo, hi vg.Point) {
			lineSample(stroke(bareColour, 1, 3, 1.5))(p, lo, hi)
			openMark(p, at((lo.X+hi.X)/2, (lo.Y+hi.Y)/2))
		}},
		{"with them (solid, colour and mark of the species)", lineSample(stroke(inkColour, 1.2))},
		{"bars and bands: ±1 s.e.", boxSample(fade(softColour, 0.22))},
	})
}

func layersAlt(title string, list []layersPanel) string {
	alt := title + "."
	for _, l := range list {
		alt += fmt.Sprintf(" %s: rim excess %s without and %s with %s; p of the direction %s and %s.", l.Species, orUnknown(l.Layers.Without.RimExcess),
			orUnknown(l.Layers.With.RimExcess), strings.Join(l.Layers.Layers, ", "), orUnknown(l.Layers.Without.DirectionP), orUnknown(l.Layers.With.DirectionP))
	}
	return alt
}

func layersData(id string, list []layersPanel) [][]string {
	rows := [][]string{{"crater_id", "species", "unit", "view", "part", "at", "value", "se"}}
	for _, l := range list {
		for _, v := range l.views() {
			row := func(part string, at, value, se float64) {
				rows = append(rows, []string{NeutralText(id), NeutralText(l.Species), NeutralText(l.Unit), v.name, part, number(at), number(value), number(se)})
			}
			for k := range v.Ring {
				row("excess of the ring at range", l.at(k), v.Ring[k], v.RingSE[k])
			}
			for k := range v.Around {
				row("rim excess less its mean at azimuth", 360*float64(k)/float64(len(v.Around)), v.Around[k], v.AroundSE[k])
			}
		}
	}
	return rows
}
