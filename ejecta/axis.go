package ejecta

import "math"

// axisFit describes the direction of a class of shapes. Score and amplitude are
// those of the best shape where it scores most; direction and intervals are of
// all shapes of the class, see [axisCurve].
type axisFit struct {
	azimuth   float64 // degrees
	period    float64 // degrees: 360, or 180 for two opposite lobes
	z         float64
	amplitude float64 // of f - 1 at rho = 1
	se        float64
	ci68      []Interval
	ci95      []Interval
}

// axisStep is the spacing of the directions in which shapes are tried, degrees;
// axisFine is how many steps of the curve between two of them.
const (
	axisStep = 1.0
	axisFine = 8
)

// peak finds the direction where a shape scores most.
func (d *Directional) peak(c *candidate) axisFit {
	z := d.along(c)
	n, best := len(z), argMax(z)
	t := axisStep * (float64(best) + parabola(z[(best+n-1)%n], z[best], z[(best+1)%n]))
	f := axisFit{azimuth: math.Mod(t+c.period, c.period), period: c.period}
	f.z = d.measure(&f, c.shape)
	return f
}

// measure takes the amplitude of a shape at an azimuth, and returns its score.
func (d *Directional) measure(f *axisFit, s shape) float64 {
	a := s.turned(f.azimuth * math.Pi / 180)
	num, g := d.score(&a)
	f.amplitude, f.se = num/g, 1/math.Sqrt(g)
	return num / math.Sqrt(g)
}

// along is the score of a shape in all directions.
func (d *Directional) along(c *candidate) []float64 {
	z := make([]float64, len(c.turned))
	for i := range z {
		z[i] = d.z(&c.turned[i])
	}
	return z
}

// fitAxis finds the direction of a class: the middle of that piece of the 95 %
// interval which holds the most likely direction, and both intervals. The
// amplitude is the one there: where a covariate takes the information of one
// direction all others score alike, and near it amplitudes have no bound.
func (d *Directional) fitAxis(lead *candidate) axisFit {
	f := d.peak(lead)
	c := d.axisCurve(lead.pattern, lead.period)
	low68, low95 := c.level(0.6826894921), c.level(0.95)
	f.ci68 = piecesAbove(c.log, low68, c.step)
	f.ci95 = piecesAbove(c.log, low95, c.step)
	f.azimuth = c.middle(low95)
	d.measure(&f, lead.shape)
	return f
}

// axisCurve is how likely each direction of an axis is.
//
// How wide a lobe is, and how strong, is as unknown as where it points. The
// interval {t: z^2max - z^2(t) <= chi^2} of the best shape takes the width for
// known, and where noise made the best shape too narrow it is too narrow too;
// taking the largest score of all shapes in each direction mends half of that,
// since the narrow one still sets the top. So the likelihood is averaged over
// the shapes of the class, and over amplitudes a >= 0 in units of their error:
//
//	L(t) = sum_s w_s int_0^inf exp(a z_s(t) - a^2/2) da
//
// All directions are alike beforehand, and the part of L that holds 68 or 95 %
// covers the truth as often when shape and amplitude are known (Pitman 1939,
// Biometrika 30, 391, from memory); how near that comes when they are not is
// what TestAxisIntervals holds.
type axisCurve struct {
	log    []float64 // logarithm of the density, the largest 0
	step   float64   // degrees
	period float64
}

func (d *Directional) axisCurve(p Pattern, period float64) axisCurve {
	log := make([]float64, int(period/axisStep))
	for i := range log {
		log[i] = math.Inf(-1)
	}
	for k := range candidates {
		c := &candidates[k]
		if c.pattern != p {
			continue
		}
		for i, z := range d.along(c) {
			log[i] = logSum(log[i], math.Log(c.weight)+logAmplitudes(z))
		}
	}
	c := axisCurve{log: refined(log, axisFine), step: axisStep / axisFine, period: period}
	top := c.log[argMax(c.log)]
	for i := range c.log {
		c.log[i] -= top
	}
	return c
}

// logSum is the logarithm of the sum of two numbers given by theirs.
func logSum(a, b float64) float64 {
	if a < b {
		a, b = b, a
	}
	return a + math.Log1p(math.Exp(b-a))
}

// logAmplitudes is the logarithm of int_0^inf exp(az - a^2/2) da, which is
// sqrt(2 pi) exp(z^2/2) Phi(z).
func logAmplitudes(z float64) float64 {
	if z < -25 {
		return -math.Log(-z) // the first term of the asymptotic series
	}
	return 0.5*math.Log(2*math.Pi) + z*z/2 + math.Log(upperTail(-z))
}

// refined puts times - 1 points between any two of a closed curve, on the cubic
// through the nearest four (Catmull & Rom 1974).
func refined(v []float64, times int) []float64 {
	n := len(v)
	out := make([]float64, 0, n*times)
	for i := range v {
		a, b, c, d := v[(i+n-1)%n], v[i], v[(i+1)%n], v[(i+2)%n]
		for k := range times {
			t := float64(k) / float64(times)
			out = append(out, b+t/2*(c-a+t*(2*a-5*b+4*c-d+t*(3*(b-c)+d-a))))
		}
	}
	return out
}

// level is the height above which lies the given share of the curve.
func (c axisCurve) level(share float64) float64 {
	density := make([]float64, len(c.log))
	total := 0.0
	for i, v := range c.log {
		density[i] = math.Exp(v)
		total += density[i]
	}
	lo, hi := 0.0, 1.0
	for range 40 {
		mid := (lo + hi) / 2
		if sumAbove(density, mid) >= share*total {
			lo = mid
		} else {
			hi = mid
		}
	}
	return math.Log(math.Max(lo, 1e-300))
}

func sumAbove(v []float64, level float64) (sum float64) {
	for _, x := range v {
		if x >= level {
			sum += x
		}
	}
	return sum
}

// middle is the mean direction of the piece above a level that holds the top.
func (c axisCurve) middle(level float64) float64 {
	n, top := len(c.log), argMax(c.log)
	sum, moment := 1.0, 0.0 // of the top itself
	for _, side := range []int{1, -1} {
		for k := 1; k <= n/2; k++ {
			v := c.log[(top+side*k+n)%n]
			if v < level {
				break
			}
			sum += math.Exp(v)
			moment += float64(side*k) * math.Exp(v)
		}
	}
	return math.Mod(c.step*(float64(top)+moment/sum)+c.period, c.period)
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

// piecesAbove returns the arcs where v >= limit on a closed circle of values; one
// piece that covers everything when all are.
func piecesAbove(v []float64, limit, step float64) []Interval {
	n := len(v)
	in := func(i int) bool { return v[(i+n)%n] >= limit }
	start := -1
	for i := range n {
		if in(i) && !in(i-1) {
			start = i
			break
		}
	}
	if start < 0 {
		if in(0) {
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
		out = append(out, Interval{step * (float64(i) - edge(v, i-1, i, limit)), step * (float64(j-1) + edge(v, j, j-1, limit))})
		i = j
	}
	return out
}

// edge is how far, in steps, beyond the inside node in the limit is crossed.
func edge(v []float64, out, in int, limit float64) float64 {
	n := len(v)
	a, b := v[(in+n)%n], v[(out+n)%n]
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
