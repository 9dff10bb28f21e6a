package ejecta

import "math"

// Range of the excess, crater radii: the near part of the ejecta.
const (
	excessInner = 1.1
	excessOuter = 2.5
	// backgroundInner is where the far field begins; inside it every ring has
	// its own free mean.
	backgroundInner = 4.0
)

// RadialProfile is the generalised least-squares profile of one crater.
type RadialProfile struct {
	Background, BackgroundSE float64
	Excess, ExcessSE         float64
	NEff                     float64
	Near                     int       // rings with a free mean; the others are far field
	Ring, RingSE             []float64 // excess of each ring and its standard error
	PlaneEast, PlaneNorth    float64   // background slope per crater radius
}

// fitRadial estimates a free mean for every ring and a plane by generalised
// least squares. The background is the area mean of the far rings' own means,
// not the constant that the noise model would prefer: that constant would carry
// a slow rise of the far field inward as noise, and a halo that fills the rings
// would vanish. The blanket's tail in the far field, small but not nothing, is
// taken from the fitted blanket. ok is false when no far field is left.
//
// A ring's column is a step, and under correlated noise steps are told from each
// other by the pixels on both sides of an edge: where a blanket falls within a
// ring, least squares would take the small difference across the edge for that of
// the rings. So the shape of the fitted blanket is taken off before and its own
// ring means are put back, see [ringFit.shape].
func fitRadial(g *Gram, l *Layout, bl Blanket, variance float64) (r RadialProfile, ok bool) {
	near, far := splitRings(g, l)
	if len(far) == 0 {
		return r, false
	}
	rings := append(append([]int(nil), near...), far...)
	f := ringFit{layout: l, rings: rings, near: len(near), variance: variance}
	cols := make([]int, len(rings))
	for i, k := range rings {
		cols[i] = colRings + k
	}
	m, v := g.Without(g.extras(), span(colPlane, colPlane+2)).sub(cols)
	if f.inv = inverse(m, len(cols)); f.inv == nil {
		return r, false
	}
	f.est = multiply(f.inv, len(cols), v)
	f.shape(g, cols, bl)
	w := f.weights(len(near), len(rings), l.Edges[0], l.Edges[l.Rings])
	r.Near = len(near)
	r.Background = dot(w, f.est)
	r.BackgroundSE = f.se(w)
	if bl.Z > 3 {
		r.Background -= f.tail(bl, w)
		f.loose = f.tailSE(bl, w)
		r.BackgroundSE = math.Hypot(r.BackgroundSE, f.loose)
	}
	f.putRings(&r, w, g.Rings)
	f.putExcess(&r, bl, w)
	r.plane(g, rings, f.est)
	return r, true
}

// ringFit is the solution for the free ring means.
type ringFit struct {
	layout   *Layout
	rings    []int // layout rings, near ones first
	near     int
	est, inv []float64
	variance float64
	// What the shape of the blanket adds to each ring for each unit of its
	// amplitude, its covariance with the ring means before, and its variance.
	added, pull []float64
	own         float64
	loose       float64 // error of the blanket's tail in the far field
}

// shape gives each ring what its step loses of a blanket that falls within it:
// with d the painted blanket, its ring means less the steps fitted to d, times the
// amplitude that the data give d beside constant and plane.
func (f *ringFit) shape(g *Gram, cols []int, bl Blanket) {
	node := nearestNode(bl.exponent())
	d := colDecay + node
	steps := g.Without(g.extras(), span(colPlane, colPlane+2))
	whole := steps.Without([]int{colConst})
	info := whole.at(d, d)
	if !(info > 0) {
		return
	}
	pure := Blanket{Amplitude: 1, Decay: decayNodes[node]}
	n := len(cols)
	fitted, pull := multiply(f.inv, n, steps.across(cols, d)), multiply(f.inv, n, whole.across(cols, d))
	f.own, f.pull, f.added = 1/info, make([]float64, n), make([]float64, n)
	for i, k := range f.rings {
		f.added[i] = ringMean(pure, f.layout.Edges[k], f.layout.Edges[k+1]) - fitted[i]
		f.pull[i] = pull[i] / info
		f.est[i] += whole.at(d, colValue) / info * f.added[i]
	}
}

// across is the products of some columns with one.
func (g *Gram) across(cols []int, d int) []float64 {
	v := make([]float64, len(cols))
	for i, c := range cols {
		v[i] = g.at(c, d)
	}
	return v
}

// weights are the area shares of rings from..to-1 within a range of radii, zero
// for the others; all zero when none of them lies within.
func (f *ringFit) weights(from, to int, lo, hi float64) []float64 {
	w := make([]float64, len(f.rings))
	total := 0.0
	for i := from; i < to; i++ {
		a := math.Max(f.layout.Edges[f.rings[i]], lo)
		b := math.Min(f.layout.Edges[f.rings[i]+1], hi)
		if b > a {
			w[i] = b*b - a*a
			total += w[i]
		}
	}
	if total > 0 {
		for i := range w {
			w[i] /= total
		}
	}
	return w
}

// se is the standard error of a weighted sum of ring means.
func (f *ringFit) se(w []float64) float64 {
	q := quadratic(f.inv, len(w), w)
	if f.added != nil {
		a := dot(w, f.added)
		q += 2*a*dot(w, f.pull) + a*a*f.own
	}
	return math.Sqrt(math.Max(q, 0) * f.variance)
}

