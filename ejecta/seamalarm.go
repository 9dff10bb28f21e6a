package ejecta

import (
	"fmt"
	"math"
)

// seamAlarmWithout looks for seams where no layer tells them. What is found gets
// columns, and the direction becomes the one beside them, or none.
func (e *Evidence) seamAlarmWithout(m *Measurement, set Settings, in AlarmInputs) Alarm {
	const how = noLayer + ": strip; without one they are looked for in the map where "
	switch {
	case len(m.Classes) == 0:
		return notRun(seamAlarm, how+"a direction was found")
	case e.ground == nil:
		return notRun(seamAlarm, how+"the ground round the crater was kept")
	}
	list := e.findSeams(m, set, in)
	if len(list) == 0 {
		return notRun(seamAlarm, noLayer+": strip; no straight step along rows, columns or track stands out in the map")
	}
	p0 := m.Finding.AsymmetryP
	e.standBeside(m, list, set, in)
	s := list[0]
	a := over(seamAlarm, math.Abs(s.height), 0, "unit of the species",
		"found in the map, %s: a step of %.3g, standard error %.2g; ground without a seam shows one as plain with p %s", s.words(), s.height, s.se, probability(s.p))
	if len(list) > 1 {
		a.Detail += fmt.Sprintf("; %d seams in all", len(list))
	}
	a.Detail += fmt.Sprintf("; p of the direction without levels for them %s, with them %s", probability(p0), probability(m.Finding.AsymmetryP))
	return a
}

// standBeside measures the direction again beside seams.
func (e *Evidence) standBeside(m *Measurement, list []foundSeam, set Settings, in AlarmInputs) {
	m.seams = list
	e.standAgain(m, set, in)
}

// standAgain measures the direction again beside all that it stands beside.
func (e *Evidence) standAgain(m *Measurement, set Settings, in AlarmInputs) {
	g := e.ground.widened(e.Gram, e.under(m))
	t := terrain{found: m.beside}
	t.setDirection(e.directionBeside(g, m, set, in))
	t.test = t.direction.test(m.Blanket, e.Coverage >= fullCoverage, in.Seed)
	m.withdraw()
	e.adopt(m, &t, set.WithDefaults().Alpha)
}

// under are the columns of all that a direction stands beside: boundaries of the
// ground and seams.
func (e *Evidence) under(m *Measurement) []float64 {
	c := e.ground.cells
	return sideBySide(c.N, paintContacts(c, m.beside), c.paintSeams(linesOf(m.seams)))
}

// withdraw takes a direction back.
func (m *Measurement) withdraw() {
	f, nan := &m.Finding, math.NaN()
	m.Classes, f.Lobes, f.RunnerUp, f.Ambiguous = nil, nil, "", false
	f.Axis68, f.Axis95 = nil, nil
	for _, p := range []*float64{&f.Axis, &f.AxisSE, &f.PatternLead, &f.GapWidth} {
		*p = nan
	}
}

// words names a seam by where it lies.
func (l seamLine) words() string {
	run, far := wrapTurn(l.azimuth+90, 180), wrapTurn(l.azimuth, 360)
	if l.width > 0 {
		return fmt.Sprintf("a strip along %.0f degrees, from %.1f to %.1f radii towards %.0f", run, l.offset, l.offset+l.width, far)
	}
	return fmt.Sprintf("a step along %.0f degrees, %.1f radii towards %.0f", run, l.offset, far)
}

func linesOf(list []foundSeam) (out []seamLine) {
	for _, f := range list {
		out = append(out, f.seamLine)
	}
	return out
}

// seamPoints is the number of points of a cell along and across at which its
// share of a strip is taken.
const seamPoints = 4

// paintSeams returns a row per cell and a column per line: the share of the cell
// beyond it, or in the strip.
func (c *Cells) paintSeams(lines []seamLine) []float64 {
	out := make([]float64, c.N*len(lines))
	for i := range c.N {
		row, breadth := out[i*len(lines):(i+1)*len(lines)], c.breadth(i)/seamPoints
		for n := range seamPoints * seamPoints {
			east, north := c.inside(i, partMiddle(n%seamPoints), partMiddle(n/seamPoints))
			for j, l := range lines {
				row[j] += l.share(east, north, breadth) / (seamPoints * seamPoints)
			}
		}
	}
	return out
}

// partMiddle is the middle of part k of a cell, as a share of its size from the
// middle of all.
func partMiddle(k int) float64 { return (float64(k)+0.5)/seamPoints - 0.5 }

// share is the share of ground of some breadth at a place that lies beyond the
// line or in the strip.
func (l seamLine) share(east, north, breadth float64) float64 {
	sin, cos := math.Sincos(l.azimuth * math.Pi / 180)
	at := east*sin + north*cos - l.offset
	share := within01(0.5 + at/breadth)
	if l.width > 0 {
		share -= within01(0.5 + (at-l.width)/breadth)
	}
	return share
}

func within01(v float64) float64 { return math.Max(0, math.Min(1, v)) }
