package testblanket

import (
	"math"

	"rimcast/geom"
)

// level is what a covariate has at a place and column without noise and without
// anything planted: the incidence on level ground and the azimuth of the sun in
// degrees, the number of the strip, or an amount that rises with sunlight.
func (c Covariate) level(p geom.LonLat, column int) float64 {
	switch c.Kind {
	case "incidence":
		return degrees(math.Acos(c.sunHeight(p)))
	case "sun_azimuth":
		return c.sunAzimuth(p)
	case "strip":
		return float64(column/c.Noise.stripWidth() + 1)
	}
	return c.Base + c.Sunlit*math.Sqrt(math.Sqrt(math.Max(0, c.sunHeight(p))))
}

// sunLon is how far the subsolar point lies to the east of a place, radians; it
// stands on the equator.
func (c Covariate) sunLon(p geom.LonLat) float64 {
	if c.EveryNoon {
		return c.SunEast * math.Pi / 180
	}
	return (c.Subsolar - p.Lon) * math.Pi / 180
}

// sunHeight is the cosine of the incidence on level ground, by the cosine law
// for sides.
func (c Covariate) sunHeight(p geom.LonLat) float64 {
	return math.Cos(p.Lat*math.Pi/180) * math.Cos(c.sunLon(p))
}

// sunAzimuth is the direction of the subsolar point from a place, degrees
// clockwise from north, 0 to 360.
func (c Covariate) sunAzimuth(p geom.LonLat) float64 {
	sin, cos := math.Sincos(c.sunLon(p))
	az := degrees(math.Atan2(sin, -math.Sin(p.Lat*math.Pi/180)*cos))
	return math.Mod(az+360, 360)
}

func degrees(radians float64) float64 { return radians * 180 / math.Pi }
