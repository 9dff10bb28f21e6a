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

// fitRadial estimates free means of the rings inside backgroundInner, one
// constant for the rings beyond and a plane, all by generalised least squares.
// The blanket's tail in the far field, small but not nothing, is taken from
// the fitted blanket. ok is false when no far field is left.
func fitRadial(g *Gram, l *Layout, bl Blanket, variance float64) (r RadialProfile, ok bool) {
	near, far := splitRings(g, l)
	if len(far) == 0 {
		return r, false
	}
	sw := g.Without(g.extras(), span(colPlane, colPlane+2))
	m, v, t := ringSystem(sw, near, far)
	n := len(near) + 1
	inv := inverse(m, n)
	if inv == nil {
		return r, false
	}
	est, tail := multiply(inv, n, v), multiply(inv, n, t)
	last := n - 1
	if bl.Z > 3 {
		est[last] -= bl.Amplitude * tail[last]
	}
	r.Near = len(near)
	r.Background = est[last]
	r.BackgroundSE = math.Sqrt(inv[last*n+last] * variance)
	r.ringExcess(g, near, est, inv, n, variance)
	r.farExcess(sw, l, far, variance)
	r.nearExcess(l, near, est, inv, n, variance)
	r.plane(g, near, far, est)
	return r, true
}

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

// ringSystem builds the normal equations of [near rings, far constant] for the
// value and for the blanket template.
func ringSystem(g *Gram, near, far []int) (m, v, t []float64) {
	n := len(near) + 1
	m, v, t = make([]float64, n*n), make([]float64, n), make([]float64, n)
	group := func(i int) []int {
		if i < len(near) {
			return near[i : i+1]
		}
		return far
	}
	for i := range n {
		for _, a := range group(i) {
			v[i] += g.at(colRings+a, colValue)
			t[i] += g.at(colRings+a, colDecay+5)
			for j := range n {
				for _, b := range group(j) {
					m[i*n+j] += g.at(colRings+a, colRings+b)
				}
			}
		}
	}
	return m, v, t
}

func (r *RadialProfile) ringExcess(g *Gram, near []int, est, inv []float64, n int, variance float64) {
	r.Ring, r.RingSE = make([]float64, g.Rings), make([]float64, g.Rings)
	for k := range r.Ring {
		r.Ring[k], r.RingSE[k] = math.NaN(), math.NaN()
	}
	last := n - 1
	for i, k := range near {
		r.Ring[k] = est[i] - est[last]
		r.RingSE[k] = math.Sqrt(variance * (inv[i*n+i] + inv[last*n+last] - 2*inv[i*n+last]))
	}
}

// farExcess gives the far rings their own means for the profile; their errors
// include that of the background.
func (r *RadialProfile) farExcess(g *Gram, l *Layout, far []int, variance float64) {
	var cols []int
	for k := range l.Rings {
		if g.at(colRings+k, colRings+k) > 0 {
			cols = append(cols, colRings+k)
		}
	}
	m, v := g.sub(cols)
	inv := inverse(m, len(cols))
	if inv == nil {
		return
	}
	est := multiply(inv, len(cols), v)
	for i, c := range cols {
		k := c - colRings
		if k >= far[0] {
			r.Ring[k] = est[i] - r.Background
			r.RingSE[k] = math.Sqrt(inv[i*len(cols)+i]*variance + r.BackgroundSE*r.BackgroundSE)
		}
	}
}

// nearExcess is the area mean of the ring excesses over the excess range.
func (r *RadialProfile) nearExcess(l *Layout, near []int, est, inv []float64, n int, variance float64) {
	last := n - 1
	w := make([]float64, n)
	total := 0.0
	for i, k := range near {
		lo, hi := math.Max(l.Edges[k], excessInner), math.Min(l.Edges[k+1], excessOuter)
		if hi > lo {
			w[i] = hi*hi - lo*lo
			total += w[i]
		}
	}
	if total == 0 {
		r.Excess, r.ExcessSE, r.NEff = math.NaN(), math.NaN(), math.NaN()
		return
	}
	mean := 0.0
	for i := range near {
		w[i] /= total
		mean += w[i] * est[i]
	}
	ringOnly := quadratic(inv, n, w)
	w[last] = -1
	r.Excess = mean - est[last]
	r.ExcessSE = math.Sqrt(quadratic(inv, n, w) * variance)
	r.NEff = 1 / ringOnly
}

func quadratic(m []float64, n int, w []float64) float64 {
	return dot(w, multiply(m, n, w))
}

// plane recovers the background slope from the unswept system by fitting the
// residual.
func (r *RadialProfile) plane(g *Gram, near, far []int, est []float64) {
	sw := g.Without(g.extras())
	m, v := sw.sub(span(colPlane, colPlane+2))
	for i := range 2 {
		for j, k := range near {
			v[i] -= sw.at(colPlane+i, colRings+k) * est[j]
		}
		for _, k := range far {
			v[i] -= sw.at(colPlane+i, colRings+k) * est[len(near)]
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
