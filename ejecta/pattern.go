package ejecta

import (
	"math"
	"sort"
)

// penalty is the price of one parameter in the pattern score, in chi-square:
// between Akaike's 2 and the Bayesian log n of a few hundred cells.
const penalty = 3.5

// ambiguousLead is the score difference below which a class is called
// ambiguous.
const ambiguousLead = 2

// DefaultAlpha is the p below which an excess or a direction is claimed, and a
// direction classified, unless the settings say otherwise.
const DefaultAlpha = 0.01

// candidate is one shape of a class. Its weight counts where directions are
// averaged over the shapes of the class: the widest lobe, which presumes least,
// has half of it.
type candidate struct {
	pattern Pattern
	shape   shape
	period  float64
	width   float64 // of a gap, degrees
	weight  float64
	turned  [][2 * Orders]float64 // every axisStep degrees
}

func newCandidate(p Pattern, s shape, period, width, weight float64) candidate {
	return candidate{p, s, period, width, weight, newFamily(string(p), s, period, axisStep).turned}
}

var candidates = []candidate{
	newCandidate(PatternOneSided, cosineShape(), 360, 0, 3),
	newCandidate(PatternOneSided, vonMisesShape(2), 360, 0, 1),
	newCandidate(PatternOneSided, vonMisesShape(4), 360, 0, 1),
	newCandidate(PatternOneSided, vonMisesShape(8), 360, 0, 1),
	newCandidate(PatternBilateral, foldShape(2, 4), 180, 0, 2),
	newCandidate(PatternBilateral, foldShape(2, 8), 180, 0, 1),
	newCandidate(PatternBilateral, foldShape(2, 14), 180, 0, 1),
	newCandidate(PatternGap, gapShape(70), 360, 70, 1),
	newCandidate(PatternGap, gapShape(100), 360, 100, 1),
	newCandidate(PatternGap, gapShape(140), 360, 140, 1),
}

// rayShape is the lobe used to place single rays.
var (
	rayShape  = vonMisesShape(35)
	rayFamily = newFamily("ray", rayShape, 360, 3)
)

// raySpacing is the least angle between two rays, degrees.
const raySpacing = 30

// classFit is the best fit of one pattern class.
type classFit struct {
	pattern Pattern
	score   float64
	best    *candidate // nil for rays
	shape   shape
	width   float64 // of a gap, degrees
	axis    axisFit
	rays    []rayFit
}

type rayFit struct {
	azimuth, amplitude, se float64
	shape                  shape
}

// classify scores the directional classes by chi-square reduction less the
// penalty and returns them best first, the first with its axis.
func (d *Directional) classify() []classFit {
	out := d.ranked()
	if out[0].pattern != PatternRays {
		out[0].axis = d.fitAxis(out[0].best)
	} else {
		out[0].rays = d.shaped(out[0].rays)
	}
	return out
}

// lead is the best class with the direction where it scores most, without
// intervals.
func (d *Directional) lead() classFit {
	out := d.ranked()[0]
	if out.pattern != PatternRays {
		out.axis = d.peak(out.best)
	}
	return out
}

// ranked is the classes, best first, without axes.
func (d *Directional) ranked() []classFit {
	best := map[Pattern]classFit{}
	for i := range candidates {
		c := &candidates[i]
		f := d.quickAxis(c)
		score := f*f - 2*penalty
		if old, ok := best[c.pattern]; !ok || score > old.score {
			best[c.pattern] = classFit{pattern: c.pattern, score: score, best: c, shape: c.shape, width: c.width}
		}
	}
	if r := d.fitRays(); len(r.rays) > 0 {
		best[PatternRays] = r
	}
	var out []classFit
	for _, p := range []Pattern{PatternOneSided, PatternBilateral, PatternRays, PatternGap} {
		if c, ok := best[p]; ok {
			out = append(out, c)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].score > out[j].score })
	return out
}

// quickAxis is the largest score of a shape over a 3-degree grid.
func (d *Directional) quickAxis(c *candidate) float64 {
	best := 0.0
	for i := 0; i < len(c.turned); i += 3 {
		best = math.Max(best, d.z(&c.turned[i]))
	}
	return best
}

