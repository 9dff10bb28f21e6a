package ejecta

import (
	"math"
	"math/rand/v2"
)

// Asymmetry is the outcome of the directional tests of one crater.
type Asymmetry struct {
	P        float64
	Families []FamilyTest
	// Omnibus is the chi-square of the harmonics up to order 6, 12 degrees of
	// freedom: the statistic of the null scale.
	Omnibus float64
}

// rayDraws is the number of simulated nulls behind the p of irregular rays.
const rayDraws = 300

// test runs the template bank. full says that coverage is complete enough for
// the Cauchy rule; otherwise the families are combined by Bonferroni. seed
// fixes the simulated nulls of the ray test.
func (d *Directional) test(bl Blanket, full bool, seed uint64) Asymmetry {
	a := Asymmetry{}
	chi1, p1 := d.omnibus(1)
	chi6, p6 := d.omnibus(6)
	a.Omnibus = chi6
	a.Families = append(a.Families, FamilyTest{"first harmonic", chi1, p1}, FamilyTest{"harmonics to 6", chi6, p6})
	folds := FamilyTest{Name: "regular rays", P: 1}
	for _, f := range bank {
		sc := d.scan(f)
		u := sc.z[sc.best]
		p := TubeP(sc.length, u)
		switch f {
		case foldThree, foldFour, foldFive:
			if 3*p < folds.P || folds.Z == 0 {
				folds.Z, folds.P = u, math.Min(1, math.Min(folds.P, 3*p))
			}
		default:
			a.Families = append(a.Families, FamilyTest{f.name, u, p})
		}
	}
	a.Families = append(a.Families, folds, d.testRays(bl, seed))
	a.P = combine(a.Families, full)
	return a
}

// testRays runs the non-negative fit; under a strong blanket, where the
// constraint says nothing, the harmonics to order 8 take its place.
func (d *Directional) testRays(bl Blanket, seed uint64) FamilyTest {
	if bl.Z > looseBlanket || !(bl.Sigma > 0) {
		chi2, p := d.omnibus(8)
		return FamilyTest{"irregular rays", chi2, p}
	}
	r := d.newRayTest(bl.Z*bl.Sigma, bl.Sigma*bl.Sigma)
	t := r.statistic(d.Score[:], r.amplitude)
	m := roughRays(bl.Z)
	if m.p(t) < 0.3 {
		m = r.moments(d, rayDraws, rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15)))
	}
	return FamilyTest{"irregular rays", t, m.p(t)}
}

// looseBlanket is the blanket score above which non-negative lobes are no
// constraint.
const looseBlanket = 6

// rayWeight is the weight of the irregular rays, the last family; the others
// share the rest equally. Their own p is conservative, and at half of the weight
// one-sided and bilateral blankets near the limit of detection lost more than
// rays gained.
const rayWeight = 0.3

// combine joins the families' p-values. Under full coverage by the Cauchy rule,
// else by the weighted Bonferroni bound.
func combine(families []FamilyTest, full bool) float64 {
	p, w := make([]float64, len(families)), make([]float64, len(families))
	least := 1.0
	for i, f := range families {
		p[i], w[i] = f.P, (1-rayWeight)/float64(len(families)-1)
		if i == len(families)-1 {
			w[i] = rayWeight
		}
		least = math.Min(least, p[i]/w[i])
	}
	if full {
		return CauchyP(p, w)
	}
	return least
}

// axisFit describes the best direction of one template shape.
type axisFit struct {
	azimuth   float64 // degrees
	period    float64 // degrees: 360, or 180 for two opposite lobes
	z         float64
	amplitude float64 // of f - 1 at rho = 1
	se        float64
	ci68      []Interval
	ci95      []Interval
}

// fitAxis finds the direction of a shape and its profile interval
// {t: z^2max - z^2(t) <= chi2}, all pieces. The interval is profiled over the
// others of the shape's class too: how wide the lobe is, is not known either,
// and the interval of the best shape alone is too narrow.
func (d *Directional) fitAxis(s shape, others []shape, period float64) axisFit {
	const step = 1.0
	n := int(period / step)
	z := make([]float64, n)
	d.raise(z, s, step)
	best := argMax(z)
	t := float64(best)*step + step*parabola(z[(best+n-1)%n], z[best], z[(best+1)%n])
	f := axisFit{azimuth: math.Mod(t+period, period), period: period}
	a := s.turned(f.azimuth * math.Pi / 180)
	num, g := d.score(&a)
	f.z, f.amplitude, f.se = num/math.Sqrt(g), num/g, 1/math.Sqrt(g)
	peak := math.Max(z[best]*z[best], f.z*f.z)
	for _, o := range others {
		d.raise(z, o, step)
	}
	f.ci68 = piecesAbove(z, peak-chi68, step)
	f.ci95 = piecesAbove(z, peak-chi95, step)
	return f
}

// raise lifts a profile to the scores of a shape at every step degrees.
func (d *Directional) raise(z []float64, s shape, step float64) {
	for i := range z {
		a := s.turned(float64(i) * step * math.Pi / 180)
		z[i] = math.Max(z[i], d.z(&a))
	}
}

func argMax(z []float64) (best int) {
	for i, v := range z {
		if v > z[best] {
			best = i
		}
	}
	return best
}

// parabola is the offset, in steps, of the top of the parabola through three
// equally spaced values.
func parabola(a, b, c float64) float64 {
	den := a - 2*b + c
	if den >= 0 {
		return 0
	}
	return math.Max(-0.5, math.Min(0.5, 0.5*(a-c)/den))
}

// piecesAbove returns the arcs where z^2 >= limit on a closed circle of
// values; one piece that covers everything when all are.
func piecesAbove(z []float64, limit, step float64) []Interval {
	n := len(z)
	in := func(i int) bool { v := z[(i+n)%n]; return v*v >= limit }
	start := -1
	for i := range n {
		if in(i) && !in(i-1) {
			start = i
			break
		}
	}
	if start < 0 {
		if limit <= 0 || in(0) {
			return []Interval{{0, float64(n) * step}}
		}
		return nil
	}
	var out []Interval
	for i := start; i < start+n; {
		if !in(i) {
			i++
			continue
		}
		j := i
		for j < start+n && in(j) {
			j++
		}
		out = append(out, Interval{step * (float64(i) - edge(z, i-1, i, limit)), step * (float64(j-1) + edge(z, j, j-1, limit))})
		i = j
	}
	return out
}

// edge is how far, in steps, beyond the inside node in the limit is crossed.
func edge(z []float64, out, in int, limit float64) float64 {
	n := len(z)
	a, b := z[(in+n)%n], z[(out+n)%n]
	a, b = a*a, b*b
	if a <= b {
		return 0.5
	}
	return (a - limit) / (a - b)
}

// length is the total length of pieces in degrees.
func length(pieces []Interval) float64 {
	s := 0.0
	for _, p := range pieces {
		s += p.Hi - p.Lo
	}
	return s
}
