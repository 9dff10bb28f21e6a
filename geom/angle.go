package geom

import "math"

const (
	degree  = math.Pi / 180
	twoPi   = 2 * math.Pi
	maxTurn = 360.0
)

// WrapLon reduces a longitude in degrees to -180..180, exactly. Values in that
// range, both ends included, come back unchanged; NaN and infinities give NaN.
func WrapLon(lon float64) float64 {
	if lon >= -180 && lon <= 180 {
		return lon
	}
	return math.Remainder(lon, maxTurn)
}

// WrapAzimuth reduces an azimuth in radians to [0, 2*pi).
func WrapAzimuth(az float64) float64 {
	if az >= 0 && az < twoPi {
		return az
	}
	az = math.Mod(az, twoPi)
	if az < 0 {
		az += twoPi
	}
	if az >= twoPi { // a tiny negative angle rounds up to a whole turn
		az = 0
	}
	return az
}

// lonDiff returns to - from in degrees, reduced to -180..180 without loss.
func lonDiff(from, to float64) float64 { return WrapLon(to - from) }

// sinCosLat returns sine and cosine of a latitude in degrees. The cosine keeps
// its relative precision up to the pole, where it is exactly 0.
func sinCosLat(lat float64) (sin, cos float64) {
	if math.Abs(lat) <= 45 {
		return math.Sincos(lat * degree)
	}
	colat := (90 - math.Abs(lat)) * degree
	cos, sin = math.Sincos(colat)
	return math.Copysign(sin, lat), cos
}

// unit is a direction from the centre of a body.
type unit [3]float64

func unitVector(p LonLat) unit {
	slat, clat := sinCosLat(p.Lat)
	slon, clon := math.Sincos(p.Lon * degree)
	return unit{clat * clon, clat * slon, slat}
}

// lonLat returns the place below a direction; the zero vector gives (0, 0).
func (u unit) lonLat() LonLat {
	return LonLat{
		Lon: math.Atan2(u[1], u[0]) / degree,
		Lat: math.Atan2(u[2], math.Hypot(u[0], u[1])) / degree,
	}
}
