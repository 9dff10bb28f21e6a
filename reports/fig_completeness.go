package reports

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

// Planting is what was found of one pattern, planted with one amplitude at the
// places of one species and size class.
type Planting struct {
	Species, Unit       string
	RadiusLo, RadiusHi  float64 // pixels
	Pattern             ejecta.Pattern
	Amplitude           float64
	Trials, Excess      int // places, and those where the excess was found
	Directed, Direction int // places that can test a direction, and those where one was found
}

// SensitivityFigures draws what was found of planted blankets, one figure for
// each species, and how often the tests claim something where nothing is.
func SensitivityFigures(planted []Planting, claims []FalseClaims) []Figure {
	var species []string
	for _, p := range planted {
		if !slices.Contains(species, p.Species) {
			species = append(species, p.Species)
		}
	}
	return present(func(add func(Figure, bool)) {
		for i, name := range species {
			add(completenessFigure(i, name, planted))
		}
		add(falseClaimsFigure(claims))
	})
}

const (
	plantPanel   = 42 * vg.Millimeter // height
	plantTop     = 6 * vg.Millimeter
	plantBlock   = 2*plantPanel + 8*vg.Millimeter
	plantBelow   = 7 * vg.Millimeter
	plantColumns = 3 // size classes side by side
)

// completenessFigure draws the found shares against the planted amplitude: size
// classes side by side, the excess above and the direction below.
func completenessFigure(index int, species string, all []Planting) (Figure, bool) {
	c := newCompleteness(species, all)
	title := "Planted blankets that were found, " + figureText(species)
	fig := Figure{
		Name: fmt.Sprintf("completeness-%d-%s", index+1, SafeName(species)), Title: title, Alt: c.alt(title), data: c.data(),
		Width: twoColumns, Height: vg.Length(c.blocks())*plantBlock + plantTop + plantBelow,
	}
	fig.draw = func(p pen) {
		p.title(title)
		c.draw(p)
	}
	return fig, len(c.classes) > 0
}

// completeness is the plantings of one species by size class.
type completeness struct {
	unit    string
	list    []Planting
	classes [][2]float64
	lo, hi  float64 // of the amplitude
}

func newCompleteness(species string, all []Planting) *completeness {
	c := &completeness{}
	var b bounds
	for _, p := range all {
		if p.Species != species || !(p.Amplitude > 0) || p.Trials == 0 {
			continue
		}
		class := [2]float64{p.RadiusLo, p.RadiusHi}
		if !slices.Contains(c.classes, class) {
			c.classes = append(c.classes, class)
		}
		c.unit, c.list = p.Unit, append(c.list, p)
		b.add(math.Log10(p.Amplitude))
	}
	slices.SortStableFunc(c.classes, func(a, b [2]float64) int { return cmp.Compare(a[0], b[0]) })
	c.lo, c.hi = b.padded(0.07)
	return c
}

func (c *completeness) columns() int { return min(len(c.classes), plantColumns) }

// blocks is the number of rows of size classes.
func (c *completeness) blocks() int { return (len(c.classes) + plantColumns - 1) / plantColumns }

func (c *completeness) draw(p pen) {
	width := (p.Max.X - p.Min.X - 6) / vg.Length(c.columns())
	for i, class := range c.classes {
		corner := at(p.Min.X+2+vg.Length(i%plantColumns)*width, p.Max.Y-plantTop-vg.Length(i/plantColumns)*plantBlock)
		c.class(p, class, corner, width)
	}
	p.legend(at(p.Min.X+8, p.Min.Y+9), c.keys())
}

// class draws the two panels of a size class below a corner.
func (c *completeness) class(p pen, class [2]float64, corner vg.Point, width vg.Length) {
	words := fmt.Sprintf("radius %s to %s pixels", orUnknown(class[0]), orUnknown(class[1]))
	p.write(words, at(corner.X+width/2+8, corner.Y-8), smallText, inkColour, text.XCenter, text.YTop)
	for row := range 2 {
		top := corner.Y - 6*vg.Millimeter - vg.Length(row)*plantPanel
		box := vg.Rectangle{Min: at(corner.X, top-plantPanel+3), Max: at(corner.X+width-6, top)}
		c.panel(class, row == 1).Draw(draw.Canvas{Canvas: p.Canvas, Rectangle: box})
	}
}

func (c *completeness) keys() []legendEntry {
	var entries []legendEntry
	for _, pattern := range c.patterns() {
		entries = append(entries, patternKey(pattern))
	}
	return append(entries, legendEntry{"bars: 95 % interval of the share", func(p pen, lo, hi vg.Point) {
		p.line(stroke(softColour, 0.7), at((lo.X+hi.X)/2, lo.Y-3), at((lo.X+hi.X)/2, hi.Y+3))
	}})
}

func patternKey(pattern ejecta.Pattern) legendEntry {
	return legendEntry{patternText(pattern), func(p pen, lo, hi vg.Point) {
		lineSample(stroke(patternColour(pattern), 1))(p, lo, hi)
		markSample(patternShape(string(pattern)), patternColour(pattern))(p, lo, hi)
	}}
}

