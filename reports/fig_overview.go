package reports

import (
	"fmt"
	"image"
	"math"
	"strconv"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"

	"rimcast/ejecta"
)

const (
	overviewLeft, overviewRight = 11 * vg.Millimeter, 4 * vg.Millimeter
	overviewBelow, overviewTop  = 24 * vg.Millimeter, 6 * vg.Millimeter
	overviewMarks               = 1500 // craters drawn as shapes; the rest as grey dots
)

// overviewFigure draws all craters on a map, coloured by pattern and sized by
// radius. Only the best are drawn one by one: a catalogue of a million would
// give a file that nothing opens.
func overviewFigure(s *Survey) (Figure, bool) {
	m := newOverview(s)
	fig := Figure{
		Name: "overview", Title: "Craters by pattern", Alt: m.alt(), rows: m.rows,
		Width: twoColumns, Height: overviewTop + m.height() + overviewBelow,
	}
	fig.draw = m.draw
	return fig, len(s.Catalogue.Craters) > 0
}

// overview lays craters out on a simple cylindrical map of a region.
type overview struct {
	s              *Survey
	west, east     float64
	south, north   float64
	order          []int // craters, best last, so that they lie on top
	pattern        []ejecta.Pattern
	small, largest float64 // radii, metres
}

func newOverview(s *Survey) *overview {
	m := &overview{s: s, west: -180, east: 180, south: -90, north: 90}
	ranked := make([]bool, len(s.Catalogue.Craters))
	for _, t := range s.Targets {
		ranked[t.CraterIndex] = true
	}
	for i, c := range s.Catalogue.Craters {
		if !ranked[i] {
			m.order = append(m.order, i)
		}
		m.pattern = append(m.pattern, s.patternOf(i))
		if i == 0 {
			m.small, m.largest = c.Radius, c.Radius
		}
		m.small, m.largest = min(m.small, c.Radius), max(m.largest, c.Radius)
	}
	for i := len(s.Targets) - 1; i >= 0; i-- {
		m.order = append(m.order, s.Targets[i].CraterIndex)
	}
	m.zoom()
	return m
}

// zoom narrows the map to the craters when they fill a small part of the body.
func (m *overview) zoom() {
	var lon, lat bounds
	for _, c := range m.s.Catalogue.Craters {
		lon.add(eastLongitude(c.Centre.Lon))
		lat.add(c.Centre.Lat)
	}
	w, e := lon.padded(0.06)
	s, n := lat.padded(0.06)
	if !lon.some || e-w > 200 || n-s > 110 {
		return
	}
	span := max(e-w, 2*(n-s), 1)
	m.west, m.east = centred(w, e, span, 180)
	m.south, m.north = centred(s, n, span/2, 90)
}

// centred widens lo..hi to a span about its middle, within +-limit.
func centred(lo, hi, span, limit float64) (float64, float64) {
	from := min(max((lo+hi-span)/2, -limit), limit-span)
	return from, from + span
}

func (m *overview) width() vg.Length  { return twoColumns - overviewLeft - overviewRight }
func (m *overview) height() vg.Length { return m.width() / 2 }

// place is where a crater lies on the figure.
func (m *overview) place(i int) vg.Point {
	c := m.s.crater(i)
	x := (eastLongitude(c.Centre.Lon) - m.west) / (m.east - m.west)
	y := (c.Centre.Lat - m.south) / (m.north - m.south)
	return at(overviewLeft+m.width()*vg.Length(x), overviewBelow+m.height()*vg.Length(y))
}

// size is the radius of a crater's mark: logarithmic, 1.6 to 5.2 pt.
func (m *overview) size(radius float64) vg.Length {
	if m.largest <= m.small {
		return 2.5
	}
	t := math.Log(radius/m.small) / math.Log(m.largest/m.small)
	return vg.Length(1.6 + 3.6*math.Pow(min(max(t, 0), 1), 1.5))
}

func (m *overview) draw(p pen) {
	lo := at(overviewLeft, overviewBelow)
	hi := at(lo.X+m.width(), lo.Y+m.height())
	p.fill(rgb(0xfbfaf7), rectangle(lo, hi))
	m.graticule(p, lo, hi)
	first := max(0, len(m.order)-overviewMarks)
	if first > 0 {
		p.DrawImage(vg.Rectangle{Min: lo, Max: hi}, m.dots(m.order[:first]))
	}
	for _, i := range m.order[first:] {
		p.patternMark(m.pattern[i], m.place(i), m.size(m.s.crater(i).Radius))
	}
	p.closed(stroke(softColour, 0.6), rectangle(lo, hi))
	m.keys(p)
}

