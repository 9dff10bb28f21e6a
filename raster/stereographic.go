package raster

import (
	"math"

	"rimcast/geom"
)

// stereographic is the polar aspect of the stereographic projection, on a
// sphere or an ellipsoid (Snyder 1987, equations 21-5 to 21-15 and 21-30 to
// 21-40).
type stereographic struct {
	north     bool
	lon0      float64 // degrees, with the prime meridian
	scale     float64 // distance from the pole = scale * t(latitude), CRS units
	e         float64 // eccentricity
	rf        float64
	x0, y0    float64
	name, wkt string
}

func newStereographic(c *crs) *stereographic {
	lat0 := c.lat0()
	p := &stereographic{north: lat0 > 0, lon0: c.lon0() + c.prime, rf: c.rf, name: c.describe(), wkt: c.wkt}
	if c.rf != 0 {
		f := 1 / c.rf
		p.e = math.Sqrt(f * (2 - f))
	}
	p.x0, p.y0 = c.falseOrigin()
	switch {
	case math.Abs(math.Abs(lat0)-90) < 1e-9:
		k := c.get(1, "scale_factor", "scale_factor_at_natural_origin")
		p.scale = 2 * c.a * k / math.Sqrt(math.Pow(1+p.e, 1+p.e)*math.Pow(1-p.e, 1-p.e))
	case c.method == "stereographic" || lat0 == 0:
		return nil
	default:
		s, co := math.Sincos(math.Abs(lat0) * degree)
		m := co / math.Sqrt(1-p.e*p.e*s*s)
		p.scale = c.a * m / p.t(math.Abs(lat0)*degree)
	}
	p.scale /= c.unit
	if !(p.scale > 0) {
		return nil
	}
	return p
}

// t is Snyder's t of a geodetic latitude in radians towards the pole of the
// map.
func (p *stereographic) t(lat float64) float64 {
	t := math.Tan(math.Pi/4 - lat/2)
	if p.e == 0 {
		return t
	}
	es := p.e * math.Sin(lat)
	return t / math.Pow((1-es)/(1+es), p.e/2)
}

// Forward implements Projection; only the opposite pole has no image.
func (p *stereographic) Forward(q geom.LonLat) (x, y float64, ok bool) {
	lat := toGraphic(q.Lat, p.rf)
	if !p.north {
		lat = -lat
	}
	if !(lat > -89.999999) || lat > 90 {
		return 0, 0, false
	}
	rho := 0.0
	if lat < 90 {
		rho = p.scale * p.t(lat*degree)
	}
	s, c := math.Sincos((q.Lon - p.lon0) * degree)
	if p.north {
		c = -c
	}
	return p.x0 + rho*s, p.y0 + rho*c, true
}

// Inverse implements Projection.
func (p *stereographic) Inverse(x, y float64) (geom.LonLat, bool) {
	x, y = x-p.x0, y-p.y0
	t := math.Hypot(x, y) / p.scale
	if !(t < 1e8) {
		return geom.LonLat{}, false
	}
	lat := p.latitude(t)
	lon := 0.0
	if t > 0 {
		if p.north {
			y = -y
		}
		lon = math.Atan2(x, y) / degree
	}
	if !p.north {
		lat = -lat
	}
	return geom.LonLat{Lon: wrap180(p.lon0 + lon), Lat: toCentric(lat, p.rf)}, true
}

// latitude inverts t, by iteration on an ellipsoid (equation 7-9).
func (p *stereographic) latitude(t float64) float64 {
	phi := math.Pi/2 - 2*math.Atan(t)
	if p.e == 0 {
		return phi / degree
	}
	for i := 0; i < 60; i++ {
		es := p.e * math.Sin(phi)
		next := math.Pi/2 - 2*math.Atan(t*math.Pow((1-es)/(1+es), p.e/2))
		done := math.Abs(next-phi) < 1e-15
		phi = next
		if done {
			break
		}
	}
	return phi / degree
}

func (p *stereographic) Name() string { return p.name }
func (p *stereographic) WKT() string  { return p.wkt }
