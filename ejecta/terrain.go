package ejecta

import (
	"fmt"
	"math"
)

// Ground of two kinds that meet near a crater makes directions of its own: the
// brighter side passes for a lobe, the darker one for a gap. Unlike a blanket
// such ground does not fall off with range and goes on through the far field.

// contact is a straight boundary between two levels of ground: beyond the line
// at a distance from the centre, square to an azimuth, the level is higher. Or it
// is a spot.
type contact struct {
	azimuth, offset float64 // degrees, crater radii
	size            float64 // of a spot there, crater radii; 0 for a line
}

// contacts is the bank of boundaries that are tried.
var contacts = append(contactBank([]float64{0, 1, 2, 3.5}, 24), spotBank(24)...)

func contactBank(offsets []float64, directions int) (out []contact) {
	for _, d := range offsets {
		n := directions
		if d == 0 {
			n /= 2 // a line through the centre is its own opposite
		}
		for i := range n {
			out = append(out, contact{360 * float64(i) / float64(directions), d, 0})
		}
	}
	return out
}

// breadth is the size of a cell, crater radii: the larger of its depth and
// length.
func (c *Cells) breadth(i int) float64 {
	l := c.Layout
	if l.Blocks {
		return c.sides[i].breadth()
	}
	k := c.Ring[i]
	depth := l.Edges[k+1] - l.Edges[k]
	return math.Max(depth, l.arc(k)*c.Rho[i])
}

// flatOrders is the highest harmonic of ground that differs by azimuth and
// does not fall off with range.
const flatOrders = 4

// paintFlat returns a row per cell with cos k az and sin k az.
func paintFlat(c *Cells) []float64 {
	out := make([]float64, 0, c.N*2*flatOrders)
	for i := range c.N {
		for k := 1; k <= flatOrders; k++ {
			sin, cos := math.Sincos(float64(k) * c.Az[i])
			out = append(out, cos, sin)
		}
	}
	return out
}

// Limits of the terrain alarms.
const (
	maxContacts   = 3
	contactPrice  = 3 * penalty // azimuth, place and height
	deficitLimit  = 3.0         // standard errors
	deficitDepth  = 0.25        // of what the pattern takes away on its lowest side
	sameAxis      = 30.0        // degrees
	contactShare  = 1e-6        // of a column's norm that must be left
	contactAlarm  = "terrain_contact"
	deficitAlarm  = "below_background"
	noDirectionOf = "no direction was found"
)

// terrain is what the ground explains of one crater's map.
type terrain struct {
	found []contact // none when ground that does not fall off explains more
	score float64   // chi-square less the price of the parameters
	p     float64   // of the direction beside it
	other bool      // the direction beside it is another one
	whole bool      // a further boundary would explain less than the blanket: the ground is understood
	best  classFit  // the direction beside it

	direction *Directional
	test      Asymmetry
}

// groundTest finds the model of the ground that, with the best blanket beside
// it, explains more: boundaries, or harmonics that do not fall off.
func (e *Evidence) groundTest(m *Measurement, set Settings, in AlarmInputs) terrain {
	variance := e.Variance * in.NullScale
	cut := e.placeContacts(m, set, in)
	g := e.ground.widened(e.Gram, paintFlat(e.ground.cells))
	flat := terrain{score: blockScore(directionSweep(g, e.nuisance(set)), e.Gram.P, variance)}
	flat.setDirection(e.directionBeside(g, m, set, in))
	t := cut
	if flat.total() > cut.total() {
		t = flat
	}
	t.best = t.direction.classify()[0]
	t.test = t.direction.test(m.Blanket, e.Coverage >= fullCoverage, in.Seed)
	t.p, t.other = t.test.P, !sameDirection(m.Classes[0], t.best)
	return t
}

// setDirection takes a direction without its intervals.
func (t *terrain) setDirection(d *Directional) { t.direction, t.best = d, d.lead() }

// total is what ground and blanket explain together.
func (t *terrain) total() float64 { return t.score + math.Max(t.best.score, 0) }

// blockScore is the chi-square that the columns from first on take from the
// value together, less their price.
func blockScore(sw *Gram, first int, variance float64) float64 {
	n := sw.P - first
	block, value := sw.sub(span(first, sw.P))
	inv := inverse(block, n)
	if inv == nil {
		return math.Inf(-1)
	}
	return quadratic(inv, n, value)/variance - penalty*float64(n)
}

