package raster

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"sort"
	"strings"

	"rimcast/geom"

	"github.com/airbusgeo/godal"
)

// crs is a coordinate reference system taken apart: it is compared and used by
// its parameters, never by its code or name, since GeoTIFF keeps no codes for
// other bodies and a PROJ string may be empty.
type crs struct {
	wkt       string
	name      string
	ellipsoid string
	a, rf     float64 // metres; rf = 0 for a sphere
	method    string  // normalised, lower case; "" for longitude and latitude
	par       map[string]float64
	unit      float64 // metres, or degrees, per unit of the coordinates
	prime     float64 // longitude of the prime meridian, degrees
	ocentric  bool    // latitudes are planetocentric although rf > 0
	west      bool    // longitudes are declared positive west
	geogcs    string  // the geographic part, as WKT, "" when it must be rebuilt
}

const (
	earthRadius = 6378137.0
	degree      = math.Pi / 180
)

var crsCode = regexp.MustCompile(`^[A-Za-z_0-9]+(:[0-9]{4})?:[0-9]+$`)

// checkCRSText refuses text that GDAL would take for a file or an address.
func checkCRSText(s string) error {
	t := strings.TrimSpace(s)
	switch {
	case t == "":
		return errors.New("is empty")
	case len(t) > maxWKT:
		return errors.New("is too long")
	case crsCode.MatchString(t), strings.HasPrefix(strings.ToLower(t), "urn:ogc:def:crs:"):
		return nil
	case strings.HasPrefix(t, "+") && strings.Contains(t, "+proj=") && !strings.Contains(t, "+init") && !strings.Contains(t, "/"):
		return nil
	}
	if _, err := parseWKT(t); err != nil {
		return errors.New("is neither a code such as IAU_2015:30100, nor a PROJ string, nor well-known text")
	}
	return nil
}

// lookupCRS resolves a code, a PROJ string or well-known text through GDAL.
func lookupCRS(text string) (*crs, error) {
	if err := checkCRSText(text); err != nil {
		return nil, fmt.Errorf("CRS %q %w", text, err)
	}
	setup()
	var j journal
	sr, err := godal.NewSpatialRef(strings.TrimSpace(text), godal.ErrLogger(j.handle))
	if err != nil {
		return nil, fmt.Errorf("CRS %q is not known here: %s", text, reason(err))
	}
	defer sr.Close()
	return crsFromRef(sr)
}

func crsFromRef(sr *godal.SpatialRef) (*crs, error) {
	var j journal
	wkt, err := sr.WKT(godal.ErrLogger(j.handle))
	if err != nil {
		return nil, fmt.Errorf("CRS has no well-known text: %s", reason(err))
	}
	if strings.TrimSpace(wkt) == "" {
		return nil, errors.New("CRS is empty")
	}
	return crsFromWKT(wkt)
}

// crsFromWKT takes well-known text apart.
func crsFromWKT(wkt string) (*crs, error) {
	root, err := parseWKT(wkt)
	if err != nil {
		return nil, err
	}
	base := root.find("GEOGCS", "GEOGCRS", "BASEGEOGCRS", "GEODCRS", "BASEGEODCRS", "GEODETICCRS", "GEOGRAPHICCRS")
	proj := root.find("PROJCS", "PROJCRS", "PROJECTEDCRS")
	if base == nil {
		return nil, errors.New("CRS has no longitude and latitude behind it (an engineering or local system)")
	}
	c := &crs{wkt: wkt, name: base.arg(0), par: map[string]float64{}, unit: 1}
	if proj != nil {
		c.name = proj.arg(0)
	}
	if err := c.readBase(base); err != nil {
		return nil, err
	}
	if proj == nil {
		return c, nil
	}
	return c, c.readProjection(proj)
}

func (c *crs) readBase(base *node) error {
	ell := base.find("SPHEROID", "ELLIPSOID")
	a, ok := ell.numberOK(1)
	rf, ok2 := ell.numberOK(2)
	if !ok || !ok2 || !(a > 0) || math.IsInf(a, 0) || !(rf == 0 || rf > 1) || math.IsInf(rf, 0) {
		return errors.New("CRS has no usable ellipsoid")
	}
	if u, ok := ell.child("LENGTHUNIT", "UNIT").numberOK(1); ok && u > 0 {
		a *= u
	}
	c.ellipsoid, c.a, c.rf = ell.arg(0), a, rf
	c.prime, _ = base.find("PRIMEM").numberOK(1)
	if base.key == "GEOGCS" {
		c.geogcs = base.text
	}
	if cs := base.child("CS"); cs != nil && strings.EqualFold(cs.arg(0), "spherical") {
		c.ocentric = true
	}
	c.readAxes(base)
	if u, ok := base.child("UNIT", "ANGLEUNIT").numberOK(1); ok && u > 0 {
		c.unit = u / degree
		if math.Abs(c.unit-1) < 1e-9 {
			c.unit = 1
		}
	}
	return nil
}

