package reports

import (
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

// look is how a species is drawn everywhere: colour, dash and mark.
type look struct {
	colour color.NRGBA
	dashes []vg.Length
	shape  int
}

var looks = []look{
	{rgb(0x1d4f8f), nil, 0},
	{rgb(0xc8641c), []vg.Length{4, 1.6}, 1},
	{rgb(0x1b7a68), []vg.Length{1.2, 1.4}, 2},
	{rgb(0x84356f), []vg.Length{5, 1.5, 1.2, 1.5}, 3},
	{rgb(0x33383f), []vg.Length{7, 2}, 5},
	{rgb(0x9a8412), []vg.Length{2.5, 1.2, 0.8, 1.2, 0.8, 1.2}, 4},
}

// speciesLook returns the look of the i-th species.
func speciesLook(i int) look { return looks[i%len(looks)] }

// patternShape is the mark of a pattern on the overview map.
func patternShape(p string) int {
	switch p {
	case "one-sided":
		return 2
	case "bilateral":
		return 3
	case "rays":
		return 4
	case "gap":
		return 1
	}
	return 0
}

// plotFunc lets a function take part in a plot.
type plotFunc func(draw.Canvas, *plot.Plot)

// Plot implements plot.Plotter.
func (f plotFunc) Plot(c draw.Canvas, p *plot.Plot) { f(c, p) }

// newPlot returns a plot with the axes of this package: thin, with ticks that
// point out and text at final size.
func newPlot(xLabel, yLabel string) *plot.Plot {
	p := plot.New()
	p.BackgroundColor = color.Transparent
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.LineStyle = stroke(softColour, 0.5)
		a.Tick.LineStyle = stroke(softColour, 0.5)
		a.Tick.Length = 2.5
		a.Padding = 0
		a.Label.Padding = 2
		a.Label.TextStyle.Font, a.Label.TextStyle.Color = sans(plainText), inkColour
		a.Tick.Label.Font, a.Tick.Label.Color = sans(smallText), inkColour
		a.Tick.Marker = plot.TickerFunc(niceTicks)
	}
	p.X.Label.Text, p.Y.Label.Text = xLabel, yLabel
	p.Legend.TextStyle.Font = font.Font{Typeface: "Liberation", Variant: "Sans", Size: smallText}
	return p
}

// niceTicks returns about five ticks at round numbers, and nothing between.
func niceTicks(lo, hi float64) []plot.Tick {
	var ticks []plot.Tick
	for _, v := range roundValues(lo, hi, 5) {
		ticks = append(ticks, plot.Tick{Value: v, Label: tickLabel(v)})
	}
	return ticks
}

func tickLabel(v float64) string {
	if v == 0 {
		return "0"
	}
	return strconv.FormatFloat(v, 'g', 5, 64)
}

// roundValues returns multiples of 1, 2 or 5 times a power of ten within
// lo..hi, about count of them.
func roundValues(lo, hi float64, count int) []float64 {
	span := hi - lo
	if !(span > 0) || math.IsInf(span, 0) {
		return nil
	}
	step := math.Pow(10, math.Floor(math.Log10(span/float64(count))))
	for _, k := range []float64{1, 2, 5, 10} {
		if span/(step*k) <= float64(count)+0.5 {
			step *= k
			break
		}
	}
	var out []float64
	for i := math.Ceil(lo/step - 1e-9); i <= hi/step+1e-9; i++ {
		out = append(out, math.Round(i*step/step)*step)
	}
	return out
}

// decadeTicks returns ticks for an axis of decimal logarithms: whole powers
// of ten labelled, the multiples between them not.
func decadeTicks(lo, hi float64) []plot.Tick {
	var ticks []plot.Tick
	for e := math.Floor(lo); e <= hi; e++ {
		for m := 1.0; m < 10; m++ {
			t := plot.Tick{Value: e + math.Log10(m)}
			if t.Value < lo-1e-9 || t.Value > hi+1e-9 {
				continue
			}
			if m == 1 {
				t.Label = strconv.FormatFloat(math.Pow(10, e), 'g', 2, 64)
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}

// gridLines draws faint lines at the labelled ticks of the y axis.
func gridLines(c draw.Canvas, p *plot.Plot) {
	_, y := p.Transforms(&c)
	for _, t := range p.Y.Tick.Marker.Ticks(p.Y.Min, p.Y.Max) {
		if !t.IsMinor() && t.Value >= p.Y.Min && t.Value <= p.Y.Max {
			c.StrokeLine2(stroke(gridColour, 0.4), c.Min.X, y(t.Value), c.Max.X, y(t.Value))
		}
	}
}

// lineSample and boxSample are the usual legend samples.
func lineSample(sty draw.LineStyle) func(pen, vg.Point, vg.Point) {
	return func(p pen, lo, hi vg.Point) { p.line(sty, at(lo.X, (lo.Y+hi.Y)/2), at(hi.X, (lo.Y+hi.Y)/2)) }
}

func boxSample(c color.Color) func(pen, vg.Point, vg.Point) {
	return func(p pen, lo, hi vg.Point) { p.fill(c, rectangle(at(lo.X, lo.Y-1), at(hi.X, hi.Y+1))) }
}

func markSample(shape int, c color.Color) func(pen, vg.Point, vg.Point) {
	return func(p pen, lo, hi vg.Point) { p.mark(shape, at((lo.X+hi.X)/2, (lo.Y+hi.Y)/2), 2.4, c) }
}

// patternMark marks a crater by its pattern. Where one was found the mark has a
// dark edge, so that it stands out from the many others without colour.
func (p pen) patternMark(pattern ejecta.Pattern, pt vg.Point, r vg.Length) {
	shape, c := patternShape(string(pattern)), patternColour(pattern)
	p.mark(shape, pt, r, fade(c, 0.9))
	if pattern != ejecta.PatternNone && pattern != "" {
		p.closed(stroke(inkColour, 0.5), shapePath(shape, pt, r))
	}
}

func patternSample(pattern ejecta.Pattern) func(pen, vg.Point, vg.Point) {
	return func(p pen, lo, hi vg.Point) { p.patternMark(pattern, at((lo.X+hi.X)/2, (lo.Y+hi.Y)/2), 2.4) }
}