// sameDirection reports whether two fits point the same way. A gap is a lobe
// towards its opposite; the strongest of several rays may change.
func sameDirection(a, b classFit) bool {
	toA, oneA := towards(a)
	toB, oneB := towards(b)
	if a.pattern == PatternRays || b.pattern == PatternRays || oneA != oneB {
		return a.pattern == b.pattern
	}
	return math.Abs(math.Remainder(toA-toB, a.axis.period)) < sameAxis
}

// towards is the direction of the excess, and whether there is only one.
func towards(c classFit) (azimuth float64, one bool) {
	if c.pattern == PatternGap {
		return c.axis.azimuth + 180, true
	}
	return c.axis.azimuth, c.pattern == PatternOneSided
}

// placeContacts chooses boundaries one after the other, the best of the bank and
// then the best near it, while one explains more than the best blanket beside
// those found and pays its price.
func (e *Evidence) placeContacts(m *Measurement, set Settings, in AlarmInputs) (t terrain) {
	variance, nuisance := e.Variance*in.NullScale, e.nuisance(set)
	t.setDirection(m.Direction)
	for range maxContacts {
		rough, gain := e.bestContact(t.found, e.ground.contacts(), nuisance, variance)
		if !(gain > math.Max(t.best.score, 0)) {
			t.whole = true
			break
		}
		fine, better := e.bestContact(t.found, e.ground.newBank(rough.near()), nuisance, variance)
		t.found = append(t.found, fine)
		t.score += math.Max(gain, better)
		cut := e.ground.widened(e.Gram, paintContacts(e.ground.cells, t.found))
		t.setDirection(e.directionBeside(cut, m, set, in))
	}
	return t
}

// near lists the contact and others less than a step of the bank away.
func (k contact) near() (out []contact) {
	if k.spot() {
		return k.nearSpots()
	}
	for turn := -7.5; turn <= 7.5; turn += 2.5 {
		for move := -0.6; move < 0.7; move += 0.2 {
			out = append(out, contact{k.azimuth + turn, k.offset + move, 0})
		}
	}
	return out
}

// bestContact is the one of a bank that explains most beside those found, less
// its price.
func (e *Evidence) bestContact(found []contact, b *whiteBank, nuisance []int, variance float64) (contact, float64) {
	added := paintContacts(e.ground.cells, found)
	g := *e.ground.widened(e.Gram, added)
	g.beside = e.ground.beside(b, &g, added)
	left := directionSweep(&g, append(span(e.Gram.P, g.P), nuisance...)).beside
	best, gain := contact{}, 0.0
	for j, k := range b.list {
		if v := left.own[j]; v > contactShare*b.own[j] {
			if s := left.row(j)[colValue]; s*s/v/variance-k.price() > gain {
				best, gain = k, s*s/v/variance-k.price()
			}
		}
	}
	return best, gain
}

// directionBeside is the directional content with the columns of a widened
// matrix projected out.
func (e *Evidence) directionBeside(g *Gram, m *Measurement, set Settings, in AlarmInputs) *Directional {
	nuisance := append(e.nuisance(set), span(e.Gram.P, g.P)...)
	return directional(g, nuisance, e.centrePrior(m.Blanket), e.Variance*in.NullScale)
}

// contactAlarmOf distrusts a direction that boundaries of the ground explain
// better than any blanket does, unless it is plain beside them: the same one, or
// any when nothing of the ground is left to be explained, and then the
// measurement takes it over. The value is the p of the direction beside the
// ground.
func (e *Evidence) contactAlarmOf(m *Measurement, set Settings, in AlarmInputs) Alarm {
	switch {
	case len(m.Classes) == 0:
		return notRun(contactAlarm, noDirectionOf)
	case e.ground == nil:
		return notRun(contactAlarm, "the ground round the crater was not kept")
	}
	alpha := set.WithDefaults().Alpha
	t, lead := e.groundTest(m, set, in), m.Classes[0]
	a := over(contactAlarm, t.p, alpha, "p beside the ground",
		"%s can explain a chi-square of %.0f and the pattern %.0f, less their parameters; beside them p of the direction %s",
		t.words(), t.score, lead.score, probability(t.p))
	if t.alongTrack(in.track()) {
		a.Detail += "; the boundary runs along the track, as a seam would"
	}
	if t.other {
		a.Detail += ", and it is another: " + t.best.words()
	}
	a.Raised = (a.Raised || t.other && !t.whole) && t.score > lead.score
	if !a.Raised && t.whole && t.score > lead.score {
		a.Detail += "; the direction given is the one beside it"
		e.adopt(m, &t, alpha)
	}
	return a
}

