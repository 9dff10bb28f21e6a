package reports

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

const (
	rosePanel   = 78 * vg.Millimeter
	roseRadius  = 29 * vg.Millimeter
	roseHole    = 0.12 // share of the radius left free at the centre
	roseCaption = 10 * vg.Millimeter
)

// roseFigure draws the excess of the sectors of a crater, one rose per
// species, side by side and on one scale when their units agree.
func roseFigure(s *Survey, crater int) (Figure, bool) {
	var list []rose
	for i, f := range s.wholeOf(crater) {
		if len(f.Azimuthal) > 0 {
			list = append(list, rose{f, speciesLook(i), 0, 0})
		}
	}
	roseScales(list)
	c := s.crater(crater)
	title := "Excess by direction, " + label(c.ID, c.Name)
	rows := (len(list) + 1) / 2
	fig := Figure{
		Name: figureName(crater, c.ID, "rose"), Title: title, Alt: roseAlt(title, list), data: roseData(c.ID, list),
		Width: oneColumn, Height: vg.Length(rows)*rosePanel + roseCaption,
	}
	if len(list) > 1 {
		fig.Width = twoColumns
	}
	fig.draw = func(p pen) {
		p.title(title)
		for i, r := range list {
			x := vg.Length(i%2) * (fig.Width - oneColumn)
			y := fig.Height - 5*vg.Millimeter - vg.Length(i/2+1)*rosePanel
			r.draw(pen{draw.Crop(p.Canvas, x, x+oneColumn-fig.Width, y, y+rosePanel-fig.Height)}, list)
		}
		roseLegend(p, list)
	}
	return fig, len(list) > 0
}

// rose is a finding with the scale of its drawing.
type rose struct {
	ejecta.Finding
	look   look
	lo, hi float64 // excess at the hole and at the outer circle
}

// roseScales gives roses of one unit the same scale.
func roseScales(list []rose) {
	for i := range list {
		var b bounds
		b.add(0)
		for _, o := range list {
			if o.Unit == list[i].Unit {
				o.bounds(&b)
			}
		}
		list[i].lo, list[i].hi = b.padded(0.04)
	}
}

func (r rose) bounds(b *bounds) {
	for _, v := range r.Azimuthal {
		b.add(v.Mean-v.SE, v.Mean+v.SE)
	}
	b.add(r.level()-r.Envelope, r.level()+r.Envelope)
}

// level is the excess that every sector would have without a direction: the
// mean of the sectors, weighted by their pixels.
func (r rose) level() float64 {
	sum, n := 0.0, 0.0
	for _, v := range r.Azimuthal {
		if !math.IsNaN(v.Mean) {
			sum, n = sum+v.Mean*float64(v.Pixels), n+float64(v.Pixels)
		}
	}
	return sum / n
}

// radius is how far from the centre a value is drawn.
func (r rose) radius(v float64) vg.Length {
	t := min(max((v-r.lo)/(r.hi-r.lo), 0), 1)
	return roseRadius * vg.Length(roseHole+(1-roseHole)*t)
}

func (r rose) draw(p pen, all []rose) {
	centre := at(p.Center().X, p.Center().Y-1*vg.Millimeter)
	r.envelope(p, centre)
	r.sectors(p, centre)
	r.grid(p, centre)
	r.errors(p, centre)
	r.axes(p, centre, all)
	r.numbers(p, centre)
	r.compass(p, centre)
	p.write(fmt.Sprintf("%s, excess in %s", DisplayText(r.Species), unitText(r.Unit)), at(p.Center().X, p.Max.Y-3), plainText, inkColour, text.XCenter, text.YTop)
}

// envelope shades where a sector lies by chance when there is no direction.
func (r rose) envelope(p pen, centre vg.Point) {
	lo, hi := r.level()-r.Envelope, r.level()+r.Envelope
	if math.IsNaN(lo) {
		return
	}
	p.fill(fade(softColour, 0.22), cell(centre, r.radius(lo), r.radius(hi), 0, 360))
}

func (r rose) sectors(p pen, centre vg.Point) {
	zero := r.radius(0)
	for _, v := range r.Azimuthal {
		if math.IsNaN(v.Mean) {
			p.hatchCell(centre, zero, roseRadius, v.AzLo, v.AzHi)
			continue
		}
		lo, hi := min(zero, r.radius(v.Mean)), max(zero, r.radius(v.Mean))
		shape := cell(centre, lo, hi, v.AzLo, v.AzHi)
		p.fill(fade(r.look.colour, 0.38), shape)
		p.closed(stroke(r.look.colour, 0.6), shape)
	}
}

// grid draws circles at round values over the bars, thin enough to see both.
func (r rose) grid(p pen, centre vg.Point) {
	for _, v := range roundValues(r.lo, r.hi, 4) {
		width := vg.Length(0.3)
		if v == 0 {
			width = 0.9
		}
		p.closed(stroke(fade(inkColour, 0.55), width), disc(centre, r.radius(v)))
	}
	p.closed(stroke(softColour, 0.5), disc(centre, roseRadius))
}

// numbers labels the circles where the bars are lowest.
func (r rose) numbers(p pen, centre vg.Point) {
	az := r.lowest()
	for _, v := range roundValues(r.lo, r.hi, 4) {
		p.halo(tickLabel(v), bearing(centre, r.radius(v), az), smallText)
	}
}

// lowest is the middle of the sector with the smallest excess, or of one
// without data.
func (r rose) lowest() float64 {
	az, least := 22.5, math.Inf(1)
	for _, v := range r.Azimuthal {
		switch {
		case math.IsNaN(v.Mean):
			return (v.AzLo + v.AzHi) / 2
		case v.Mean < least:
			az, least = (v.AzLo+v.AzHi)/2, v.Mean
		}
	}
	return az
}

