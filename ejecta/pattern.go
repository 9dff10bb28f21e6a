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

type candidate struct {
	pattern Pattern
	shape   shape
	period  float64
	width   float64 // of a gap, degrees
}

var candidates = []candidate{
	{PatternOneSided, cosineShape(), 360, 0},
	{PatternOneSided, vonMisesShape(2), 360, 0},
	{PatternOneSided, vonMisesShape(4), 360, 0},
	{PatternOneSided, vonMisesShape(8), 360, 0},
	{PatternBilateral, foldShape(2, 4), 180, 0},
	{PatternBilateral, foldShape(2, 8), 180, 0},
	{PatternBilateral, foldShape(2, 14), 180, 0},
	{PatternGap, gapShape(70), 360, 70},
	{PatternGap, gapShape(100), 360, 100},
	{PatternGap, gapShape(140), 360, 140},
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
	shape   shape
	width   float64 // of a gap, degrees
	axis    axisFit
	rays    []rayFit
}

type rayFit struct{ azimuth, amplitude, se float64 }

// classify scores the directional classes by chi-square reduction less the
// penalty and returns them best first.
func (d *Directional) classify() []classFit {
	best := map[Pattern]classFit{}
	for _, c := range candidates {
		f := d.quickAxis(c.shape, c.period)
		score := f*f - 2*penalty
		if old, ok := best[c.pattern]; !ok || score > old.score {
			best[c.pattern] = classFit{pattern: c.pattern, score: score, shape: c.shape, width: c.width, axis: axisFit{period: c.period}}
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
	if out[0].pattern != PatternRays {
		out[0].axis = d.fitAxis(out[0].shape, out[0].axis.period)
	}
	return out
}

// quickAxis is the largest score of a shape over a 3-degree grid.
func (d *Directional) quickAxis(s shape, period float64) float64 {
	best := 0.0
	for t := 0.0; t < period; t += 3 {
		a := s.turned(t * math.Pi / 180)
		best = math.Max(best, d.z(&a))
	}
	return best
}

// fitRays places three to five rays greedily, at least raySpacing apart, with
// non-negative amplitudes, and keeps the number with the best score. The
// parameter count 2n - 1 follows from two per ray less the common mean.
func (d *Directional) fitRays() classFit {
	out := classFit{pattern: PatternRays, score: math.Inf(-1)}
	var chosen []int
	for n := 1; n <= 5; n++ {
		next := d.nextRay(chosen)
		if next < 0 {
			break
		}
		chosen = append(chosen, next)
		amp, se, chi := d.jointRays(chosen)
		if n < 3 {
			continue
		}
		if score := chi - penalty*(2*float64(n)-2/penalty); score > out.score {
			out.score = score
			out.rays = out.rays[:0]
			for i, c := range chosen {
				if amp[i] > 0 {
					out.rays = append(out.rays, rayFit{float64(c) * rayFamily.step, amp[i], se[i]})
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

// nextRay finds the direction whose addition raises the joint fit most.
func (d *Directional) nextRay(chosen []int) int {
	best, gain := -1, 0.0
	for t := range rayFamily.turned {
		if tooClose(t, chosen) {
			continue
		}
		_, _, chi := d.jointRays(append(append([]int(nil), chosen...), t))
		if chi > gain {
			best, gain = t, chi
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

// jointRays fits non-negative amplitudes of rays in given directions and
// returns them with their errors and the chi-square reduction.
func (d *Directional) jointRays(dirs []int) (amp, se []float64, chi float64) {
	n := len(dirs)
	r := &rayTest{gram: make([]float64, n*n), n: n}
	s := make([]float64, n)
	for i, t := range dirs {
		a := &rayFamily.turned[t]
		s[i] = dot(a[:], d.Score[:])
		for j, u := range dirs {
			r.gram[i*n+j] = d.product(a, &rayFamily.turned[u])
		}
	}
	amp, chi = r.fit(s)
	se = make([]float64, n)
	if inv := inverse(r.gram, n); inv != nil {
		for i := range se {
			se[i] = math.Sqrt(inv[i*n+i])
		}
	}
	return amp, se, chi
}

func (d *Directional) product(a, b *[2 * Orders]float64) float64 {
	s := 0.0
	for i, v := range a {
		if v != 0 {
			s += v * dot(d.Info[i*2*Orders:(i+1)*2*Orders], b[:])
		}
	}
	return s
}