// tail is the weighted mean of the fitted blanket.
func (f *ringFit) tail(bl Blanket, w []float64) float64 {
	t := 0.0
	for i, x := range w {
		if x != 0 {
			t += x * ringMean(bl, f.layout.Edges[f.rings[i]], f.layout.Edges[f.rings[i]+1])
		}
	}
	return t
}

// tailSE is the error of tail that the exponent makes, with the amplitude that fits
// best at each: where a blanket falls slowly it and the background can stand for
// each other.
func (f *ringFit) tailSE(bl Blanket, w []float64) float64 {
	at := func(b float64) float64 {
		a := bl.at(1) + bl.drift*(b-bl.exponent())
		return f.tail(Blanket{Amplitude: a, Decay: b}, w)
	}
	b := bl.exponent()
	return math.Abs(at(b+exponentStep)-at(b-exponentStep)) / (2 * exponentStep) * bl.exponentSE()
}

// less is the weights of a difference from the background.
func less(w, background []float64) []float64 {
	d := make([]float64, len(w))
	for i := range d {
		d[i] = w[i] - background[i]
	}
	return d
}

// putRings gives every ring its excess over the background.
func (f *ringFit) putRings(r *RadialProfile, background []float64, rings int) {
	r.Ring, r.RingSE = make([]float64, rings), make([]float64, rings)
	for k := range r.Ring {
		r.Ring[k], r.RingSE[k] = math.NaN(), math.NaN()
	}
	for i, k := range f.rings {
		r.Ring[k], r.RingSE[k] = f.ring(i, r.Background, background)
	}
}

// ring is one ring's excess over the background and its error.
func (f *ringFit) ring(i int, level float64, background []float64) (excess, se float64) {
	one := make([]float64, len(f.rings))
	one[i] = 1
	return f.est[i] - level, math.Hypot(f.se(less(one, background)), f.loose)
}

// putExcess is the area mean of the near rings over the excess range, less the
// background. Rings of small craters begin beyond the inner end of that range,
// and rings may lie across its ends: the shape of the blanket carries the mean
// from the rings to the range, with an error for what is not known of the shape.
func (f *ringFit) putExcess(r *RadialProfile, bl Blanket, background []float64) {
	w := f.weights(0, f.near, excessInner, excessOuter)
	sum := 0.0
	for _, x := range w {
		sum += x
	}
	if sum == 0 {
		r.Excess, r.ExcessSE, r.NEff = math.NaN(), math.NaN(), math.NaN()
		return
	}
	carried, slope := f.carry(bl, w)
	mean := dot(w, f.est) - r.Background
	r.Excess = carried * mean
	r.ExcessSE = math.Hypot(carried*math.Hypot(f.se(less(w, background)), f.loose), slope*mean*bl.exponentSE())
	r.NEff = 1 / quadratic(f.inv, len(w), w)
}

// carry is the mean of the blanket's shape over the excess range over that of the
// weighted rings, and how it changes with the exponent.
func (f *ringFit) carry(bl Blanket, w []float64) (ratio, slope float64) {
	at := func(b float64) float64 {
		shape := Blanket{Amplitude: 1, Decay: b}
		return shape.meanOver(excessInner, excessOuter) / f.tail(shape, w)
	}
	b := bl.exponent()
	return at(b), (at(b+exponentStep) - at(b-exponentStep)) / (2 * exponentStep)
}

// exponentStep is the step of the derivative along the exponent.
const exponentStep = 0.05

// splitRings returns the rings that hold cells, near and far.
func splitRings(g *Gram, l *Layout) (near, far []int) {
	from := math.Min(backgroundInner, 0.5*l.Outer)
	for k := range l.Rings {
		if g.at(colRings+k, colRings+k) <= 0 {
			continue
		}
		if math.Sqrt(l.Edges[k]*l.Edges[k+1]) < from {
			near = append(near, k)
		} else {
			far = append(far, k)
		}
	}
	return near, far
}

func quadratic(m []float64, n int, w []float64) float64 {
	return dot(w, multiply(m, n, w))
}

// plane recovers the background slope from the unswept system by fitting the
// residual.
func (r *RadialProfile) plane(g *Gram, rings []int, est []float64) {
	sw := g.Without(g.extras())
	m, v := sw.sub(span(colPlane, colPlane+2))
	for i := range 2 {
		for j, k := range rings {
			v[i] -= sw.at(colPlane+i, colRings+k) * est[j]
		}
	}
	if inv := inverse(m, 2); inv != nil {
		p := multiply(inv, 2, v)
		r.PlaneEast, r.PlaneNorth = p[0], p[1]
	}
}

// extent is the outer edge of the run of rings, from the rim outward, whose
// excess stays above 1.645 standard errors; one ring may fall below if the
// next two rise again. NaN when the first rings already do not.
func (r *RadialProfile) extent(l *Layout) float64 {
	above := func(k int) bool { return k < l.Rings && r.Ring[k] > quantile95*r.RingSE[k] }
	last := -1
	for k := 0; k < l.Rings; k++ {
		switch {
		case math.IsNaN(r.Ring[k]):
		case above(k):
			last = k
		case above(k+1) && above(k+2):
		default:
			k = l.Rings
		}
	}
	if last < 0 {
		return math.NaN()
	}
	return l.Edges[last+1]
}