func (r rose) errors(p pen, centre vg.Point) {
	for _, v := range r.Azimuthal {
		if math.IsNaN(v.Mean) {
			continue
		}
		mid := (v.AzLo + v.AzHi) / 2
		p.line(stroke(inkColour, 0.6), bearing(centre, r.radius(v.Mean-v.SE), mid), bearing(centre, r.radius(v.Mean+v.SE), mid))
		p.mark(r.look.shape, bearing(centre, r.radius(v.Mean), mid), 1.5, r.look.colour)
	}
}

// axes draws this rose's axis with its 95 % interval as an arc outside the
// circle, and the axes of the other species as short ticks to compare with.
func (r rose) axes(p pen, centre vg.Point, all []rose) {
	for _, o := range all {
		if o.Species == r.Species || !o.Pattern.Directional() || math.IsNaN(o.Axis) {
			continue
		}
		for _, turn := range axisTurns(o.Pattern) {
			p.line(stroke(o.look.colour, 1, o.look.dashes...), bearing(centre, roseRadius*1.02, o.Axis+turn), bearing(centre, roseRadius*1.12, o.Axis+turn))
		}
	}
	if !r.Pattern.Directional() || math.IsNaN(r.Axis) {
		return
	}
	for _, turn := range axisTurns(r.Pattern) {
		for _, iv := range r.Axis95 {
			p.fill(accentColour, cell(centre, roseRadius*1.03, roseRadius*1.08, iv.Lo+turn, iv.Hi+turn))
		}
		p.line(stroke(accentColour, 1.1, 3, 1.5), centre, bearing(centre, roseRadius*1.1, r.Axis+turn))
	}
}

func (r rose) compass(p pen, centre vg.Point) {
	for i, s := range []string{"N", "E", "S", "W"} {
		p.write(s, bearing(centre, roseRadius*1.17, 90*float64(i)), plainText, inkColour, text.XCenter, text.YCenter)
	}
	for az := 0.0; az < 360; az += 30 {
		p.line(stroke(softColour, 0.4), bearing(centre, roseRadius, az), bearing(centre, roseRadius*1.025, az))
	}
}

// roseLegend explains what the roses show, and nothing else.
func roseLegend(p pen, list []rose) {
	first := []legendEntry{
		{"sector, ±1 s.e.", func(p pen, lo, hi vg.Point) {
			boxSample(fade(softColour, 0.4))(p, lo, hi)
			p.line(stroke(inkColour, 0.6), at((lo.X+hi.X)/2, lo.Y-2), at((lo.X+hi.X)/2, hi.Y+2))
		}},
		{"95 % without a direction", boxSample(fade(softColour, 0.22))},
	}
	pointed := pointedRoses(list)
	if pointed > 0 {
		first = append(first, legendEntry{"axis and 95 % interval", lineSample(stroke(accentColour, 1.1, 3, 1.5))})
	}
	var second []legendEntry
	if slices.ContainsFunc(list, rose.holed) {
		second = append(second, legendEntry{"no data", hatchSample})
	}
	if pointed > 0 && len(list) > 1 {
		second = append(second, legendEntry{"outside: axis of another species", tickSample})
	}
	y := p.Min.Y + 12
	end := p.legend(at(p.Min.X+6, y), first)
	if p.Max.X-p.Min.X > 100*vg.Millimeter {
		p.legend(at(end, y), second)
		return
	}
	p.legend(at(p.Min.X+6, y-9), second)
}

func hatchSample(p pen, lo, hi vg.Point) {
	for x := lo.X; x < hi.X; x += 3 {
		p.line(stroke(softColour, 0.4), at(x, lo.Y-1), at(x+3, hi.Y+1))
	}
}

// tickSample is a short tick outside a piece of the circle.
func tickSample(p pen, lo, hi vg.Point) {
	p.line(stroke(softColour, 0.5), at(lo.X, lo.Y), at(hi.X, lo.Y))
	p.line(stroke(softColour, 1), at((lo.X+hi.X)/2, lo.Y+0.6), at((lo.X+hi.X)/2, hi.Y+2))
}

// pointedRoses counts the roses with an axis.
func pointedRoses(list []rose) (n int) {
	for _, r := range list {
		if r.Pattern.Directional() && !math.IsNaN(r.Axis) {
			n++
		}
	}
	return n
}

// holed reports whether a sector has no data.
func (r rose) holed() bool {
	return slices.ContainsFunc(r.Azimuthal, func(v ejecta.SectorValue) bool { return math.IsNaN(v.Mean) })
}

func roseAlt(title string, list []rose) string {
	alt := title + "."
	for _, r := range list {
		alt += fmt.Sprintf(" %s: pattern %s", r.Species, patternText(r.Pattern))
		if r.Pattern.Directional() && !math.IsNaN(r.Axis) {
			alt += fmt.Sprintf(", axis %s degrees clockwise from north, p %s", orUnknown(r.Axis), orUnknown(r.AsymmetryP))
		}
		alt += "."
	}
	return alt
}

func patternText(p ejecta.Pattern) string {
	if p == "" {
		return "not tested"
	}
	return string(p)
}

func roseData(id string, list []rose) [][]string {
	rows := [][]string{{"crater_id", "species", "unit", "az_lo_deg", "az_hi_deg", "excess", "se", "level_without_direction", "envelope_95", "axis_deg"}}
	for _, r := range list {
		for _, v := range r.Azimuthal {
			rows = append(rows, []string{NeutralText(id), NeutralText(r.Species), NeutralText(r.Unit), number(v.AzLo), number(v.AzHi), number(v.Mean), number(v.SE),
				number(r.level()), number(r.Envelope), number(r.Axis)})
		}
	}
	return rows
}
