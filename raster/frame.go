package raster

import (
	"math"

	"rimcast/geom"
)

// frame gives the position of places relative to a centre.
type frame interface {
	// offset returns the east and north component, in metres, of the vector
	// whose length is the geodesic distance and whose direction is the azimuth
	// at the centre.
	offset(p geom.LonLat) (east, north float64)
	// curvature returns the Gaussian curvature at the centre, per square metre.
	// The ground area per unit of area of the (east, north) plane at a distance
	// r is sinc2(curvature r^2).
	curvature() float64
}

func newFrame(b geom.Body, centre geom.LonLat) frame {
	if b.InverseFlattening == 0 {
		return newSphereFrame(b.SemiMajor, centre)
	}
	return newEllipsoidFrame(b, centre)
}

// sphereFrame measures on a sphere by haversines, which lose nothing at short
// range.
type sphereFrame struct {
	r        float64
	lon, lat float64 // degrees
	sin, cos float64 // of the latitude
}

func newSphereFrame(r float64, centre geom.LonLat) *sphereFrame {
	f := sphereFrameAt(r, centre)
	return &f
}

func sphereFrameAt(r float64, centre geom.LonLat) sphereFrame {
	s, c := sincosDeg(centre.Lat)
	return sphereFrame{r: r, lon: centre.Lon, lat: centre.Lat, sin: s, cos: c}
}

func (f *sphereFrame) offset(p geom.LonLat) (east, north float64) {
	dl := wrap180(p.Lon-f.lon) * degree
	s2 := math.Sin(dl / 2)
	s2 *= s2
	_, cp := sincosDeg(p.Lat)
	sd := math.Sin((p.Lat - f.lat) * degree / 2)
	h := math.Min(1, sd*sd+f.cos*cp*s2)
	e, n := cp*math.Sin(dl), math.Sin((p.Lat-f.lat)*degree)+2*f.sin*cp*s2
	d := math.Hypot(e, n)
	r := 2 * f.r * math.Asin(math.Sqrt(h))
	if d == 0 {
		return 0, r
	}
	return r * e / d, r * n / d
}

func (f *sphereFrame) curvature() float64 { return 1 / (f.r * f.r) }

// sinc2 returns sin(t)/t given t squared: with t = r/R the area element of
// geodesic polar coordinates on a sphere.
func sinc2(t2 float64) float64 {
	if t2 < 0.01 {
		return 1 - t2*(1./6)*(1-t2*(1./20)*(1-t2*(1./42)))
	}
	t := math.Sqrt(t2)
	return math.Sin(t) / t
}

// sincosDeg is exact at the poles.
func sincosDeg(lat float64) (s, c float64) {
	if math.Abs(lat) == 90 {
		return math.Copysign(1, lat), 0
	}
	return math.Sincos(lat * degree)
}

// ellipsoidFrame measures on an ellipsoid of revolution.
type ellipsoidFrame struct {
	f    *geom.Frame
	curv float64
}

func newEllipsoidFrame(b geom.Body, centre geom.LonLat) *ellipsoidFrame {
	f := 1 / b.InverseFlattening
	e2 := f * (2 - f)
	s := math.Sin(toGraphic(centre.Lat, b.InverseFlattening) * degree)
	w2 := 1 - e2*s*s
	return &ellipsoidFrame{geom.NewFrame(b, centre), w2 * w2 / (b.SemiMajor * b.SemiMajor * (1 - e2))}
}

func (f *ellipsoidFrame) offset(p geom.LonLat) (east, north float64) {
	r, az := f.f.Polar(p)
	s, c := math.Sincos(az)
	return r * s, r * c
}

// curvature is that at the centre, taken for the whole neighbourhood: the area
// of a pixel is off by the flattening times (r/R)^2 at most.
func (f *ellipsoidFrame) curvature() float64 { return f.curv }
