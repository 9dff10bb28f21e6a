package study

import (
	"math"
	"math/rand/v2"
	"sort"

	"gonum.org/v1/gonum/mat"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// kind is one pattern of the power table.
type kind struct {
	name     string
	pattern  ejecta.Pattern
	blanket  testblanket.Blanket
	template *template
	family   string // of the engine's bank
}

// kinds are the four patterns, all wholly directional, decay 3.
func kinds() []kind {
	return []kind{
		{"one-sided", ejecta.PatternOneSided, testblanket.Blanket{Pattern: "one-sided"}, cosineTemplate(), "first harmonic"},
		{"bilateral", ejecta.PatternBilateral, testblanket.Blanket{Pattern: "bilateral", Kappa: 8}, bilateralTemplate(), "bilateral"},
		{"irregular rays", ejecta.PatternRays, testblanket.Blanket{Pattern: "rays", Kappa: 35, Rays: irregular}, raysTemplate(), "irregular rays"},
		{"gap", ejecta.PatternGap, testblanket.Blanket{Pattern: "gap", GapWidth: 100}, gapTemplate(100), "gap"},
	}
}

// turnedTo is the blanket of a kind at a direction.
func (k kind) turnedTo(deg float64) testblanket.Blanket {
	b := k.blanket
	b.Amplitude, b.Axis, b.Rays = 1, deg, nil
	for _, r := range k.blanket.Rays {
		b.Rays = append(b.Rays, r+deg)
	}
	return b
}

// directions in which the patterns are planted.
var directions = []float64{11, 74, 137, 200, 263, 326}

// gapBoost raises the amplitude where 40 % of the map is missing.
const gapBoost = 1.35

// powerResult is power against the oracle for one pattern and amplitude.
type powerResult struct {
	world, kind           string
	target                float64
	amplitude             float64 // pixel sigma
	n                     int
	oracle, family, whole int // detections at p < 0.01
	prior                 int // detections with the default centre error allowed for
	withPrior             bool
	bank                  int // detections by the families but irregular rays, equal weights
	right                 int // detected and of the right class
	bound                 float64
	errors                []float64 // axis error over bound, detected, right class
	cover68, cover95      int
	direct                int // with intervals
	all, all68, all95     int // of the right class, detected or not
}

// powerOf plants a kind at the amplitude where the oracle finds the target
// share, on the first sites of the world. The centre is known to the engine as
// it is to the oracle; prior counts what is found when the default centre error
// is allowed for.
func (w *world) powerOf(k kind, target float64, sites int) powerResult {
	r := powerResult{world: w.name, kind: k.name, target: target, withPrior: w.centreError && target > 0.7}
	ideal := w.oracleOf(k)
	r.amplitude = ideal.amplitude(target, w.seed)
	if w.gaps() {
		r.amplitude *= gapBoost
	}
	r.bound = ideal.bound(r.amplitude)
	banks := make([]*bank, len(directions))
	for i, deg := range directions {
		banks[i] = w.bank(k.turnedTo(deg))
	}
	type outcome struct {
		m, prior, all ejecta.Measurement
		oracle        bool
	}
	found := make([]outcome, min(sites, len(w.sites)))
	each(len(found), func(i int) {
		s := &w.sites[i]
		j := i % len(directions)
		e := w.with(s, banks[j], r.amplitude)
		if r.withPrior {
			found[i].prior = e.Measure(ejecta.Settings{}, s.scale, w.seed+uint64(i))
		}
		e.CentreSigma = 1e-9
		found[i].m = e.Measure(ejecta.Settings{}, s.scale, w.seed+uint64(i))
		if target > 0.7 {
			found[i].all = e.Measure(ejecta.Settings{Alpha: 1.1}, s.scale, w.seed+uint64(i))
		}
		if found[i].m.Direction != nil {
			found[i].oracle = w.oracleFinds(k, s, banks[j], r.amplitude)
		}
	})
	for i, f := range found {
		if f.m.Direction == nil {
			continue
		}
		r.n++
		r.count(k, f.m.Finding, directions[i%len(directions)])
		r.countAll(k, f.all.Finding, directions[i%len(directions)])
		if f.oracle {
			r.oracle++
		}
		if f.prior.Direction != nil && f.prior.Finding.AsymmetryP < 0.01 {
			r.prior++
		}
	}
	return r
}

// countAll adds the axis interval of a finding whose class was asked for
// whether the direction was detected or not.
func (r *powerResult) countAll(k kind, f ejecta.Finding, truth float64) {
	if f.Pattern != k.pattern || k.pattern == ejecta.PatternRays {
		return
	}
	r.all++
	if inside(f.Axis68, truth, k.template.period) {
		r.all68++
	}
	if inside(f.Axis95, truth, k.template.period) {
		r.all95++
	}
}

// count adds one finding.
func (r *powerResult) count(k kind, f ejecta.Finding, truth float64) {
	var p []float64
	for _, q := range f.Families {
		if q.Name == k.family && q.P < 0.01 {
			r.family++
		}
		if q.Name != "irregular rays" {
			p = append(p, q.P)
		}
	}
	if ejecta.CauchyP(p, nil) < 0.01 {
		r.bank++
	}
	if !(f.AsymmetryP < 0.01) {
		return
	}
	r.whole++
	if f.Pattern != k.pattern {
		return
	}
	r.right++
	if k.pattern == ejecta.PatternRays {
		return
	}
	period := k.template.period
	r.errors = append(r.errors, math.Remainder(f.Axis-truth, period))
	r.direct++
	if inside(f.Axis68, truth, period) {
		r.cover68++
	}
	if inside(f.Axis95, truth, period) {
		r.cover95++
	}
}

func inside(pieces []ejecta.Interval, deg, period float64) bool {
	for _, p := range pieces {
		d := math.Mod(deg-p.Lo, period)
		if d < 0 {
			d += period
		}
		if d <= p.Hi-p.Lo {
			return true
		}
	}
	return false
}

// rms is the root mean square of the axis errors, and the robust spread 1.4826
// times the median size.
func (r powerResult) rms() (rms, robust float64) {
	if len(r.errors) == 0 {
		return math.NaN(), math.NaN()
	}
	sum := 0.0
	abs := make([]float64, len(r.errors))
	for i, e := range r.errors {
		sum += e * e
		abs[i] = math.Abs(e)
	}
	return math.Sqrt(sum / float64(len(abs))), 1.4826 * ejecta.Median(abs)
}

// oracle knows the covariance and the shape: direction and amplitude are free.
type oracle struct {
	kind    kind
	content []*ejecta.Directional // of amplitude 1 at each direction, full coverage
	family  []*scanned
}

// oracleOf is the oracle of full coverage for the first frame.
func (w *world) oracleOf(k kind) *oracle {
	o := &oracle{kind: k, content: make([]*ejecta.Directional, len(directions)), family: make([]*scanned, len(directions))}
	each(len(directions), func(i int) {
		values := w.frames[0].paint(k.turnedTo(directions[i]))
		o.content[i] = w.reduce(&site{}, w.truth, values).Directions(1)
		o.family[i] = k.template.scan(o.content[i])
	})
	return o
}

// amplitude is the one at which the oracle's test at p < 0.01 has the wanted
// power, by drawing null scores once and adding the signal.
func (o *oracle) amplitude(power float64, seed uint64) float64 {
	const draws = 1500
	rng := rand.New(rand.NewPCG(seed, 77))
	need := make([]float64, draws) // amplitude at which each draw is found
	factors := make([]*mat.TriDense, len(o.content))
	for j, d := range o.content {
		factors[j] = root(d)
	}
	for i := range need {
		j := i % len(o.content)
		l := factors[j]
		z, null := make([]float64, 2*orders), make([]float64, 2*orders)
		for k := range z {
			z[k] = rng.NormFloat64()
			for c := range k + 1 {
				null[k] += l.At(k, c) * z[c]
			}
		}
		need[i] = o.threshold(j, null)
	}
	sort.Float64s(need)
	return need[int(power*draws)]
}

// threshold is the least amplitude at which a null draw plus the signal is
// found, by bisection: detection is all but monotone in the amplitude.
func (o *oracle) threshold(j int, null []float64) float64 {
	unit := math.Sqrt(signal(o.content[j], orders, o.content[j].Score[:]))
	lo, hi := 0.0, 15/unit
	score := make([]float64, len(null))
	for range 20 {
		mid := (lo + hi) / 2
		for i := range score {
			score[i] = null[i] + mid*o.content[j].Score[i]
		}
		if z, _ := o.family[j].largest(score); ejecta.TubeP(o.family[j].length, z) < 0.01 {
			hi = mid
		} else {
			lo = mid
		}
	}
	return hi
}

// bound is the Cramer-Rao bound of the axis, degrees, in quadratic mean over
// the directions.
func (o *oracle) bound(a float64) float64 {
	sum := 0.0
	for i, d := range o.content {
		b := o.kind.template.cramerRao(d, a, directions[i])
		sum += b * b
	}
	return math.Sqrt(sum / float64(len(o.content)))
}

// oracleFinds tests one site with true covariance and true shape, on the same
// values and mask as the engine.
func (w *world) oracleFinds(k kind, s *site, b *bank, a float64) bool {
	d := w.collect(s, w.truth, b.values[s.frame], a).Directions(1)
	if d == nil {
		return false
	}
	family := k.template.scan(d)
	z, _ := family.largest(d.Score[:])
	return ejecta.TubeP(family.length, z) < 0.01
}
