package ejecta

import "math"

// A crater is measured beside its covariates, so that what they explain is no
// noise there. The noise of the map is therefore that of what they leave.

// sameColumn is the share of its scatter that a layer must have beside those
// before it.
const sameColumn = 1e-6

// pixelsPerLayer is the number of pixels below which no column is taken out.
const pixelsPerLayer = 20

// TakeLayers takes what the layers explain of a window of side x side values,
// row-major, out of it in place, with a plane: the least-squares fit over the
// pixels that are not NaN. A layer has its mean where it is NaN itself; one that
// does not vary, or follows from those before it, takes nothing.
func TakeLayers(values []float64, side int, layers [][]float64) {
	at := validAt(values)
	if len(layers) == 0 || len(at) < pixelsPerLayer*(len(layers)+3) {
		return
	}
	basis := planeBasis(at, side)
	for _, l := range layers {
		basis = withColumn(basis, filledAt(l, at))
	}
	v := filledAt(values, at)
	takeBasis(v, basis)
	for k, i := range at {
		values[i] = v[k]
	}
}

// validAt are the places of the values that are not NaN.
func validAt(v []float64) (at []int) {
	for i, x := range v {
		if x == x {
			at = append(at, i)
		}
	}
	return at
}

// filledAt are the values at some places, their mean where they are NaN.
func filledAt(v []float64, at []int) []float64 {
	out, missing := make([]float64, len(at)), math.NaN()
	for k, i := range at {
		out[k] = v[i]
		if v[i] != v[i] && missing != missing {
			missing = meanAt(v, at)
		}
		if v[i] != v[i] {
			out[k] = missing
		}
	}
	return out
}

// meanAt is the mean of the values at some places that are not NaN; zero for none.
func meanAt(v []float64, at []int) float64 {
	sum, n := 0.0, 0
	for _, i := range at {
		if v[i] == v[i] {
			sum, n = sum+v[i], n+1
		}
	}
	return sum / math.Max(1, float64(n))
}

// planeBasis is an orthonormal basis of the planes over some places.
func planeBasis(at []int, side int) [][]float64 {
	one, x, y := make([]float64, len(at)), make([]float64, len(at)), make([]float64, len(at))
	for k, i := range at {
		one[k], x[k], y[k] = 1/math.Sqrt(float64(len(at))), float64(i%side), float64(i/side)
	}
	return withColumn(withColumn([][]float64{one}, x), y)
}

// withColumn adds what a column has beside an orthonormal basis that begins with
// the constant, if that is more than rounding.
func withColumn(basis [][]float64, c []float64) [][]float64 {
	takeBasis(c, basis[:1])
	scatter := dot(c, c)
	takeBasis(c, basis)
	takeBasis(c, basis) // once more: the first pass leaves rounding
	left := dot(c, c)
	if !(left > sameColumn*scatter) || math.IsInf(left, 0) {
		return basis
	}
	scaleBy(c, 1/math.Sqrt(left))
	return append(basis, c)
}

// takeBasis takes the part along each vector of an orthonormal basis out of v.
func takeBasis(v []float64, basis [][]float64) {
	for _, b := range basis {
		d := dot(v, b)
		for i := range v {
			v[i] -= d * b[i]
		}
	}
}

func scaleBy(v []float64, f float64) {
	for i := range v {
		v[i] *= f
	}
}
