package study

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"rimcast/ejecta"
)

const orders = ejecta.Orders

// template is an azimuthal shape f - 1 as coefficients of cos k az and
// sin k az, worked out here apart from the engine's own bank.
type template struct {
	name   string
	period float64 // degrees
	c, s   [orders]float64
}

// add puts a von Mises lobe of mean 1 at an angle (degrees), with a weight.
func (t *template) add(kappa, at, weight float64) {
	for k, v := range ejecta.VonMisesHarmonics(kappa, orders) {
		sin, cos := math.Sincos(float64(k+1) * at * math.Pi / 180)
		t.c[k] += weight * v * cos
		t.s[k] += weight * v * sin
	}
}

func cosineTemplate() *template {
	t := &template{name: "first harmonic", period: 360}
	t.c[0] = 1
	return t
}

func bilateralTemplate() *template {
	t := &template{name: "bilateral", period: 180}
	t.add(8, 0, 0.5)
	t.add(8, 180, 0.5)
	return t
}

// irregular are the directions of the study's rays.
var irregular = []float64{0, 70, 155, 250}

func raysTemplate() *template {
	t := &template{name: "irregular rays", period: 360}
	for _, a := range irregular {
		t.add(35, a, 1/float64(len(irregular)))
	}
	return t
}

// gapTemplate is a wedge cut out, with edges that open linearly over 5
// degrees, its Fourier coefficients by summation.
func gapTemplate(width float64) *template {
	t := &template{name: "gap", period: 360}
	const n = 7200
	mean := 1 - width/360
	for i := range n {
		deg := float64(i) * 360 / n
		off := math.Abs(math.Remainder(deg, 360)) - width/2
		f := math.Max(0, math.Min(1, 0.5+off/5)) / mean
		for k := range orders {
			t.c[k] += 2 * f * math.Cos(float64(k+1)*deg*math.Pi/180) / n
		}
	}
	return t
}

// turned returns the coefficients at a direction in degrees, cosines first.
func (t *template) turned(deg float64) []float64 {
	a := make([]float64, 2*orders)
	for k := range orders {
		sin, cos := math.Sincos(float64(k+1) * deg * math.Pi / 180)
		a[k] = t.c[k]*cos - t.s[k]*sin
		a[orders+k] = t.c[k]*sin + t.s[k]*cos
	}
	return a
}

// slope is the derivative of turned by the direction, per radian.
func (t *template) slope(deg float64) []float64 {
	a := t.turned(deg)
	out := make([]float64, len(a))
	for k := range orders {
		out[k] = -float64(k+1) * a[orders+k]
		out[orders+k] = float64(k+1) * a[k]
	}
	return out
}

// product is a' Info b.
func product(d *ejecta.Directional, a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		if v == 0 {
			continue
		}
		row := d.Info[i*2*orders : (i+1)*2*orders]
		for j, u := range b {
			sum += v * row[j] * u
		}
	}
	return sum
}

// scanned is a template tried in all directions with one information.
type scanned struct {
	unit   [][]float64 // templates scaled to unit information
	deg    []float64
	length float64
}

// scan prepares the oracle's family: the true shape, direction and amplitude
// free.
func (t *template) scan(d *ejecta.Directional) *scanned {
	const step = 2.0
	out := &scanned{}
	for deg := 0.0; deg < t.period; deg += step {
		a := t.turned(deg)
		g := math.Sqrt(product(d, a, a))
		for i := range a {
			a[i] /= g
		}
		out.unit, out.deg = append(out.unit, a), append(out.deg, deg)
	}
	for i, a := range out.unit {
		b := out.unit[(i+1)%len(out.unit)]
		out.length += math.Acos(math.Max(-1, math.Min(1, product(d, a, b))))
	}
	return out
}

// largest returns the largest score of a directional content and its
// direction.
func (s *scanned) largest(score []float64) (z, deg float64) {
	z = math.Inf(-1)
	for i, a := range s.unit {
		v := 0.0
		for j, u := range a {
			v += u * score[j]
		}
		if v > z {
			z, deg = v, s.deg[i]
		}
	}
	return z, deg
}

// chiSquare is the chi-square of the harmonics 1..order.
func chiSquare(d *ejecta.Directional, order int) float64 {
	return signal(d, order, d.Score[:])
}

// signal is s' Info^-1 s over the harmonics 1..order: the squared signal to
// noise of a score.
func signal(d *ejecta.Directional, order int, score []float64) float64 {
	m, v := mat.NewSymDense(2*order, nil), mat.NewVecDense(2*order, nil)
	at := func(i int) int { return i%order + i/order*orders }
	for i := range 2 * order {
		v.SetVec(i, score[at(i)])
		for j := range i + 1 {
			m.SetSym(i, j, d.Info[at(i)*2*orders+at(j)])
		}
		m.SetSym(i, i, m.At(i, i)*(1+1e-9))
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) {
		return math.NaN()
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, v); err != nil {
		return math.NaN()
	}
	return mat.Dot(v, &x)
}

// root is a lower factor L of the information, for drawing null scores L z.
func root(d *ejecta.Directional) *mat.TriDense {
	m := mat.NewSymDense(2*orders, nil)
	for i := range 2 * orders {
		for j := range i + 1 {
			m.SetSym(i, j, d.Info[i*2*orders+j])
		}
		m.SetSym(i, i, m.At(i, i)*(1+1e-9))
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) {
		return nil
	}
	var l mat.TriDense
	chol.LTo(&l)
	return &l
}

// cramerRao is the bound on the standard deviation of the direction, degrees,
// for amplitude a with amplitude free.
func (t *template) cramerRao(d *ejecta.Directional, a, deg float64) float64 {
	x, dx := t.turned(deg), t.slope(deg)
	gx := product(d, x, dx)
	info := a * a * (product(d, dx, dx) - gx*gx/product(d, x, x))
	return 180 / math.Pi / math.Sqrt(info)
}
