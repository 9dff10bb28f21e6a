package testblanket

import "math"

// Place is a point near a crater, in crater radii east and north of its centre.
type Place struct{ East, North float64 }

// Polar returns range and azimuth of a place, radians clockwise from north.
func (p Place) Polar() (rho, az float64) {
	return math.Hypot(p.East, p.North), math.Atan2(p.East, p.North)
}

// along is the distance of a place towards an azimuth in degrees.
func (p Place) along(azimuth float64) float64 {
	sin, cos := math.Sincos(azimuth * math.Pi / 180)
	return p.East*sin + p.North*cos
}

// Ground is a field round a crater that is no blanket of that crater: what
// could be mistaken for one.
type Ground func(Place) float64

// Contact is ground that stands higher by height beyond a straight line, offset
// crater radii from the centre towards an azimuth in degrees.
func Contact(azimuth, offset, height float64) Ground {
	return func(p Place) float64 {
		if p.along(azimuth) > offset {
			return height
		}
		return 0
	}
}

// Strip is a strip of a mosaic from one distance east to another that stands
// higher by height.
func Strip(from, to, height float64) Ground {
	return func(p Place) float64 {
		if p.East >= from && p.East < to {
			return height
		}
		return 0
	}
}

// Dipole is warmer on one side and colder on the other, falling with the square
// of the range, flat inside the rim.
func Dipole(azimuth, height float64) Ground {
	return func(p Place) float64 {
		rho, _ := p.Polar()
		if rho < 1 {
			return height * p.along(azimuth)
		}
		return height * p.along(azimuth) / (rho * rho * rho)
	}
}

// Slopes are the outer flanks of a rim as the light meets them from an azimuth:
// bright on one side, dark on the other, gone within a radius or so.
func Slopes(azimuth, height float64) Ground {
	return func(p Place) float64 {
		rho, _ := p.Polar()
		return height * p.along(azimuth) / math.Max(rho, 1e-9) * math.Exp(-math.Abs(rho-1)/0.7)
	}
}

// LocalTime is the time of day in hours of a mosaic whose observations run from
// morning to evening across the crater, later towards an azimuth.
func LocalTime(azimuth float64) Ground {
	return func(p Place) float64 { return 12 + 6*math.Tanh(p.along(azimuth)/3) }
}

// Late is an amount that grows towards evening: by height from noon to six.
func Late(azimuth, height float64) Ground {
	time := LocalTime(azimuth)
	return func(p Place) float64 { return height * math.Pow(math.Max(0, (time(p)-12)/6), 2) }
}

// Around moves a blanket to a crater of another place and radius, in radii of
// the first.
func Around(b Blanket, at Place, radius float64) Ground {
	s := b.Shape()
	return func(p Place) float64 {
		q := Place{(p.East - at.East) / radius, (p.North - at.North) / radius}
		return s.At(q.Polar())
	}
}

// Elliptic is a blanket round an elliptical rim with the area of the unit circle,
// axes of the given ratio, the long one towards an azimuth.
func Elliptic(b Blanket, ratio, azimuth float64) Ground {
	s := b.Shape()
	return func(p Place) float64 {
		_, az := p.Polar()
		return s.At(EllipticRange(p, ratio, azimuth), az)
	}
}

// EllipticRange is the range of a place in units of the rim of an ellipse of
// the given ratio of axes and the area of the unit circle.
func EllipticRange(p Place, ratio, azimuth float64) float64 {
	long := math.Sqrt(ratio)
	return math.Hypot(p.along(azimuth)/long, p.along(azimuth+90)*long)
}

// Plus is the sum of two fields.
func (g Ground) Plus(h Ground) Ground { return func(p Place) float64 { return g(p) + h(p) } }
