package raster

import (
	"errors"
	"fmt"
	"math"
	"sync"

	"rimcast/geom"
)

// Projection turns places on a body into map coordinates and back.
//
// The longitudes and latitudes are planetocentric, whatever the CRS means by
// its own: the geodetic latitudes of an ellipsoidal CRS are converted. The
// coordinates are in the unit of the CRS. Forward returns ok = false for a
// place the projection cannot show, Inverse for a point that is not the image
// of any place, or only a second image (beyond the cut of a sinusoidal map).
// A Projection is safe for use by several goroutines.
type Projection interface {
	Forward(p geom.LonLat) (x, y float64, ok bool)
	Inverse(x, y float64) (p geom.LonLat, ok bool)
	// Name returns the method and its parameters on one line; two projections
	// with the same name are the same.
	Name() string
	// WKT returns well-known text that GDAL understands.
	WKT() string
}

// NewProjection returns the projection of a CRS given as a code, a PROJ string
// or well-known text. Longitude and latitude, equirectangular and polar
// stereographic are computed here; all others by PROJ.
func NewProjection(text string) (Projection, error) {
	c, err := lookupCRS(text)
	if err != nil {
		return nil, err
	}
	return c.projection()
}

// NewBodyProjection is NewProjection together with the body that the CRS is
// on.
func NewBodyProjection(text string) (Projection, geom.Body, error) {
	c, err := lookupCRS(text)
	if err != nil {
		return nil, geom.Body{}, err
	}
	p, err := c.projection()
	return p, c.body(), err
}

// agreed holds the closed forms that PROJ was found to agree with, by all their
// values. To open PROJ takes longer than to read a small map, and a survey has
// many layers of one projection.
var agreed sync.Map

// projection prefers a closed form, and only where it agrees with PROJ.
func (c *crs) projection() (Projection, error) {
	if c.method == "" {
		return newLonLat(c), nil
	}
	p := c.closedForm()
	key := fmt.Sprintf("%+v %s", p, c.geogcs)
	if _, known := agreed.Load(key); known {
		return p, nil
	}
	lib, err := newLibraryProjection(c)
	if err != nil {
		return nil, err
	}
	if p == nil || !agree(p, lib) {
		return lib, nil
	}
	agreed.Store(key, true)
	return p, nil
}

func (c *crs) closedForm() Projection {
	switch c.method {
	case "equirectangular", "equidistant_cylindrical", "equidistant_cylindrical_(spherical)", "plate_carree":
		if p := newEquirectangular(c); p != nil {
			return p
		}
	case "polar_stereographic", "polar_stereographic_(variant_a)", "polar_stereographic_(variant_b)", "stereographic":
		if s := newStereographic(c); s != nil {
			return s
		}
	}
	return nil
}

// agree compares a closed form with PROJ at a few places.
func agree(p, lib Projection) bool {
	tested := 0
	for _, q := range []geom.LonLat{{Lon: 0, Lat: 0}, {Lon: 33, Lat: 71}, {Lon: -124, Lat: -47}, {Lon: 170, Lat: 12}, {Lon: 91, Lat: -80}, {Lon: -60, Lat: 85}} {
		x, y, ok := lib.Forward(q)
		if !ok {
			continue
		}
		u, v, ok := p.Forward(q)
		scale := math.Max(1, math.Hypot(x, y))
		if !ok || math.Hypot(x-u, y-v) > 1e-9*scale {
			return false
		}
		tested++
	}
	return tested >= 3
}

// cylindrical is a map whose columns are meridians at equal steps and whose
// rows are parallels at equal steps of latitude: longitude and latitude
// themselves, or the equirectangular projection. PROJ uses the spherical
// formula of the latter also on an ellipsoid, with geodetic latitude and the
// equatorial radius; so does this.
type cylindrical struct {
	lon0, lat0 float64 // degrees, lon0 east positive
	kx, ky     float64 // CRS units per degree east and north; kx < 0 for a west-positive map
	x0, y0     float64 // false origin
	rf         float64 // > 1: latitudes of the CRS are geodetic
	name, wkt  string
}

