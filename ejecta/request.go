package ejecta

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// Request is what a new observation of a crater has to bring, for one species.
type Request struct {
	Wedges    []Interval // azimuths to cover, degrees; one of 0 to 360 is all round
	WedgeWhy  string
	RangeLo   float64    // crater radii
	RangeHi   float64    // where the excess is lost now
	RangeHi95 [2]float64 // where it would be lost at the ends of the interval of the rim excess
	Reference [2]float64 // ranges of the ground that gives the background
	Pixel     float64    // largest pixel, crater radii
	Settle    Settle
	Light     Light
	Change    []string // what results would change the verdict
	Alarms    []AskedAlarm
}

// AskedAlarm is a raised alarm with what would settle it.
type AskedAlarm struct{ Name, Detail, Ask string }

// NewRequest works out a request from a measured finding. level is the score
// that settles the question, alpha the level of the survey's claims; seen are the
// local times of all maps of the quantity, hours.
func NewRequest(f *Finding, level, alpha float64, seen ...float64) Request {
	r := Request{RangeLo: 1, Settle: f.Settle(level), Light: f.light(seen)}
	r.Wedges, r.WedgeWhy = f.wedges()
	r.RangeHi, r.RangeHi95 = f.outerRange()
	r.Reference = f.referenceRange()
	r.Pixel = r.pixel(f)
	r.Change = r.changes(f, alpha)
	for _, a := range f.Alarms {
		if a.Raised {
			r.Alarms = append(r.Alarms, AskedAlarm{a.Name, a.Detail, AskFor(a.Name)})
		}
	}
	return r
}

var allRound = []Interval{{0, 360}}

// gapFlank is the ground on both sides of a gap that shows its edges, degrees.
const gapFlank = 30

// wedges are the azimuths that hold the pattern: each lobe as wide as it is,
// and as the 95 % interval of the axis moves it; a gap with both flanks.
func (f *Finding) wedges() ([]Interval, string) {
	slack := f.axisSlack()
	if slack[1]-slack[0] > 180 {
		return allRound, "the axis is not known well enough to leave a side out"
	}
	var out []Interval
	for _, l := range f.Lobes {
		out = append(out, Interval{l.Azimuth - l.Width/2 + slack[0], l.Azimuth + l.Width/2 + slack[1]})
	}
	if f.Pattern == PatternGap {
		half := f.GapWidth/2 + gapFlank
		out = append(out, Interval{f.Axis - half + slack[0], f.Axis + half + slack[1]})
	}
	total := 0.0
	slices.SortFunc(out, func(a, b Interval) int { return cmp.Compare(normalInterval(a).Lo, normalInterval(b).Lo) })
	for i := range out {
		out[i] = normalInterval(out[i])
		total += out[i].Hi - out[i].Lo
	}
	switch {
	case !f.Pattern.Directional():
		return allRound, "no direction is claimed"
	case len(out) == 0 || total >= 330 || math.IsNaN(total):
		return allRound, "the wedges leave little out"
	case f.Pattern == PatternGap:
		return out, fmt.Sprintf("the gap with %d degrees of both flanks and the interval of its middle", gapFlank)
	}
	return out, "the width of each lobe and the 95 % interval of its azimuth"
}

// axisSlack is how far the 95 % interval reaches to both sides of the axis; the
// widest pieces count.
func (f *Finding) axisSlack() (slack [2]float64) {
	period := 360.0
	if f.Pattern == PatternBilateral {
		period = 180
	}
	for _, iv := range f.Axis95 {
		slack[0] = math.Min(slack[0], math.Remainder(iv.Lo-f.Axis, period))
		slack[1] = math.Max(slack[1], math.Remainder(iv.Hi-f.Axis, period))
	}
	return slack
}

// normalInterval starts in 0..360.
func normalInterval(iv Interval) Interval {
	turn := 360 * math.Floor(iv.Lo/360)
	return Interval{iv.Lo - turn, iv.Hi - turn}
}

// outerRange is where the excess is lost, and by A rho^-b where it would be lost
// at the ends of the interval of A; at least the ejecta range, at most the
// rings.
func (f *Finding) outerRange() (at float64, ends [2]float64) {
	at = excessOuter
	if f.Extent > at {
		at = f.Extent
	}
	limit := math.Max(f.lastRing(), at)
	b := f.Decay
	if math.IsNaN(b) {
		b = directionalDecay
	}
	for i, a := range f.RimExcess95 {
		ends[i] = math.Min(math.Max(at*math.Pow(math.Max(a/f.RimExcess, 0), 1/b), excessOuter), limit)
	}
	if !(f.RimExcess > 0) || math.IsNaN(f.Extent) || math.IsNaN(ends[0]+ends[1]) {
		ends = [2]float64{math.NaN(), math.NaN()}
	}
	return at, ends
}

func (f *Finding) lastRing() float64 {
	if n := len(f.Radial); n > 0 {
		return f.Radial[n-1].RhoHi
	}
	return math.NaN()
}

// referenceRange is the far field that the background rests on now, and
// customary where no rings are kept.
func (f *Finding) referenceRange() [2]float64 {
	last := f.lastRing()
	if math.IsNaN(last) {
		last = 8
	}
	return [2]float64{math.Min(backgroundInner, 0.5*last), last}
}

// FullPixels is the rim radius in pixels from which on the tests have all rings
// and sectors, see [NewLayout].
const FullPixels = 8.0

// cellPixels is the number of pixels wanted in the part of the smallest ring
// that lies in a wedge: its mean then has a spread that can be judged.
const cellPixels = 30

// pixel is the largest pixel with which the directional tests are whole and the
// innermost ring, 1.1 to 1.3 radii, holds enough pixels in each wedge.
func (r *Request) pixel(f *Finding) float64 {
	best := 1 / FullPixels
	for _, w := range r.Wedges {
		area := (1.3*1.3 - 1.1*1.1) / 2 * (w.Hi - w.Lo) * math.Pi / 180
		best = math.Min(best, math.Sqrt(area/cellPixels))
	}
	return best
}
