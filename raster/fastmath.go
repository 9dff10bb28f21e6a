package raster

import "math"

// atanTable[i] = atan(i/64).
var atanTable = func() (t [128]float64) {
	for i := range t {
		t[i] = math.Atan(float64(i) / 64)
	}
	return t
}()

// azimuth returns the angle of (east, north) clockwise from north in
// 0 <= a < 2 pi, right to a few units in the last place. It is math.Atan2
// without its special cases: a table of arc tangents and one short series.
func azimuth(east, north float64) float64 {
	ae, an := math.Abs(east), math.Abs(north)
	lo, hi := ae, an
	if ae > an {
		lo, hi = an, ae
	}
	if hi == 0 {
		return 0
	}
	i := int(lo/hi*64 + 0.5)
	t := float64(i) * (1.0 / 64)
	d := (lo - t*hi) / (hi + t*lo)
	d2 := d * d
	a := atanTable[i&127] + d*(1-d2*(1.0/3-d2*(1.0/5-d2*(1.0/7))))
	if ae > an {
		a = math.Pi/2 - a
	}
	if north < 0 {
		a = math.Pi - a
	}
	if east < 0 {
		a = 2*math.Pi - a
	}
	if a >= 2*math.Pi || a < 0 {
		a = 0
	}
	return a
}

// azimuths applies azimuth to a row of vectors.
func azimuths(dst, east, north []float64) {
	north = north[:len(dst)]
	east = east[:len(dst)]
	for i := range dst {
		e, n := east[i], north[i]
		lo, hi := math.Abs(e), math.Abs(n)
		swap := lo > hi
		if swap {
			lo, hi = hi, lo
		}
		if hi == 0 {
			dst[i] = 0
			continue
		}
		j := int(lo/hi*64 + 0.5)
		t := float64(j) * (1.0 / 64)
		d := (lo - t*hi) / (hi + t*lo)
		d2 := d * d
		a := atanTable[j&127] + d*(1-d2*(1.0/3-d2*(1.0/5-d2*(1.0/7))))
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
		dst[i] = a
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