func (c *completeness) patterns() []ejecta.Pattern {
	var out []ejecta.Pattern
	for _, pattern := range allPatterns {
		if slices.ContainsFunc(c.list, func(p Planting) bool { return p.Pattern == pattern }) {
			out = append(out, pattern)
		}
	}
	return out
}

// panel is the plot of one size class.
func (c *completeness) panel(class [2]float64, direction bool) *plot.Plot {
	x, y := "", "excess found (%)"
	if direction {
		x, y = "planted rim excess ("+unitText(c.unit)+")", "direction found (%)"
	}
	p := newPlot(x, y)
	p.X.Min, p.X.Max, p.X.Tick.Marker = c.lo, c.hi, plot.TickerFunc(logTicks)
	p.Y.Min, p.Y.Max = 0, 100
	p.Add(plotFunc(gridLines), plotFunc(func(cv draw.Canvas, p *plot.Plot) {
		u, v := p.Transforms(&cv)
		for _, level := range []float64{50, 95} {
			cv.StrokeLine2(stroke(softColour, 0.6, 2, 1.5), cv.Min.X, v(level), cv.Max.X, v(level))
		}
		for i, pattern := range c.patterns() {
			shift := (vg.Length(i) - 2) * 1.3 // so that the bars do not cover each other
			foundLine(pen{cv}, c.found(class, pattern, direction), func(a float64) vg.Length { return u(math.Log10(a)) + shift }, v, pattern)
		}
	}))
	return p
}

// foundShare is a share of places with its interval, in per cent.
type foundShare struct {
	amplitude, share, lo, hi float64
}

func (c *completeness) found(class [2]float64, pattern ejecta.Pattern, direction bool) []foundShare {
	var out []foundShare
	for _, p := range c.list {
		k, n := p.Excess, p.Trials
		if direction {
			k, n = p.Direction, p.Directed
		}
		if p.Pattern != pattern || p.RadiusLo != class[0] || p.RadiusHi != class[1] || n == 0 {
			continue
		}
		lo, hi := ejecta.Wilson(k, n)
		out = append(out, foundShare{p.Amplitude, 100 * float64(k) / float64(n), 100 * lo, 100 * hi})
	}
	return out
}

func foundLine(d pen, list []foundShare, x, y func(float64) vg.Length, pattern ejecta.Pattern) {
	colour := patternColour(pattern)
	var pts []vg.Point
	for _, f := range list {
		pts = append(pts, at(x(f.amplitude), y(f.share)))
		d.line(stroke(fade(colour, 0.7), 0.7), at(x(f.amplitude), y(f.lo)), at(x(f.amplitude), y(f.hi)))
	}
	if len(pts) > 1 {
		d.line(stroke(colour, 1), pts...)
	}
	for _, pt := range pts {
		d.mark(patternShape(string(pattern)), pt, 1.9, colour)
	}
}

// logTicks are ticks of an axis of decimal logarithms, labelled at 1, 2 and 5.
func logTicks(lo, hi float64) []plot.Tick {
	var ticks []plot.Tick
	for e := math.Floor(lo); e <= hi; e++ {
		for m := 1.0; m < 10; m++ {
			t := plot.Tick{Value: e + math.Log10(m)}
			if t.Value < lo || t.Value > hi {
				continue
			}
			if m == 1 || m == 2 || m == 5 {
				t.Label = strconv.FormatFloat(m*math.Pow(10, e), 'g', 3, 64)
			}
			ticks = append(ticks, t)
		}
	}
	return ticks
}

func (c *completeness) alt(title string) string {
	alt := title + ": share of places against the planted rim excess, by size and pattern."
	for _, class := range c.classes {
		if from := c.halfFound(class); from > 0 {
			alt += fmt.Sprintf(" At radii of %s to %s pixels half of the symmetric blankets are found from %s %s.", orUnknown(class[0]), orUnknown(class[1]), orUnknown(from), unitText(c.unit))
		}
	}
	return alt
}

// halfFound is the least amplitude at which half of the symmetric blankets of a
// class are found, 0 when none is.
func (c *completeness) halfFound(class [2]float64) float64 {
	for _, f := range c.found(class, ejecta.PatternSymmetric, false) {
		if f.share >= 50 {
			return f.amplitude
		}
	}
	return 0
}

func (c *completeness) data() [][]string {
	rows := [][]string{{"species", "unit", "radius_lo_pixels", "radius_hi_pixels", "pattern", "rim_excess", "found", "share_percent", "lo95_percent", "hi95_percent"}}
	for _, class := range c.classes {
		for _, pattern := range c.patterns() {
			for _, direction := range []bool{false, true} {
				what := map[bool]string{false: "excess", true: "direction"}[direction]
				for _, f := range c.found(class, pattern, direction) {
					rows = append(rows, []string{NeutralText(c.list[0].Species), NeutralText(c.unit), number(class[0]), number(class[1]), string(pattern),
						number(f.amplitude), what, number(f.share), number(f.lo), number(f.hi)})
				}
			}
		}
	}
	return rows
}
