package raster

import "math"

// azimuthSteps is the number of steps of the table for a sine of one.
const azimuthSteps = 90.5

// azimuthTable has angles up to 45 degrees in equal steps of their sines.
var azimuthTable = func() (t [128]struct{ angle, sin, cos float64 }) {
	for i := range t {
		t[i].sin = float64(i) / azimuthSteps
		t[i].angle = math.Asin(math.Min(1, t[i].sin))
		t[i].cos = math.Cos(t[i].angle)
	}
	return t
}()

// directions turns a row of vectors in place into unit vectors, north for no
// vector at all, and finds their angles clockwise from north in 0 <= a < 2 pi,
// right to a few units in the last place: the angle of a table, and the arc of
// the sine of the difference by a short series. It writes their lengths too, and
// has one root and one division.
func directions(length, az, east, north []float64) {
	length, east, north = length[:len(az)], east[:len(az)], north[:len(az)]
	for i := range az {
		e, n := east[i], north[i]
		l := e*e + n*n
		if l == 0 {
			length[i], az[i], east[i], north[i] = 0, 0, 0, 1
			continue
		}
		inv := 1 / math.Sqrt(l)
		length[i] = l * inv
		e, n = e*inv, n*inv
		east[i], north[i] = e, n
		lo, hi := math.Abs(e), math.Abs(n)
		swap := lo > hi
		if swap {
			lo, hi = hi, lo
		}
		t := &azimuthTable[int(lo*azimuthSteps+0.5)&127]
		d := lo*t.cos - hi*t.sin
		d2 := d * d
		a := t.angle + d*(1+d2*(1.0/6+d2*(3.0/40+d2*(15.0/336))))
		if swap {
			a = math.Pi/2 - a
		}
		if n < 0 {
			a = math.Pi - a
		}
		if e < 0 {
			a = 2*math.Pi - a
		}
		if a >= 2*math.Pi || a < 0 {
			a = 0
		}
		az[i] = a
	}
}

// arcOfHaversine returns 2 asin(sqrt(h)) for 0 <= h <= 1.
func arcOfHaversine(h float64) float64 {
	s := math.Sqrt(h)
	if h > 0.02 {
		return 2 * math.Asin(math.Min(s, 1))
	}
	return 2 * s * arcSeries(h)
}

// arcSeries is the series of asin(s)/s in h = s^2; its next term is below 1e-17
// for h < 0.02.
func arcSeries(h float64) float64 {
	return 1 + h*(1.0/6+h*(3.0/40+h*(15.0/336+h*(105.0/3456+h*(945.0/42240+h*(10395.0/599040+
		h*(135135.0/9676800+h*(2027025.0/175472640))))))))
}

// ranges turns a row of haversines in place into distances on a sphere; none
// is larger than hmax.
func ranges(h []float64, radius, hmax float64) {
	switch {
	case hmax < 5e-4: // the next term is below 1e-18
		for i, v := range h {
			h[i] = 2 * radius * math.Sqrt(v) * (1 + v*(1.0/6+v*(3.0/40+v*(15.0/336+v*(105.0/3456)))))
		}
	case hmax <= 0.02:
		for i, v := range h {
			h[i] = 2 * radius * math.Sqrt(v) * arcSeries(v)
		}
	default:
		for i, v := range h {
			h[i] = radius * arcOfHaversine(v)
		}
	}
}

// seriesLimit is the largest haversine of a reach for which the arc of a sine is
// a short series.
const seriesLimit = 0.005

// arcs turns a row of sines of angles in place into distances on a sphere; the
// haversine of none is above hmax.
func arcs(sin []float64, radius, hmax float64) {
	if hmax > 5e-4 {
		for i, s := range sin {
			sin[i] = radius * s * arcSeries(s*s)
		}
		return
	}
	for i, s := range sin { // the next term is below 1e-17
		h := s * s
		sin[i] = radius * s * (1 + h*(1.0/6+h*(3.0/40+h*(15.0/336+h*(105.0/3456+h*(945.0/42240))))))
	}
}

// sinNear is the sine, to the last bit that of the library where that has no
// instruction for it, and quicker below an eighth of a turn: there it is the
// polynomial of Moshier's Cephes library, which Go's has too.
func sinNear(x float64) float64 {
	if !(math.Abs(x) < math.Pi/4) {
		return math.Sin(x)
	}
	z := x * x
	return x + x*z*((((((1.58962301576546568060e-10*z)-2.50507477628578072866e-8)*z+2.75573136213857245213e-6)*z-1.98412698295895385996e-4)*z+8.33333333332211858878e-3)*z-1.66666666666666307295e-1)
}
