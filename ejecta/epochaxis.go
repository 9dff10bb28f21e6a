package ejecta

import "math"

// A direction over the times of day: is it one at all of them, or does it turn
// as the sun does? The harmonics of order m at epoch e are modelled as
//
//	r_e (cos m a_e, sin m a_e),  r_e >= 0 free,
//
// with a_e one angle at all epochs, or one angle plus the azimuth of the sun.
// Both have K + 1 parameters for 2 K numbers.

// axisData are the harmonics of one order at the epochs that show a direction.
type axisData struct {
	order   int
	y       []float64 // cosine and sine by epoch
	cov     []float64 // of y
	inverse []float64
	n       int // epochs
	sun     []float64
	names   []string
}

// direction fills what is about the axis.
func (p *Persistence) direction(list []*EpochFinding, keep []int, noise EpochNoise, alpha float64) {
	d := newAxisData(list, keep, noise, alpha)
	if d == nil {
		return
	}
	p.AxisOrder = d.order
	p.AxisP = noise.ratioP(d.least(nil), d.n-1)
	if d.sunMoves() {
		p.SunP = noise.ratioP(d.least(d.sun), d.n-1)
	}
	d.drift(p, noise)
}

// settledDrift is the half-width of the interval of the drift, in degrees, below
// which a direction that is not seen to turn is said to stay.
const settledDrift = 45

func axisWord(p *Persistence, alpha float64) string {
	moves, fits := p.AxisP < alpha, !(p.SunP < alpha) && !math.IsNaN(p.SunP)
	switch {
	case moves && fits:
		return AxisFollows
	case moves:
		return AxisTurns
	case p.SunP < alpha:
		return AxisStays
	case math.IsNaN(p.SunP) && math.Max(math.Abs(p.DriftLo), math.Abs(p.DriftHi)) < settledDrift:
		return AxisStays
	}
	return AxisOpen
}

// newAxisData gathers the order, of 1 and 2, that is the plainer over all epochs,
// at the epochs where it is plain by itself; nil with fewer than two.
func newAxisData(list []*EpochFinding, keep []int, noise EpochNoise, alpha float64) *axisData {
	strength := [3]float64{}
	for _, f := range list {
		for m := 1; m <= 2; m++ {
			strength[m] += f.harmonicChi2(m)
		}
	}
	d := &axisData{order: 1}
	if strength[2] > strength[1] {
		d.order = 2
	}
	var used []*EpochFinding
	var at []int
	for i, f := range list {
		if ChiSquareP(f.harmonicChi2(d.order), 2) < alpha {
			used, at = append(used, f), append(at, keep[i])
		}
	}
	if len(used) < 2 {
		return nil
	}
	return d.fill(used, noise.of(noise.Direction, at))
}

// fill builds the vector and its covariance; epochs share noise.
func (d *axisData) fill(used []*EpochFinding, r []float64) *axisData {
	d.n = len(used)
	roots := make([][4]float64, d.n)
	for e, f := range used {
		h, cov := f.harmonic(d.order)
		d.y = append(d.y, h[0], h[1])
		roots[e] = rootOf(cov)
		d.sun, d.names = append(d.sun, f.SunAzimuth*math.Pi/180), append(d.names, f.Epoch)
	}
	d.cov = make([]float64, 4*d.n*d.n)
	for a := range d.n {
		for b := range d.n {
			c := product(roots[a], roots[b])
			for i := range 2 {
				for j := range 2 {
					d.cov[(2*a+i)*2*d.n+2*b+j] = r[a*d.n+b] * c[2*i+j]
				}
			}
		}
	}
	if d.inverse = inverse(d.cov, 2*d.n); d.inverse == nil {
		return nil
	}
	return d
}

// harmonic is the cosine and sine of an order with their covariance.
func (f *EpochFinding) harmonic(order int) (h [2]float64, cov [4]float64) {
	i, j := order-1, order+1
	c := f.DirectionCov
	return [2]float64{f.Direction[i], f.Direction[j]}, [4]float64{c[i*4+i], c[i*4+j], c[j*4+i], c[j*4+j]}
}

// harmonicChi2 is the chi-square of no direction of an order, 0 when not tested.
func (f *EpochFinding) harmonicChi2(order int) float64 {
	if f.Direction == nil {
		return 0
	}
	return chi2Of(f.harmonic(order))
}

// chi2Of is h' C^-1 h; 0 for a covariance that has no inverse.
func chi2Of(h [2]float64, c [4]float64) float64 {
	det := c[0]*c[3] - c[1]*c[2]
	if !(det > 0) {
		return 0
	}
	return (c[3]*h[0]*h[0] - 2*c[1]*h[0]*h[1] + c[0]*h[1]*h[1]) / det
}

