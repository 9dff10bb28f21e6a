package ejecta

import "math"

// rayShapes are the widths tried for each ray, narrowest first: from the narrowest
// that the harmonics hold, 23 degrees at half height, to 61.
var rayShapes = []shape{rayShape, vonMisesShape(25), vonMisesShape(17), vonMisesShape(12), vonMisesShape(8), vonMisesShape(5)}

// How far a ray moves from where it was placed, and in what steps, degrees.
const (
	rayMove = 10
	rayFine = 1
)

// laidRay is a ray with its template and the template's products with all
// columns.
type laidRay struct {
	azimuth float64
	shape   *shape
	a, info [2 * Orders]float64
}

func (d *Directional) layRay(azimuth float64, s *shape) laidRay {
	r := laidRay{azimuth: azimuth, shape: s, a: s.turned(azimuth * math.Pi / 180)}
	for j := range r.info {
		r.info[j] = dot(d.Info[j*2*Orders:(j+1)*2*Orders], r.a[:])
	}
	return r
}

// shaped gives rays that were placed on a grid, all of one width, directions and
// widths of their own, each in turn beside the others, twice. A ray keeps the
// narrowest width unless another fits better by the 95 % point of chi-square: a
// width is told only where it can be told.
func (d *Directional) shaped(rays []rayFit) []rayFit {
	laid := make([]laidRay, len(rays))
	for i, r := range rays {
		laid[i] = d.layRay(r.azimuth, &rayShapes[0])
	}
	for range 2 {
		for i := range laid {
			d.reshape(laid, i)
		}
	}
	amp, se, chi := d.heights(laid)
	if math.IsInf(chi, -1) {
		return rays
	}
	out := make([]rayFit, len(rays))
	for i, l := range laid {
		unit := l.shape.at(0) / rayShape.at(0) // amplitudes stay those of the narrowest ray of this height
		out[i] = rayFit{math.Mod(l.azimuth+360, 360), amp[i] * unit, se[i] * unit, *l.shape}
	}
	return out
}

// reshape finds direction and width of one ray beside the others.
func (d *Directional) reshape(laid []laidRay, i int) {
	from := laid[i].azimuth
	best, most := laid[i], math.Inf(-1)
	for k := range rayShapes {
		price := chi95
		if k == 0 {
			price = 0
		}
		for t := from - rayMove; t <= from+rayMove; t += rayFine {
			laid[i] = d.layRay(t, &rayShapes[k])
			if _, _, chi := d.heights(laid); chi-price > most && roomy(laid, i) {
				best, most = laid[i], chi-price
			}
		}
	}
	laid[i] = best
}

// roomy reports whether a ray keeps its distance from the others.
func roomy(laid []laidRay, i int) bool {
	for j, o := range laid {
		if j != i && math.Abs(math.Remainder(o.azimuth-laid[i].azimuth, 360)) < raySpacing-rayMove {
			return false
		}
	}
	return true
}

// heights fits the amplitudes of rays, with their errors and the chi-square
// gained; that is minus infinity when an amplitude is not positive.
func (d *Directional) heights(laid []laidRay) (amp, se []float64, chi float64) {
	n := len(laid)
	g, s := make([]float64, n*n), make([]float64, n)
	for i, r := range laid {
		s[i] = dot(r.a[:], d.Score[:])
		for j, o := range laid {
			g[i*n+j] = dot(r.info[:], o.a[:])
		}
	}
	inv := inverse(g, n)
	if inv == nil {
		return nil, nil, math.Inf(-1)
	}
	amp, se = multiply(inv, n, s), make([]float64, n)
	for i, a := range amp {
		if se[i] = math.Sqrt(inv[i*n+i]); !(a > 0) {
			return amp, se, math.Inf(-1)
		}
	}
	return amp, se, dot(amp, s)
}
