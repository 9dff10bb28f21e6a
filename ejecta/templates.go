package ejecta

import "math"

// shape is the azimuthal profile of a template: f - 1 = sum c_k cos k(az - t),
// k = 1..Orders, with f of mean 1.
type shape [Orders]float64

// vonMisesShape is one lobe of concentration kappa.
func vonMisesShape(kappa float64) (c shape) {
	copy(c[:], VonMisesHarmonics(kappa, Orders))
	return c
}

// foldShape is n equal lobes of concentration kappa, evenly spaced.
func foldShape(n int, kappa float64) (c shape) {
	one := vonMisesShape(kappa)
	for k := n; k <= Orders; k += n {
		c[k-1] = one[k-1]
	}
	return c
}

// gapShape is a symmetric blanket with a wedge of the given width (degrees)
// missing, centred on t, its edges softened over five degrees.
func gapShape(width float64) (c shape) {
	w := width * math.Pi / 180
	soft := 2.5 * math.Pi / 180
	left := 1 - w/(2*math.Pi)
	for k := 1; k <= Orders; k++ {
		kk := float64(k)
		c[k-1] = -2 / (math.Pi * kk) * math.Sin(kk*w/2) * math.Exp(-kk*kk*soft*soft/2) / left
	}
	return c
}

// cosineShape is the first harmonic alone.
func cosineShape() (c shape) {
	c[0] = 1
	return c
}

// turned returns the template's coefficients on [cos, sin] columns when it
// points to azimuth t (radians).
func (c *shape) turned(t float64) (a [2 * Orders]float64) {
	for k := range Orders {
		if c[k] == 0 {
			continue
		}
		sin, cos := math.Sincos(float64(k+1) * t)
		a[k], a[Orders+k] = c[k]*cos, c[k]*sin
	}
	return a
}

// at is f - 1 at an angle (radians) from the template's direction.
func (c *shape) at(angle float64) float64 {
	v := 0.0
	for k, x := range c {
		v += x * math.Cos(float64(k+1)*angle)
	}
	return v
}

// lowest is the least value of f - 1.
func (c *shape) lowest() float64 {
	low := math.Inf(1)
	for d := range 181 {
		low = math.Min(low, c.at(float64(d)*math.Pi/180))
	}
	return low
}

// halfWidth is the angle in degrees from the direction to half of the rise
// above the lowest point.
func (c *shape) halfWidth() float64 {
	top, low := c.at(0), c.lowest()
	for d := range 1801 {
		if c.at(float64(d)/10*math.Pi/180) < (top+low)/2 {
			return float64(d) / 10
		}
	}
	return 180
}

// family is a set of templates that differ only in direction.
type family struct {
	name   string
	shape  shape
	period float64 // degrees after which the template repeats
	step   float64
	turned [][2 * Orders]float64
}

func newFamily(name string, s shape, period, step float64) *family {
	f := &family{name: name, shape: s, period: period, step: step}
	for t := 0.0; t < period-1e-9; t += step {
		f.turned = append(f.turned, s.turned(t*math.Pi/180))
	}
	return f
}

// The template bank. Widths follow the usual range of ejecta lobes and rays;
// the gap is that of an oblique impact (uprange wedge).
var (
	lobeFamily = newFamily("lobe", vonMisesShape(4), 360, 3)
	axisFamily = newFamily("bilateral", foldShape(2, 8), 180, 2)
	foldThree  = newFamily("three rays", foldShape(3, 30), 120, 3)
	foldFour   = newFamily("four rays", foldShape(4, 30), 90, 3)
	foldFive   = newFamily("five rays", foldShape(5, 30), 72, 3)
	gapFamily  = newFamily("gap", gapShape(100), 360, 3)
	bank       = []*family{lobeFamily, axisFamily, foldThree, foldFour, foldFive, gapFamily}
	rayBasis   = newFamily("rays", vonMisesShape(20), 360, 10)
)