func (c *crs) readAxes(base *node) {
	for _, k := range base.kids {
		if k.key != "AXIS" {
			continue
		}
		if strings.EqualFold(k.arg(1), "west") {
			c.west = true
		}
		name := strings.ToLower(k.arg(0))
		if strings.Contains(name, "planetocentric") && strings.Contains(name, "latitude") {
			c.ocentric = true
		}
	}
}

func (n *node) numberOK(i int) (float64, bool) {
	if n == nil {
		return 0, false
	}
	return n.number(i)
}

func (c *crs) readProjection(proj *node) error {
	m := proj.find("PROJECTION", "METHOD")
	if m == nil {
		return errors.New("CRS names no projection method")
	}
	c.method = normal(m.arg(0))
	scope := proj
	if conv := proj.child("CONVERSION"); conv != nil {
		scope = conv
	}
	angular := c.unit
	for _, k := range scope.kids {
		if k.key != "PARAMETER" {
			continue
		}
		v, ok := k.number(1)
		if !ok || math.IsInf(v, 0) || math.IsNaN(v) {
			return fmt.Errorf("CRS parameter %q is not a number", k.arg(0))
		}
		if u, ok := k.child("ANGLEUNIT").numberOK(1); ok && u > 0 {
			v *= u / degree
		} else if angular != 1 && !strings.Contains(normal(k.arg(0)), "scale") && !strings.Contains(normal(k.arg(0)), "false") {
			v *= angular
		}
		c.par[normal(k.arg(0))] = v
	}
	c.unit = 1
	if u, ok := proj.child("UNIT", "LENGTHUNIT").numberOK(1); ok && u > 0 {
		c.unit = u
	} else if u, ok := proj.child("AXIS").child("LENGTHUNIT").numberOK(1); ok && u > 0 {
		c.unit = u
	}
	c.west = false
	return nil
}

// normal lowers the case of a name and joins its words by underscores.
func normal(s string) string {
	return strings.ReplaceAll(strings.ToLower(strings.TrimSpace(s)), " ", "_")
}

// get returns the first parameter that is there.
func (c *crs) get(def float64, names ...string) float64 {
	for _, n := range names {
		if v, ok := c.par[n]; ok {
			return v
		}
	}
	return def
}

func (c *crs) lon0() float64 {
	return c.get(0, "central_meridian", "longitude_of_natural_origin", "longitude_of_origin", "longitude_of_center")
}

func (c *crs) lat0() float64 {
	return c.get(0, "latitude_of_origin", "latitude_of_natural_origin", "latitude_of_standard_parallel", "latitude_of_center")
}

func (c *crs) falseOrigin() (fe, fn float64) {
	return c.get(0, "false_easting"), c.get(0, "false_northing")
}

// body returns the reference surface of the CRS.
func (c *crs) body() geom.Body {
	return geom.Body{Name: c.ellipsoid, SemiMajor: c.a, InverseFlattening: c.rf, Source: "CRS of the map"}
}

// earth reports whether the CRS is one of the Earth.
func (c *crs) earth() bool { return math.Abs(c.a-earthRadius) < 0.005*earthRadius }

// describe returns the method and its parameters on one line, in a fixed order.
func (c *crs) describe() string {
	kind := c.method
	if kind == "" {
		kind = "longitude_latitude"
	}
	names := make([]string, 0, len(c.par))
	for k := range c.par {
		names = append(names, k)
	}
	sort.Strings(names)
	var b strings.Builder
	fmt.Fprintf(&b, "%s a=%.10g 1/f=%.10g", kind, c.a, c.rf)
	for _, k := range names {
		fmt.Fprintf(&b, " %s=%.10g", k, c.par[k])
	}
	if c.prime != 0 {
		fmt.Fprintf(&b, " prime_meridian=%.10g", c.prime)
	}
	if c.unit != 1 {
		fmt.Fprintf(&b, " unit=%.10g", c.unit)
	}
	return b.String()
}
