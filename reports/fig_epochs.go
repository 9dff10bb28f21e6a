package reports

import (
	"fmt"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

// Small multiples of one crater and species through the day: a rose over a
// radial profile for each time, all roses and all profiles on one scale.
const (
	dayColumns  = 4 // times of day side by side
	dayRose     = 44 * vg.Millimeter
	dayRadial   = 34 * vg.Millimeter
	dayBlock    = dayRose + dayRadial + 3*vg.Millimeter
	dayCaption  = 12 * vg.Millimeter
	dayRadius   = 15 * vg.Millimeter
	daySideAxis = 10 * vg.Millimeter
)

// daySpecies lists the species of a crater that were mapped several times.
func (s *Survey) daySpecies(crater int) (names []string) {
	for i := range s.Persistence {
		if p := &s.Persistence[i]; p.CraterIndex == crater {
			names = append(names, p.Species)
		}
	}
	return names
}

// dayEpochs are the measured times of day of a crater and species.
func (s *Survey) dayEpochs(crater int, species string) (list []ejecta.EpochFinding) {
	for _, e := range s.Epochs {
		if e.CraterIndex == crater && e.Species == species && e.Status.Measured() {
			list = append(list, e)
		}
	}
	return list
}

// persistenceOf is the persistence of a crater and species.
func (s *Survey) persistenceOf(crater int, species string) *ejecta.Persistence {
	for i := range s.Persistence {
		if p := &s.Persistence[i]; p.CraterIndex == crater && p.Species == species {
			return p
		}
	}
	return nil
}

// dayFigures draws a crater through the day, a figure for each species.
func dayFigures(s *Survey, crater int, add func(Figure, bool)) {
	for i, name := range s.daySpecies(crater) {
		add(dayFigure(s, crater, name, speciesLook(i)))
	}
}

func dayFigure(s *Survey, crater int, species string, l look) (Figure, bool) {
	list := s.dayEpochs(crater, species)
	c := s.crater(crater)
	d := day{list: list, look: l, columns: min(len(list), dayColumns)}
	d.scales()
	title := fmt.Sprintf("%s through the day, %s", figureText(species), label(c.ID, c.Name))
	rows := (len(list) + dayColumns - 1) / dayColumns
	fig := Figure{
		Name: figureName(crater, c.ID, "day-"+SafeName(species)), Title: title, Alt: dayAlt(title, list, s.persistenceOf(crater, species)),
		Width: twoColumns, Height: vg.Length(rows)*dayBlock + dayCaption, data: dayData(c.ID, list),
	}
	fig.draw = func(p pen) {
		p.title(title)
		d.draw(p, fig.Height-5*vg.Millimeter)
		dayLegend(p, l)
	}
	return fig, len(list) > 1
}

// day is the times of day with the scales that they share.
type day struct {
	list    []ejecta.EpochFinding
	look    look
	columns int
	lo, hi  float64 // of the roses: excess at the hole and at the outer circle
	low, up float64 // of the profiles
	outer   float64 // range
}

// scales finds limits that hold every time of day.
func (d *day) scales() {
	var rose, radial bounds
	rose.add(0)
	radial.add(0)
	for _, e := range d.list {
		for _, v := range e.Azimuthal {
			rose.add(v.Mean-v.SE, v.Mean+v.SE)
		}
		for _, r := range e.Radial {
			radial.add(r.Mean-r.SE-e.Background, r.Mean+r.SE-e.Background)
			d.outer = max(d.outer, r.RhoHi)
		}
	}
	d.lo, d.hi = rose.padded(0.04)
	d.low, d.up = radial.padded(0.08)
	d.up += (d.up - d.low) * radialHead
}

func (d *day) draw(p pen, top vg.Length) {
	width := (p.Max.X - p.Min.X - daySideAxis) / vg.Length(d.columns)
	for i, e := range d.list {
		left := daySideAxis + vg.Length(i%d.columns)*width
		y := top - vg.Length(i/d.columns)*dayBlock
		d.header(p, at(p.Min.X+left+width/2, p.Min.Y+y), e)
		d.rose(p, at(p.Min.X+left+width/2, p.Min.Y+y-dayRose/2-4*vg.Millimeter), e)
		first := i%d.columns == 0
		x := left
		if first {
			x -= daySideAxis - 2
		}
		high := p.Max.Y - p.Min.Y
		d.radial(e, first).Draw(draw.Crop(p.Canvas, x, left+width-4-(p.Max.X-p.Min.X), y-dayBlock+2, y-dayRose-high))
	}
}

// header names the time of day and its blanket.
func (d *day) header(p pen, middle vg.Point, e ejecta.EpochFinding) {
	p.write(epochText(e), at(middle.X, middle.Y-1), plainText, inkColour, text.XCenter, text.YTop)
	p.write(fmt.Sprintf("blanket %.3g ± %.2g %s", e.Blanket, e.BlanketSE, figureText(e.Unit)), at(middle.X, middle.Y-10), smallText, softColour, text.XCenter, text.YTop)
}

// epochText is the time of day with its hour, where that is known.
func epochText(e ejecta.EpochFinding) string {
	if math.IsNaN(e.LocalTime) {
		return figureText(e.Epoch)
	}
	return fmt.Sprintf("%s, %.1f h", figureText(e.Epoch), e.LocalTime)
}

// radius is how far from the centre a value is drawn.
func (d *day) radius(v float64) vg.Length {
	t := min(max((v-d.lo)/(d.hi-d.lo), 0), 1)
	return dayRadius * vg.Length(roseHole+(1-roseHole)*t)
}

func (d *day) rose(p pen, centre vg.Point, e ejecta.EpochFinding) {
	zero := d.radius(0)
	for _, v := range e.Azimuthal {
		if math.IsNaN(v.Mean) {
			p.hatchCell(centre, zero, dayRadius, v.AzLo, v.AzHi)
			continue
		}
		shape := cell(centre, min(zero, d.radius(v.Mean)), max(zero, d.radius(v.Mean)), v.AzLo, v.AzHi)
		p.fill(fade(d.look.colour, 0.38), shape)
		p.closed(stroke(d.look.colour, 0.5), shape)
		mid := (v.AzLo + v.AzHi) / 2
		p.line(stroke(inkColour, 0.5), bearing(centre, d.radius(v.Mean-v.SE), mid), bearing(centre, d.radius(v.Mean+v.SE), mid))
	}
	d.circles(p, centre)
	d.axis(p, centre, e)
	sunMark(p, centre, e.SunAzimuth)
}

// circles are the scale: round values, zero heavier.
func (d *day) circles(p pen, centre vg.Point) {
	for _, v := range roundValues(d.lo, d.hi, 3) {
		width := vg.Length(0.3)
		if v == 0 {
			width = 0.9
		}
		p.closed(stroke(fade(inkColour, 0.55), width), disc(centre, d.radius(v)))
		p.halo(tickLabel(v), bearing(centre, d.radius(v), 225), smallText)
	}
	p.closed(stroke(softColour, 0.5), disc(centre, dayRadius))
	p.write("N", bearing(centre, dayRadius+6, 0), smallText, softColour, text.XCenter, text.YCenter)
}

func (d *day) axis(p pen, centre vg.Point, e ejecta.EpochFinding) {
	if !e.Pattern.Directional() || math.IsNaN(e.Axis) {
		return
	}
	for _, turn := range axisTurns(e.Pattern) {
		p.line(stroke(accentColour, 1.1, 3, 1.5), centre, bearing(centre, dayRadius*1.12, e.Axis+turn))
	}
}

// sunMark is a small sun outside the rose, where the sun stands.
func sunMark(p pen, centre vg.Point, azimuth float64) {
	if math.IsNaN(azimuth) {
		return
	}
	pt := bearing(centre, dayRadius+6, azimuth)
	p.fill(paperColour, disc(pt, 4.2))
	p.closed(stroke(inkColour, 0.7), disc(pt, 2.2))
	p.fill(inkColour, disc(pt, 0.7))
}

// radial is the profile less the background of its own time of day.
func (d *day) radial(e ejecta.EpochFinding, first bool) *plot.Plot {
	side := ""
	if first {
		side = "less background (" + unitText(e.Unit) + ")"
	}
	p := newPlot("range (crater radii)", side)
	p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, d.outer, d.low, d.up
	if !first {
		p.Y.Tick.Label.Color = paperColour
		p.Y.Tick.Marker = unlabelled
	}
	p.Add(plotFunc(radialGround), plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) { d.profile(c, p, e) }))
	return p
}

