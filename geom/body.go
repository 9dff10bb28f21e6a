package geom

import (
	"fmt"
	"math"
)

// Body is the reference surface of a survey: a sphere, or an ellipsoid of
// revolution flattened at the poles.
//
// Lengths are metres. Longitudes and latitudes are in degrees, east positive
// and planetocentric, everywhere inside the program. The zero value is not a
// valid body.
type Body struct {
	Name              string
	SemiMajor         float64 // equatorial radius, metres
	InverseFlattening float64 // 0 for a sphere
	Source            string  // where the radii come from
}

// LonLat is a place on a body: degrees, east positive, planetocentric.
type LonLat struct{ Lon, Lat float64 }

// Valid reports whether both coordinates are finite, the latitude within
// -90..90 and the longitude within -360..360.
func (p LonLat) Valid() bool {
	return math.Abs(p.Lon) <= 360 && math.Abs(p.Lat) <= 90
}

// Sphere returns a spherical body. The radius is in metres.
func Sphere(name string, radius float64) Body {
	return Body{Name: name, SemiMajor: radius, Source: "given by the user"}
}

// Ellipsoid returns an ellipsoid of revolution with equatorial radius a in
// metres. An inverse flattening of 0 gives a sphere.
func Ellipsoid(name string, a, invFlattening float64) Body {
	return Body{Name: name, SemiMajor: a, InverseFlattening: invFlattening, Source: "given by the user"}
}

// IsSphere reports whether the body is a sphere.
func (b Body) IsSphere() bool { return b.InverseFlattening == 0 }

// Flattening returns f = (a-b)/a, 0 for a sphere.
func (b Body) Flattening() float64 {
	if b.IsSphere() {
		return 0
	}
	return 1 / b.InverseFlattening
}

// SemiMinor returns the polar radius in metres.
func (b Body) SemiMinor() float64 { return b.SemiMajor * (1 - b.Flattening()) }

// MeanRadius returns (2a+b)/3 in metres.
func (b Body) MeanRadius() float64 { return (2*b.SemiMajor + b.SemiMinor()) / 3 }

// Valid returns an error unless the radius is positive and finite and the
// flattening is 0 or between 0 and 0.7 (Eros, the flattest body of the IAU
// list, has 0.68). Longer than wide bodies are not ellipsoids of this kind.
func (b Body) Valid() error {
	switch f := b.Flattening(); {
	case !(b.SemiMajor > 0) || math.IsInf(b.SemiMajor, 0):
		return fmt.Errorf("body %s: radius %g m is not a positive number", Quote(b.Name), b.SemiMajor)
	case !(f >= 0 && f <= 0.7):
		return fmt.Errorf("body %s: inverse flattening %g is out of range; give 0 for a sphere or a/(a-b)",
			Quote(b.Name), b.InverseFlattening)
	}
	return nil
}

// SameShape reports whether two bodies have the same radii to within rel, a
// relative tolerance; 0.005 is what projection libraries take for "the same
// celestial body". Names are not compared.
func (b Body) SameShape(o Body, rel float64) bool {
	return math.Abs(b.SemiMajor-o.SemiMajor) <= rel*o.SemiMajor &&
		math.Abs(b.SemiMinor()-o.SemiMinor()) <= rel*o.SemiMajor
}

// String returns the name and the radii, as for a message.
func (b Body) String() string {
	name := label(b.Name)
	if b.Name == "" {
		name = "unnamed body"
	}
	if b.IsSphere() {
		return fmt.Sprintf("%s (sphere, %.10g m)", name, b.SemiMajor)
	}
	return fmt.Sprintf("%s (ellipsoid, %.10g x %.10g m)", name, b.SemiMajor, b.SemiMinor())
}

// Planetocentric converts a planetographic (geodetic) latitude to a
// planetocentric one, both in degrees:
//
//	tan(centric) = (1-f)^2 tan(graphic)
//
// On a sphere both are the same. Source: Snyder (1987), USGS Professional
// Paper 1395, eq. 3-28.
func Planetocentric(b Body, graphicLat float64) float64 {
	return scaleTan(graphicLat, (1-b.Flattening())*(1-b.Flattening()))
}

// Planetographic converts a planetocentric latitude to a planetographic one,
// both in degrees; it is the inverse of [Planetocentric].
func Planetographic(b Body, centricLat float64) float64 {
	return scaleTan(centricLat, 1/((1-b.Flattening())*(1-b.Flattening())))
}

func scaleTan(lat, factor float64) float64 {
	if factor == 1 || lat == 0 || math.Abs(lat) >= 90 {
		return lat
	}
	sin, cos := sinCosLat(lat)
	if math.Abs(lat) <= 45 {
		return math.Atan2(factor*sin, cos) / degree
	}
	// Measured from the pole, so that places near it keep their precision.
	return math.Copysign(90-math.Atan2(cos, factor*math.Abs(sin))/degree, lat)
}