// rootOf is the symmetric root of a 2 x 2 covariance, by Cayley and Hamilton:
// (C + s I) / t with s = sqrt(det C), t = sqrt(trace C + 2 s).
func rootOf(c [4]float64) [4]float64 {
	s := math.Sqrt(math.Max(0, c[0]*c[3]-c[1]*c[2]))
	t := math.Sqrt(c[0] + c[3] + 2*s)
	return [4]float64{(c[0] + s) / t, c[1] / t, c[2] / t, (c[3] + s) / t}
}

func product(a, b [4]float64) [4]float64 {
	return [4]float64{a[0]*b[0] + a[1]*b[2], a[0]*b[1] + a[1]*b[3], a[2]*b[0] + a[3]*b[2], a[2]*b[1] + a[3]*b[3]}
}

// least is the smallest chi-square over the one angle; turn adds an angle to
// each epoch.
func (d *axisData) least(turn []float64) float64 {
	const steps = 180
	step := 2 * math.Pi / steps
	best, at := math.Inf(1), 0.0
	for i := range steps {
		if v := d.chi2(float64(i)*step, turn); v < best {
			best, at = v, float64(i)*step
		}
	}
	lo, hi := at-step, at+step
	for range 40 {
		x, y := lo+(hi-lo)/3, hi-(hi-lo)/3
		if d.chi2(x, turn) < d.chi2(y, turn) {
			hi = y
		} else {
			lo = x
		}
	}
	return math.Min(best, d.chi2((lo+hi)/2, turn))
}

// chi2 is the misfit at an angle of order times azimuth, with the best
// amplitudes that are not negative.
func (d *axisData) chi2(angle float64, turn []float64) float64 {
	b := make([][2]float64, d.n)
	for e := range b {
		a := angle
		if turn != nil {
			a += float64(d.order) * turn[e]
		}
		b[e][1], b[e][0] = math.Sincos(a)
	}
	r := d.lengths(b)
	left := append([]float64(nil), d.y...)
	for e, x := range r {
		left[2*e] -= x * b[e][0]
		left[2*e+1] -= x * b[e][1]
	}
	return quadratic(d.inverse, 2*d.n, left)
}

// lengths are the amplitudes along given directions, least squares without
// negative ones, by coordinate descent on the normal equations.
func (d *axisData) lengths(b [][2]float64) []float64 {
	g, c := make([]float64, d.n*d.n), make([]float64, d.n)
	w := multiply(d.inverse, 2*d.n, d.y)
	for i := range d.n {
		c[i] = b[i][0]*w[2*i] + b[i][1]*w[2*i+1]
		for j := range d.n {
			for k := range 2 {
				for l := range 2 {
					g[i*d.n+j] += b[i][k] * d.inverse[(2*i+k)*2*d.n+2*j+l] * b[j][l]
				}
			}
		}
	}
	r := make([]float64, d.n)
	for range 60 {
		for i := range r {
			rest := c[i] - dot(g[i*d.n:(i+1)*d.n], r) + g[i*d.n+i]*r[i]
			r[i] = math.Max(0, rest/g[i*d.n+i])
		}
	}
	return r
}

// sunTurn is how far, in degrees of the harmonic, the sun must move between two
// epochs for a direction that follows it to be told from one that stays.
const sunTurn = 30

// sunMoves reports whether the sun is known and moves enough.
func (d *axisData) sunMoves() bool {
	most := 0.0
	for i := range d.n {
		if math.IsNaN(d.sun[i]) {
			return false
		}
		for j := range i {
			most = math.Max(most, math.Abs(math.Remainder(float64(d.order)*(d.sun[i]-d.sun[j]), 2*math.Pi)))
		}
	}
	return most*180/math.Pi > sunTurn
}

// drift fills the largest turn between two epochs, with the error of the
// difference of two angles by the delta method.
func (d *axisData) drift(p *Persistence, noise EpochNoise) {
	t := noise.quantile(0.95, d.n*(d.n-1)/2)
	period := 360 / float64(d.order)
	for i := range d.n {
		for j := i + 1; j < d.n; j++ {
			turn := math.Remainder((d.angle(j)-d.angle(i))/float64(d.order)*180/math.Pi, period)
			if math.Abs(turn) < math.Abs(p.Drift) {
				continue
			}
			w := t * d.turnError(i, j) / float64(d.order) * 180 / math.Pi
			p.Drift, p.DriftLo, p.DriftHi = turn, turn-w, turn+w
			p.DriftFrom, p.DriftTo = d.names[i], d.names[j]
		}
	}
}

func (d *axisData) angle(e int) float64 { return math.Atan2(d.y[2*e+1], d.y[2*e]) }

// turnError is the standard error of the angle of j less that of i, radians of
// the harmonic.
func (d *axisData) turnError(i, j int) float64 {
	w := make([]float64, 2*d.n)
	for e, sign := range map[int]float64{i: -1, j: 1} {
		x, y := d.y[2*e], d.y[2*e+1]
		w[2*e], w[2*e+1] = -sign*y/(x*x+y*y), sign*x/(x*x+y*y)
	}
	return math.Sqrt(quadratic(d.cov, 2*d.n, w))
}