// unlabelled are the usual ticks without text.
var unlabelled = plot.TickerFunc(func(lo, hi float64) []plot.Tick {
	ticks := niceTicks(lo, hi)
	for i := range ticks {
		ticks[i].Label = " "
	}
	return ticks
})

func (d *day) profile(c draw.Canvas, p *plot.Plot, e ejecta.EpochFinding) {
	x, y := p.Transforms(&c)
	q := pen{c}
	q.line(stroke(inkColour, 0.7, 2, 1.5), at(c.Min.X, y(0)), at(c.Max.X, y(0)))
	for _, r := range e.Radial {
		v := r.Mean - e.Background
		if math.IsNaN(v) || r.RhoLo < 1 && r.RhoHi <= 1 {
			continue
		}
		q.line(stroke(d.look.colour, 0.8), at(x(ringMid(r)), y(v-r.SE)), at(x(ringMid(r)), y(v+r.SE)))
		q.mark(d.look.shape, at(x(ringMid(r)), y(v)), 1.8, d.look.colour)
	}
}

func dayLegend(p pen, l look) {
	p.legend(at(p.Min.X+8, p.Min.Y+7), []legendEntry{
		{"excess of a sector, ±1 s.e.", boxSample(fade(l.colour, 0.38))},
		{"ring mean less background, ±1 s.e.", markSample(l.shape, l.colour)},
		{"direction", lineSample(stroke(accentColour, 1.1, 3, 1.5))},
		{"where the sun stands", func(p pen, lo, hi vg.Point) {
			pt := at((lo.X+hi.X)/2, (lo.Y+hi.Y)/2)
			p.closed(stroke(inkColour, 0.7), disc(pt, 2.2))
			p.fill(inkColour, disc(pt, 0.7))
		}},
		{"no data", func(p pen, lo, hi vg.Point) {
			for x := lo.X; x < hi.X; x += 3 {
				p.line(stroke(softColour, 0.4), at(x, lo.Y-1), at(x+3, hi.Y+1))
			}
		}},
	})
}

