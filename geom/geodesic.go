package geom

import (
	"math"
	"sync/atomic"

	"github.com/tidwall/geodesic"
)

// Inverse returns the length in metres of the shortest line from p to q along
// the surface, and its azimuth at p in radians, clockwise from north, [0, 2*pi).
//
// On a sphere the formulas are those of the central angle from its sine and
// cosine together, with the haversine in the cosine, so that neither a
// centimetre nor the antipode loses digits. On an ellipsoid: Karney (2013),
// Algorithms for geodesics, J. Geodesy 87, 43-55.
//
// Special cases are: coincident points have distance 0 and azimuth 0; at a pole
// azimuths count from the meridian of p.Lon; NaN in, NaN out.
func (b Body) Inverse(p, q LonLat) (dist, azimuth float64) {
	if b.IsSphere() {
		slat, clat := sinCosLat(p.Lat)
		return spherePolar(b.SemiMajor, p, slat, clat, q)
	}
	return ellipsoidInverse(ellipsoidOf(b), p.Lon, Planetographic(b, p.Lat), q.Lon, Planetographic(b, q.Lat))
}

// Direct returns the place reached from p after dist metres along the geodesic
// that leaves p at the given azimuth (radians). The longitude is in -180..180.
func (b Body) Direct(p LonLat, azimuth, dist float64) LonLat {
	if b.IsSphere() {
		slat, clat := sinCosLat(p.Lat)
		return sphereDirect(b.SemiMajor, p.Lon, slat, clat, azimuth, dist)
	}
	return ellipsoidDirect(b, ellipsoidOf(b), p.Lon, Planetographic(b, p.Lat), azimuth, dist)
}

// spherePolar is the inverse problem from p, whose latitude is given as sine
// and cosine. With dphi, dlam the differences of latitude and longitude,
//
//	east  = cos(phi2) sin(dlam)
//	north = sin(dphi) + 2 sin(phi1) cos(phi2) sin^2(dlam/2)
//	h     = sin^2(dphi/2) + cos(phi1) cos(phi2) sin^2(dlam/2)
//	r     = R atan2(hypot(east, north), 1 - 2h)
//
// Products are rounded one by one (float64) so that processors with a fused
// multiply-add give the same last digit.
func spherePolar(radius float64, p LonLat, slat, clat float64, q LonLat) (r, az float64) {
	_, cq := sinCosLat(q.Lat)
	sd, cd := math.Sincos((q.Lat - p.Lat) * (degree / 2))
	sl, cl := math.Sincos(lonDiff(p.Lon, q.Lon) * (degree / 2))
	return polarOf(radius, slat, clat, cq, float64(sd*sd), float64(2*sd*cd), float64(sl*sl), float64(2*sl*cl))
}

// polarOf finishes spherePolar: hlat and hlon are the haversines of the two
// differences, sdlat and sdlon their sines.
func polarOf(radius, slat, clat, cq, hlat, sdlat, hlon, sdlon float64) (r, az float64) {
	east := float64(cq * sdlon)
	north := sdlat + float64(float64(2*slat*cq)*hlon)
	cosr := 1 - 2*(hlat+float64(float64(clat*cq)*hlon))
	sinr := math.Sqrt(float64(east*east) + float64(north*north))
	r = radius * math.Atan2(sinr, cosr)
	if az = math.Atan2(east, north); az < 0 {
		az += twoPi
		if az >= twoPi {
			az = 0
		}
	}
	return r, az
}

// sphereDirect is the direct problem; all three components of the direction of
// the end point are formed, so that the latitude is exact near a pole.
func sphereDirect(radius, lon, slat, clat, az, dist float64) LonLat {
	sr, cr := math.Sincos(dist / radius)
	sa, ca := math.Sincos(az)
	x := float64(clat*cr) - float64(slat*float64(sr*ca))
	y := float64(sr * sa)
	z := float64(slat*cr) + float64(clat*float64(sr*ca))
	return LonLat{
		Lon: WrapLon(lon + math.Atan2(y, x)/degree),
		Lat: math.Atan2(z, math.Hypot(x, y)) / degree,
	}
}

// solver is a geodesic solver with the shape it was made for.
type solver struct {
	a, invf float64
	e       *geodesic.Ellipsoid
}

// lastSolver keeps the most recent solver: a survey has one body, and setting
// up the series costs more than a geodesic.
var lastSolver atomic.Pointer[solver]

func ellipsoidOf(b Body) *geodesic.Ellipsoid {
	if s := lastSolver.Load(); s != nil && s.a == b.SemiMajor && s.invf == b.InverseFlattening {
		return s.e
	}
	s := &solver{b.SemiMajor, b.InverseFlattening, geodesic.NewEllipsoid(b.SemiMajor, b.Flattening())}
	lastSolver.Store(s)
	return s.e
}

// ellipsoidInverse takes planetographic latitudes. The solver has two blind
// spots, which are kept away from it: a latitude of minus zero, with which
// antipodal points of the equator come out at distance 0, and lines of
// centimetres that pass a pole, whose azimuth can come out as 90 degrees.
func ellipsoidInverse(e *geodesic.Ellipsoid, lon1, glat1, lon2, glat2 float64) (dist, az float64) {
	if min(math.Abs(glat1), math.Abs(glat2)) > 90-polarPlane && glat1*glat2 > 0 {
		return acrossPole(e, lon1, glat1, lon2, glat2)
	}
	e.Inverse(noMinusZero(glat1), lon1, noMinusZero(glat2), lon2, &dist, &az, nil)
	if dist == 0 {
		return 0, 0
	}
	return dist, WrapAzimuth(az * degree)
}

// noMinusZero also takes latitudes that the solver would round to minus zero.
func noMinusZero(lat float64) float64 {
	if math.Abs(lat) < 1e-17 {
		return 0
	}
	return lat
}

// polarPlane is the distance from a pole, in degrees, within which the surface
// is a plane to the last bit: 0.1 m on Mars.
const polarPlane = 2e-6

// acrossPole is the inverse problem in that plane. The radius of curvature at a
// pole is a^2/b.
func acrossPole(e *geodesic.Ellipsoid, lon1, glat1, lon2, glat2 float64) (dist, az float64) {
	c := e.Radius() / (1 - e.Flattening()) * degree
	r1, r2 := c*(90-math.Abs(glat1)), c*(90-math.Abs(glat2))
	s, k := math.Sincos(lonDiff(lon1, lon2) * (degree / 2))
	east, toPole := 2*r2*s*k, r1-r2+2*r2*s*s
	if dist = math.Hypot(east, toPole); dist == 0 {
		return 0, 0
	}
	return dist, WrapAzimuth(math.Atan2(east, math.Copysign(toPole, toPole*glat1)))
}

func ellipsoidDirect(b Body, e *geodesic.Ellipsoid, lon, glat, az, dist float64) LonLat {
	var lat2, lon2 float64
	e.Direct(glat, lon, az/degree, dist, &lat2, &lon2, nil)
	return LonLat{Lon: WrapLon(lon2), Lat: Planetocentric(b, lat2)}
}