func newLonLat(c *crs) *cylindrical {
	p := &cylindrical{lon0: c.prime, kx: 1 / c.unit, ky: 1 / c.unit, rf: c.rf, name: c.describe(), wkt: c.wkt}
	if c.ocentric {
		p.rf = 0
	}
	return p
}

func newEquirectangular(c *crs) *cylindrical {
	m := c.a * degree / c.unit
	p := &cylindrical{lon0: c.lon0() + c.prime, lat0: c.get(0, "latitude_of_origin", "latitude_of_natural_origin"),
		kx: m * math.Cos(degree*c.get(0, "standard_parallel_1", "latitude_of_1st_standard_parallel")), ky: m,
		rf: c.rf, name: c.describe(), wkt: c.wkt}
	p.x0, p.y0 = c.falseOrigin()
	if !(p.kx > 0) {
		return nil
	}
	return p
}

// Forward implements Projection. The longitude is taken within 180 degrees of
// the central meridian.
func (p *cylindrical) Forward(q geom.LonLat) (x, y float64, ok bool) {
	lat := toGraphic(q.Lat, p.rf)
	return p.x0 + p.kx*wrap180(q.Lon-p.lon0), p.y0 + p.ky*(lat-p.lat0), math.Abs(q.Lat) <= 90
}

// Inverse implements Projection.
func (p *cylindrical) Inverse(x, y float64) (geom.LonLat, bool) {
	lat := p.lat0 + (y-p.y0)/p.ky
	if math.Abs(lat) > 90 {
		if math.Abs(lat) > 90+1e-9 {
			return geom.LonLat{}, false
		}
		lat = math.Copysign(90, lat)
	}
	return geom.LonLat{Lon: wrap180(p.lon0 + (x-p.x0)/p.kx), Lat: toCentric(lat, p.rf)}, true
}

func (p *cylindrical) Name() string { return p.name }
func (p *cylindrical) WKT() string  { return p.wkt }

// mirrored returns a projection whose longitudes count positive west.
func mirrored(p Projection) Projection {
	if c, ok := p.(*cylindrical); ok {
		m := *c
		m.lon0, m.kx, m.name = -c.lon0, -c.kx, c.name+" west-positive"
		return &m
	}
	return &mirror{p}
}

type mirror struct{ Projection }

func (m *mirror) Forward(q geom.LonLat) (x, y float64, ok bool) {
	return m.Projection.Forward(geom.LonLat{Lon: -q.Lon, Lat: q.Lat})
}

func (m *mirror) Inverse(x, y float64) (geom.LonLat, bool) {
	q, ok := m.Projection.Inverse(x, y)
	return geom.LonLat{Lon: -q.Lon, Lat: q.Lat}, ok
}

func (m *mirror) Name() string { return m.Projection.Name() + " west-positive" }

// wrap180 returns the longitude in -180 <= lon < 180.
func wrap180(lon float64) float64 {
	if lon >= -180 && lon < 180 {
		return lon
	}
	lon = math.Mod(lon+180, 360)
	if lon < 0 {
		lon += 360
	}
	return lon - 180
}

// toCentric turns a geodetic latitude into a planetocentric one; rf is the
// inverse flattening, 0 for a sphere. tan c = (1-f)^2 tan g (Snyder 1987,
// equation 3-28).
func toCentric(lat, rf float64) float64 {
	if rf == 0 || math.Abs(lat) == 90 {
		return lat
	}
	q := 1 - 1/rf
	s, c := math.Sincos(lat * degree)
	return math.Atan2(q*q*s, c) / degree
}

// toGraphic is the inverse of toCentric.
func toGraphic(lat, rf float64) float64 {
	if rf == 0 || math.Abs(lat) == 90 {
		return lat
	}
	q := 1 - 1/rf
	s, c := math.Sincos(lat * degree)
	return math.Atan2(s, q*q*c) / degree
}

var errProjection = errors.New("projection cannot be set up")