func (m *overview) graticule(p pen, lo, hi vg.Point) {
	for _, v := range degreeTicks(m.west, m.east) {
		x := lo.X + (hi.X-lo.X)*vg.Length((v-m.west)/(m.east-m.west))
		p.line(stroke(gridColour, 0.4), at(x, lo.Y), at(x, hi.Y))
		p.write(tickLabel(v), at(x, lo.Y-3), smallText, inkColour, text.XCenter, text.YTop)
	}
	for _, v := range degreeTicks(m.south, m.north) {
		y := lo.Y + (hi.Y-lo.Y)*vg.Length((v-m.south)/(m.north-m.south))
		p.line(stroke(gridColour, 0.4), at(lo.X, y), at(hi.X, y))
		p.write(tickLabel(v), at(lo.X-3, y), smallText, inkColour, text.XRight, text.YCenter)
	}
	p.write("longitude, east positive (degrees)", at((lo.X+hi.X)/2, lo.Y-11), plainText, inkColour, text.XCenter, text.YTop)
	p.writeUp("latitude, planetocentric (degrees)", at(lo.X-24, (lo.Y+hi.Y)/2), plainText, inkColour)
}

// degreeTicks are multiples of a step that divides the circle.
func degreeTicks(lo, hi float64) []float64 {
	step := 0.1
	for _, k := range []float64{0.2, 0.5, 1, 2, 5, 10, 15, 30, 60} {
		if (hi-lo)/step > 7 {
			step = k
		}
	}
	var out []float64
	for i := math.Ceil(lo/step - 1e-9); i <= hi/step+1e-9; i++ {
		out = append(out, math.Round(i*step*10)/10)
	}
	return out
}

// dots is a picture of craters as single grey dots.
func (m *overview) dots(list []int) image.Image {
	const scale = 3
	w, h := int(m.width()*scale), int(m.height()*scale)
	img := image.NewNRGBA(image.Rect(0, 0, w, h))
	for _, i := range list {
		pt := m.place(i)
		x, y := int((pt.X-overviewLeft)*scale), h-1-int((pt.Y-overviewBelow)*scale)
		for dx := range 2 {
			for dy := range 2 {
				img.SetNRGBA(x+dx, y+dy, rgb(0xb9b6ae))
			}
		}
	}
	return img
}

// keys explains shapes and sizes below the map.
func (m *overview) keys(p pen) {
	counts := map[ejecta.Pattern]int{}
	for _, pattern := range m.pattern {
		counts[pattern]++
	}
	var entries []legendEntry
	for _, pattern := range allPatterns {
		if counts[pattern] > 0 {
			words := fmt.Sprintf("%s (%d)", patternText(pattern), counts[pattern])
			entries = append(entries, legendEntry{words, patternSample(pattern)})
		}
	}
	p.legend(at(overviewLeft, 32), entries)
	x := vg.Length(overviewLeft)
	for _, km := range m.sizes() {
		r := m.size(km * 1000)
		p.mark(0, at(x+5, 15), r, softColour)
		words := tickLabel(km) + " km"
		p.write(words, at(x+13, 15), smallText, inkColour, text.XLeft, text.YCenter)
		x += 22 + textStyle(smallText, inkColour, 0, 0).Width(words)
	}
	p.write("rim radius", at(x+2, 15), smallText, softColour, text.XLeft, text.YCenter)
}

var allPatterns = []ejecta.Pattern{ejecta.PatternSymmetric, ejecta.PatternOneSided, ejecta.PatternBilateral, ejecta.PatternRays, ejecta.PatternGap, ejecta.PatternNone, ""}

// sizes are three round radii in kilometres within the catalogue's range.
func (m *overview) sizes() []float64 {
	var out []float64
	for e := math.Floor(math.Log10(m.small / 1000)); len(out) < 12 && e < 6; e++ {
		for _, k := range []float64{1, 2, 5} {
			if km := k * math.Pow(10, e); km*1000 >= m.small && km*1000 <= m.largest {
				out = append(out, km)
			}
		}
	}
	if n := len(out); n > 3 {
		return []float64{out[0], out[n/2], out[n-1]}
	}
	return out
}

func (m *overview) alt() string {
	alt := fmt.Sprintf("Map of %d craters.", len(m.pattern))
	counts := map[ejecta.Pattern]int{}
	for _, pattern := range m.pattern {
		counts[pattern]++
	}
	for _, pattern := range allPatterns {
		if counts[pattern] > 0 {
			alt += fmt.Sprintf(" %s: %d.", patternText(pattern), counts[pattern])
		}
	}
	return alt
}

// rows are the table of the figure, one row after the other: it is as long as the
// catalogue.
func (m *overview) rows(yield func([]string) bool) {
	if !yield([]string{"crater_id", "lon_deg", "lat_deg", "radius_m", "pattern", "rank"}) {
		return
	}
	rank := make([]int32, len(m.pattern))
	for i := range m.s.Targets {
		rank[m.s.Targets[i].CraterIndex] = int32(m.s.Targets[i].Rank)
	}
	for i, c := range m.s.Catalogue.Craters {
		if !yield([]string{NeutralText(c.ID), degrees(eastLongitude(c.Centre.Lon)), degrees(c.Centre.Lat), number(c.Radius), string(m.pattern[i]), rankText(rank[i])}) {
			return
		}
	}
}

// rankText is a rank; empty for 0.
func rankText(rank int32) string {
	if rank == 0 {
		return ""
	}
	return strconv.Itoa(int(rank))
}
