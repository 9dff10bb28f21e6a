package geom

import (
	"math"

	"github.com/tidwall/geodesic"
)

// Frame is a polar frame centred on a place: azimuthal equidistant, range along
// the true geodesic, azimuth clockwise from north at the centre. It holds what
// every look-up needs again, allocates nothing after [NewFrame], and may be
// used by several goroutines at once.
//
// The zero value is not usable.
type Frame struct {
	body       Body
	centre     LonLat
	slat, clat float64             // of the centre, sphere
	solver     *geodesic.Ellipsoid // nil on a sphere
	glat       float64             // planetographic latitude of the centre
}

// NewFrame returns the frame of a place. It panics when the body or the place
// is not valid: both were checked when they were read.
func NewFrame(b Body, centre LonLat) *Frame {
	if err := b.Valid(); err != nil {
		panic("geom: frame on an invalid body: " + err.Error())
	}
	if !centre.Valid() {
		panic("geom: frame at an invalid place")
	}
	f := &Frame{body: b, centre: centre}
	f.slat, f.clat = sinCosLat(centre.Lat)
	if !b.IsSphere() {
		f.solver = ellipsoidOf(b)
		f.glat = Planetographic(b, centre.Lat)
	}
	return f
}

// Body returns the body that the frame lies on.
func (f *Frame) Body() Body { return f.body }

// Centre returns the origin of the frame.
func (f *Frame) Centre() LonLat { return f.centre }

// Polar returns range in metres and azimuth in radians, [0, 2*pi), of a place.
// The centre itself has range 0 and azimuth 0. At the antipode of the centre the
// azimuth is arbitrary. NaN gives NaN.
func (f *Frame) Polar(p LonLat) (r, azimuth float64) {
	if f.solver == nil {
		return spherePolar(f.body.SemiMajor, f.centre, f.slat, f.clat, p)
	}
	return ellipsoidInverse(f.solver, f.centre.Lon, f.glat, p.Lon, Planetographic(f.body, p.Lat))
}

// LonLat returns the place at a range in metres and an azimuth in radians; it is
// the inverse of [Frame.Polar] for ranges up to half way round the body.
func (f *Frame) LonLat(r, azimuth float64) LonLat {
	if f.solver == nil {
		return sphereDirect(f.body.SemiMajor, f.centre.Lon, f.slat, f.clat, azimuth, r)
	}
	return ellipsoidDirect(f.body, f.solver, f.centre.Lon, f.glat, azimuth, r)
}

// HalfTurn returns the range in metres beyond which no place lies: half the
// circumference, measured along the equator.
func (f *Frame) HalfTurn() float64 { return math.Pi * f.body.SemiMajor }

// Parallel is what a row of equal latitude contributes to [Frame.Grid].
type Parallel struct{ lat, cos, hav, sin float64 }

// Meridian is what a column of equal longitude contributes to [Frame.Grid].
type Meridian struct{ lon, hav, sin float64 }

// Parallel prepares a latitude in degrees.
func (f *Frame) Parallel(lat float64) Parallel {
	_, c := sinCosLat(lat)
	s, k := math.Sincos((lat - f.centre.Lat) * (degree / 2))
	return Parallel{lat, c, float64(s * s), float64(2 * s * k)}
}

// Meridian prepares a longitude in degrees.
func (f *Frame) Meridian(lon float64) Meridian {
	s, k := math.Sincos(lonDiff(f.centre.Lon, lon) * (degree / 2))
	return Meridian{lon, float64(s * s), float64(2 * s * k)}
}

// Grid returns what [Frame.Polar] returns for the place where a parallel and a
// meridian cross, to the last bit. On a sphere only one square root and two
// arc tangents are left per place: the way to do the pixels of a map in
// longitude and latitude.
func (f *Frame) Grid(p Parallel, m Meridian) (r, azimuth float64) {
	if f.solver != nil {
		return f.Polar(LonLat{m.lon, p.lat})
	}
	return polarOf(f.body.SemiMajor, f.slat, f.clat, p.cos, p.hav, p.sin, m.hav, m.sin)
}

// HavPolar returns the haversine of the range, sin^2(r/2R), and the east and
// north components of the direction of a crossing, for kernels that bin
// without an arc tangent: azimuth = atan2(east, north). Spheres only; it panics
// on an ellipsoid.
func (f *Frame) HavPolar(p Parallel, m Meridian) (hav, east, north float64) {
	if f.solver != nil {
		panic("geom: HavPolar on an ellipsoid")
	}
	hav = p.hav + float64(float64(f.clat*p.cos)*m.hav)
	return hav, float64(p.cos * m.sin), p.sin + float64(float64(2*f.slat*p.cos)*m.hav)
}