// fitRays places three to five rays greedily, at least raySpacing apart, with
// non-negative amplitudes, and keeps the number with the best score. The
// parameter count 2n - 1 follows from two per ray less the common mean.
func (d *Directional) fitRays() classFit {
	out := classFit{pattern: PatternRays, score: math.Inf(-1)}
	table := d.rayTable()
	var chosen []int
	for n := 1; n <= 5; n++ {
		next := table.next(chosen)
		if next < 0 {
			break
		}
		chosen = append(chosen, next)
		table.choose(next)
		amp, se, chi := table.joint(chosen)
		if n < 3 {
			continue
		}
		if score := chi - penalty*(2*float64(n)-2/penalty); score > out.score {
			out.score = score
			out.rays = out.rays[:0]
			for i, c := range chosen {
				if amp[i] > 0 {
					out.rays = append(out.rays, rayFit{float64(c) * rayFamily.step, amp[i], se[i], rayShape})
				}
			}
		}
	}
	if len(out.rays) < 3 {
		return classFit{pattern: PatternRays, score: math.Inf(-1)}
	}
	sort.SliceStable(out.rays, func(i, j int) bool { return out.rays[i].amplitude > out.rays[j].amplitude })
	return out
}

// rayTable holds the score of every single ray, and what its products with
// others need.
type rayTable struct {
	score []float64
	info  [][2 * Orders]float64 // information times template
	own   []float64             // information of each
	rows  map[int][]float64     // products of those chosen with all
	fit   rayTest               // of the rays at hand
}

func (d *Directional) rayTable() *rayTable {
	t := &rayTable{rows: map[int][]float64{}}
	for i := range rayFamily.turned {
		a := &rayFamily.turned[i]
		var w [2 * Orders]float64
		for j := range w {
			w[j] = dot(d.Info[j*2*Orders:(j+1)*2*Orders], a[:])
		}
		t.score, t.info = append(t.score, dot(a[:], d.Score[:])), append(t.info, w)
		t.own = append(t.own, dot(w[:], a[:]))
	}
	return t
}

// choose keeps the products of a ray with all others.
func (t *rayTable) choose(i int) {
	row := make([]float64, len(t.own))
	for j := range row {
		row[j] = dot(t.info[i][:], rayFamily.turned[j][:])
	}
	t.rows[i] = row
}

// product of two rays of which one at least was chosen, or of one with itself.
func (t *rayTable) product(i, j int) float64 {
	switch row, chosen := t.rows[i]; {
	case i == j:
		return t.own[i]
	case chosen:
		return row[j]
	}
	return t.rows[j][i]
}

// next finds the direction whose addition raises the joint fit most.
func (t *rayTable) next(chosen []int) int {
	best, gain := -1, 0.0
	for i := range rayFamily.turned {
		if tooClose(i, chosen) {
			continue
		}
		if chi := t.gain(append(chosen[:len(chosen):len(chosen)], i)); chi > gain {
			best, gain = i, chi
		}
	}
	return best
}

func tooClose(t int, chosen []int) bool {
	for _, c := range chosen {
		a := math.Abs(float64(t-c)) * rayFamily.step
		if math.Min(a, 360-a) < raySpacing {
			return true
		}
	}
	return false
}

// gain is the chi-square reduction of non-negative rays in given directions.
func (t *rayTable) gain(dirs []int) float64 {
	n := len(dirs)
	r := &t.fit
	r.n, r.gram = n, resizedTo(r.gram, n*n)
	var s [rayLobes]float64
	for i, a := range dirs {
		s[i] = t.score[a]
		for j, b := range dirs {
			r.gram[i*n+j] = t.product(a, b)
		}
	}
	_, chi := r.fit(s[:n])
	return chi
}

// joint fits non-negative amplitudes and returns them with their errors and the
// chi-square reduction.
func (t *rayTable) joint(dirs []int) (amp, se []float64, chi float64) {
	chi = t.gain(dirs)
	n := len(dirs)
	amp, se = append([]float64(nil), t.fit.work.a[:n]...), make([]float64, n)
	if inv := inverse(t.fit.gram, n); inv != nil {
		for i := range se {
			se[i] = math.Sqrt(inv[i*n+i])
		}
	}
	return amp, se, chi
}

func resizedTo(s []float64, n int) []float64 {
	if cap(s) < n {
		return make([]float64, n)
	}
	return s[:n]
}