func dayAlt(title string, list []ejecta.EpochFinding, p *ejecta.Persistence) string {
	alt := title + "."
	for _, e := range list {
		alt += epochAlt(e)
	}
	if p != nil {
		alt += " " + figureText(p.Sentence) + "."
	}
	return alt
}

func epochAlt(e ejecta.EpochFinding) string {
	return fmt.Sprintf(" %s: blanket %s ± %s %s over a background of %s, pattern %s.", epochText(e), orUnknown(e.Blanket), orUnknown(e.BlanketSE), figureText(e.Unit),
		orUnknown(e.Background), patternText(e.Pattern))
}

func dayData(id string, list []ejecta.EpochFinding) [][]string {
	rows := [][]string{{"crater_id", "species", "epoch", "local_time_h", "sun_azimuth_deg", "unit", "part", "from", "to", "mean", "se", "background", "blanket", "blanket_se", "axis_deg"}}
	for _, e := range list {
		row := func(part string, from, to, mean, se float64) {
			rows = append(rows, []string{NeutralText(id), NeutralText(e.Species), NeutralText(e.Epoch), number(e.LocalTime), number(e.SunAzimuth), NeutralText(e.Unit), part,
				number(from), number(to), number(mean), number(se), number(e.Background), number(e.Blanket), number(e.BlanketSE), number(e.Axis)})
		}
		for _, r := range e.Radial {
			row("ring", r.RhoLo, r.RhoHi, r.Mean-e.Background, r.SE)
		}
		for _, v := range e.Azimuthal {
			row("sector", v.AzLo, v.AzHi, v.Mean, v.SE)
		}
	}
	return rows
}