// adopt gives a measurement the direction found beside the ground: the other is
// part ground.
func (e *Evidence) adopt(m *Measurement, t *terrain, alpha float64) {
	m.Direction, m.Omnibus, m.Finding.Lobes, m.beside = t.direction, t.test.Omnibus, nil, t.found
	e.putAsymmetry(m, t.test, alpha)
}

// alongTrack reports whether the plainest boundary runs along an axis.
func (t *terrain) alongTrack(track float64) bool {
	return len(t.found) > 0 && !t.found[0].spot() && math.Abs(math.Remainder(t.found[0].azimuth+90-track, 180)) < axisLimit
}

// words names a fit with its direction.
func (c *classFit) words() string {
	if c.pattern == PatternRays {
		return fmt.Sprintf("%s, the strongest at %.0f degrees", c.pattern, c.rays[0].azimuth)
	}
	return fmt.Sprintf("%s at %.0f degrees", c.pattern, c.axis.azimuth)
}

func (t *terrain) words() string {
	if len(t.found) == 0 {
		return "levels of the ground that differ by azimuth and do not fall off"
	}
	plural := "boundary of the ground,"
	switch {
	case t.found[0].spot() && len(t.found) == 1:
		plural = "spot of the ground,"
	case t.found[0].spot():
		plural = "boundaries and spots of the ground, the plainest a spot"
	case len(t.found) > 1:
		plural = "boundaries and spots of the ground, the plainest"
	}
	return fmt.Sprintf("%d %s %.1f radii from the centre at %.0f degrees,",
		len(t.found), plural, math.Abs(t.found[0].offset), t.found[0].bearing())
}

// bearing is the azimuth of the nearest point of the boundary.
func (k contact) bearing() float64 {
	if k.offset < 0 {
		return wrapTurn(k.azimuth+180, 360)
	}
	return wrapTurn(k.azimuth, 360)
}

// deficitAlarmOf distrusts a pattern whose lowest side lies below the
// background: a blanket adds to the ground and takes nothing away. The value is
// the depth in standard errors.
func (e *Evidence) deficitAlarmOf(m *Measurement) Alarm {
	if len(m.Classes) == 0 {
		return notRun(deficitAlarm, noDirectionOf)
	}
	level, taken, se := lowestSide(m)
	a := over(deficitAlarm, -level/se, deficitLimit, "standard errors",
		"the lowest side of the pattern lies %.1f standard errors from the background", level/se)
	a.Raised = a.Raised && level < -deficitDepth*taken
	return a
}

// lowestSide is the fitted excess at the rim on the lowest side of a pattern,
// with its error, and how much the pattern takes from the mean there. Single
// rays take nothing.
func lowestSide(m *Measurement) (level, taken, se float64) {
	lead := m.Classes[0]
	a, sa := m.Blanket.Z*m.Blanket.Sigma, m.Blanket.Sigma
	if lead.pattern == PatternRays {
		return a, -a, sa
	}
	low := lead.shape.lowest()
	taken = -lead.axis.amplitude * low
	return a - taken, taken, math.Hypot(sa, m.Direction.looseSE(&lead)*low)
}

// looseSE is the standard error of the amplitude of a fit whose azimuth is not
// known, to first order: that of the fit where the information is alike in all
// directions, more where a covariate takes the information of one.
func (d *Directional) looseSE(c *classFit) float64 {
	const step = 1e-3 // radians
	at := c.axis.azimuth * math.Pi / 180
	a, next := c.shape.turned(at), c.shape.turned(at+step)
	_, own := d.score(&a)
	_, ahead := d.score(&next)
	for i := range next {
		next[i] -= a[i]
	}
	_, turn := d.score(&next)
	cross := (ahead - own - turn) / 2
	if left := own - cross*cross/turn; left > 0 && turn > 0 {
		return math.Max(c.axis.se, 1/math.Sqrt(left))
	}
	return c.axis.se
}
