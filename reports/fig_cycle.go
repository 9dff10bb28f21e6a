package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

const (
	cyclePanel   = 49 * vg.Millimeter
	cycleCaption = 9 * vg.Millimeter
)

// cycleFigure draws the survey through the day: the background and the mean
// blanket of each species by local time, or by epoch where that is not told.
func cycleFigure(s *Survey) (Figure, bool) {
	species := cycleSpecies(ejecta.DailyCycle(s.Epochs, s.Persistence))
	title := "The survey through the day"
	fig := Figure{
		Name: "day", Title: title, Alt: cycleAlt(title, species), data: cycleData(species),
		Width: twoColumns, Height: vg.Length(len(species))*cyclePanel + cycleCaption + 5*vg.Millimeter,
	}
	fig.draw = func(p pen) {
		p.title(title)
		for i, levels := range species {
			top := 5*vg.Millimeter + vg.Length(i)*cyclePanel
			lo, hi := fig.Height-top-cyclePanel+4, -top-5
			half := fig.Width / 2
			l := speciesLook(i)
			cyclePlot(levels, l, false).Draw(draw.Crop(p.Canvas, 2, -half-4, lo, hi))
			cyclePlot(levels, l, true).Draw(draw.Crop(p.Canvas, half+4, -6, lo, hi))
		}
		p.legend(at(p.Min.X+8, p.Min.Y+7), []legendEntry{
			{"mean of the craters, ±1 s.e. (right: of those with a blanket)", markSample(0, softColour)},
			{"craters without a blanket", markSample(2, rgb(0x9a9a94))},
			{"nothing", lineSample(stroke(inkColour, 0.7, 2, 1.5))},
		})
	}
	return fig, len(species) > 0
}

// cycleSpecies gathers the levels by species; one without a measured crater is
// left out.
func cycleSpecies(levels []ejecta.DayLevel) (out [][]ejecta.DayLevel) {
	for _, d := range levels {
		k := slices.IndexFunc(out, func(l []ejecta.DayLevel) bool { return l[0].Species == d.Species })
		switch {
		case d.Craters == 0:
		case k < 0:
			out = append(out, []ejecta.DayLevel{d})
		default:
			out[k] = append(out[k], d)
		}
	}
	return out
}

// cycleSeries is what one panel shows: values with errors by place on the axis.
type cycleSeries struct{ x, y, se []float64 }

func seriesOf(levels []ejecta.DayLevel, get func(ejecta.DayLevel) (v, se float64)) (c cycleSeries) {
	for i, d := range levels {
		if v, se := get(d); !math.IsNaN(v) {
			c.x, c.y, c.se = append(c.x, cycleX(levels, i)), append(c.y, v), append(c.se, se)
		}
	}
	return c
}

// cycleX is the local time, or the number of the epoch.
func cycleX(levels []ejecta.DayLevel, i int) float64 {
	if ejecta.HoursKnown(levels) {
		return levels[i].LocalTime
	}
	return float64(i + 1)
}

func cyclePlot(levels []ejecta.DayLevel, l look, blanket bool) *plot.Plot {
	d := levels[0]
	name, main := "background", seriesOf(levels, func(d ejecta.DayLevel) (float64, float64) { return d.Background, d.BackgroundSE })
	var other cycleSeries
	if blanket {
		name, main = "blanket", seriesOf(levels, func(d ejecta.DayLevel) (float64, float64) { return d.Blanket, d.BlanketSE })
		other = seriesOf(levels, func(d ejecta.DayLevel) (float64, float64) { return d.Without, d.WithoutSE })
	}
	p := newPlot(cycleLabel(levels), fmt.Sprintf("%s, %s (%s)", figureText(d.Species), name, unitText(d.Unit)))
	cycleAxis(p, levels)
	var b bounds
	for _, c := range []cycleSeries{main, other} {
		for i := range c.x {
			b.add(c.y[i]-c.se[i], c.y[i]+c.se[i])
		}
	}
	if blanket {
		b.add(0)
	}
	p.Y.Min, p.Y.Max = b.padded(0.12)
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		if blanket {
			_, y := p.Transforms(&c)
			pen{c}.line(stroke(inkColour, 0.7, 2, 1.5), at(c.Min.X, y(0)), at(c.Max.X, y(0)))
			other.draw(c, p, look{rgb(0x9a9a94), []vg.Length{1, 2}, 2})
		}
		main.draw(c, p, l)
	}))
	return p
}

func cycleLabel(levels []ejecta.DayLevel) string {
	if ejecta.HoursKnown(levels) {
		return "local time (h)"
	}
	return "time of day, in the order of the survey"
}

// cycleAxis spans the times with some room; epochs without hours are named.
func cycleAxis(p *plot.Plot, levels []ejecta.DayLevel) {
	var b bounds
	for i := range levels {
		b.add(cycleX(levels, i))
	}
	p.X.Min, p.X.Max = b.padded(0.1)
	if ejecta.HoursKnown(levels) {
		p.X.Tick.Marker = plot.TickerFunc(hourTicks)
		return
	}
	p.X.Tick.Marker = plot.TickerFunc(func(_, _ float64) (ticks []plot.Tick) {
		for i, d := range levels {
			ticks = append(ticks, plot.Tick{Value: float64(i + 1), Label: figureText(d.Epoch)})
		}
		return ticks
	})
}

// hourTicks are hours that divide the day: three apart, or one in a short span.
func hourTicks(lo, hi float64) (ticks []plot.Tick) {
	step := 3.0
	if hi-lo < 6 {
		step = 1
	}
	for h := math.Ceil(lo/step) * step; h <= hi; h += step {
		ticks = append(ticks, plot.Tick{Value: h, Label: tickLabel(h)})
	}
	return ticks
}

// draw joins the values in their order and gives each its error.
func (s cycleSeries) draw(c draw.Canvas, p *plot.Plot, l look) {
	x, y := p.Transforms(&c)
	q := pen{c}
	var pts []vg.Point
	for i := range s.x {
		pts = append(pts, at(x(s.x[i]), y(s.y[i])))
	}
	if len(pts) > 1 {
		q.line(stroke(fade(l.colour, 0.5), 0.6, l.dashes...), pts...)
	}
	for i, pt := range pts {
		q.line(stroke(l.colour, 0.9), at(pt.X, y(s.y[i]-s.se[i])), at(pt.X, y(s.y[i]+s.se[i])))
		q.mark(l.shape, pt, 2.4, l.colour)
	}
}

func cycleAlt(title string, species [][]ejecta.DayLevel) string {
	alt := title + "."
	for _, levels := range species {
		for _, d := range levels {
			alt += fmt.Sprintf(" %s, %s: background %s, blanket %s of %d craters.", figureText(d.Species), figureText(d.Epoch), orUnknown(d.Background), orUnknown(d.Blanket), d.With)
		}
	}
	return alt
}

func cycleData(species [][]ejecta.DayLevel) [][]string {
	rows := [][]string{{"species", "epoch", "unit", "local_time_h", "craters", "background", "background_se", "craters_with_blanket", "blanket", "blanket_se", "others", "others_blanket", "others_blanket_se"}}
	for _, levels := range species {
		for _, d := range levels {
			rows = append(rows, []string{NeutralText(d.Species), NeutralText(d.Epoch), NeutralText(d.Unit), number(d.LocalTime), strconv.Itoa(d.Craters), number(d.Background), number(d.BackgroundSE),
				strconv.Itoa(d.With), number(d.Blanket), number(d.BlanketSE), strconv.Itoa(d.Others), number(d.Without), number(d.WithoutSE)})
		}
	}
	return rows
}
