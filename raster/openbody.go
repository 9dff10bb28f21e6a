package raster

import (
	"fmt"
	"math"
	"strings"

	"github.com/airbusgeo/godal"

	"rimcast/geom"
)

func (l *Layer) settleCRS(ds *godal.Dataset) (*crs, error) {
	if l.spec.CRS != "" {
		c, err := lookupCRS(l.spec.CRS)
		if err != nil {
			return nil, l.refuse("give a code such as IAU_2015:30100, a PROJ string or WKT", "%v", err)
		}
		l.info.CRSSource = "option"
		return c, nil
	}
	l.info.CRSSource = "file"
	sr := ds.SpatialRef()
	if sr == nil {
		return nil, l.refuse("give the CRS of the map", "it has no CRS")
	}
	c, err := crsFromRef(sr)
	// The binding wraps a missing reference in a value all the same.
	if err != nil && strings.Contains(err.Error(), noCRS) {
		return nil, l.refuse("give the CRS of the map", "it has no CRS")
	}
	if err != nil {
		return nil, l.refuse("give the CRS of the map", "its CRS cannot be used: %v", err)
	}
	return c, nil
}

// settleBody compares the body of the CRS with that of the survey, by numbers.
func (l *Layer) settleBody(c *crs, geo [6]float64) (geom.Body, error) {
	l.info.FileBody, l.info.Earth = c.body(), c.earth()
	want := l.spec.Body
	if want.SemiMajor == 0 {
		if c.earth() {
			return want, l.refuse("give the body of the survey", "its CRS %q is one of the Earth", c.name)
		}
		l.note("body taken from the CRS: %s, radius %.10g m", c.ellipsoid, c.a)
		return c.body(), nil
	}
	ratio := math.Abs(c.a-want.SemiMajor) / want.SemiMajor
	l.info.RadiusShift = l.radiusShift(c, geo, ratio)
	switch {
	case l.spec.AssumeBodyCRS:
		c.assume(want)
		l.note("CRS %q (radius %.10g m) taken for longitudes and latitudes of %s as they are", c.name, l.info.FileBody.SemiMajor, want.Name)
	case c.earth() && ratio > 0.005:
		return want, l.refuse("if only the label is wrong, say so (assume_body_crs) or give the CRS",
			"its CRS %q is one of the Earth but the body is %s", c.name, bodyName(want))
	case ratio > 0.005:
		return want, l.refuse("check the body, or say that only the label is wrong (assume_body_crs)",
			"its CRS %q has the radius %.10g m but the body %s has %.10g m", c.name, c.a, bodyName(want), want.SemiMajor)
	case l.info.RadiusShift > 0.5:
		return want, l.refuse(fmt.Sprintf("give the body the radius %.10g m, or accept the map as it is (assume_body_crs)", c.a),
			"its radius %.10g m differs from %.10g m of the body by up to %.2f pixels at the edge of the map", c.a, want.SemiMajor, l.info.RadiusShift)
	case ratio > 1e-9:
		l.note("radius_mismatch: map %.10g m, body %.10g m; up to %.2g pixels", c.a, want.SemiMajor, l.info.RadiusShift)
	}
	l.flatteningNote(c, want)
	return want, nil
}

// assume makes the latitudes of a CRS with the wrong label those of a body. The
// map coordinates keep the radius they were made with.
func (c *crs) assume(b geom.Body) {
	if c.method == "" {
		c.rf, c.ocentric = b.InverseFlattening, true
	}
}

// sameFlattening is the share by which two inverse flattenings may differ and be
// one: a file that gives both axes gives it to the last digits only.
const sameFlattening = 1e-7

func (l *Layer) flatteningNote(c *crs, b geom.Body) {
	switch {
	case math.Abs(c.rf-b.InverseFlattening) <= sameFlattening*c.rf || l.spec.AssumeBodyCRS:
	case c.rf == 0:
		l.note("the CRS is a sphere: its latitudes are taken as planetocentric on the ellipsoid of %s", bodyName(b))
	case b.InverseFlattening == 0:
		l.note("the CRS is an ellipsoid (1/f = %.6g): its latitudes are converted to planetocentric ones, distances are those of a sphere", c.rf)
	default:
		l.note("inverse flattening of the CRS %.8g, of the body %.8g", c.rf, b.InverseFlattening)
	}
}

func bodyName(b geom.Body) string {
	if b.Name != "" {
		return b.Name
	}
	return fmt.Sprintf("of radius %.10g m", b.SemiMajor)
}

// radiusShift returns the pixels by which the farthest corner of a map in
// metres moves with another radius.
func (l *Layer) radiusShift(c *crs, geo [6]float64, ratio float64) float64 {
	if c.method == "" {
		return 0
	}
	fe, fn := c.falseOrigin()
	g := Grid{Geo: geo}
	ox, oy := g.pixel(0, 0)
	worst := 0.0
	for _, k := range [][2]float64{{0, 0}, {1, 0}, {0, 1}, {1, 1}} {
		mx, my := g.xy(k[0]*float64(l.info.Width), k[1]*float64(l.info.Height))
		x, y := g.pixel((mx-fe)*ratio, (my-fn)*ratio)
		worst = math.Max(worst, math.Hypot(x-ox, y-oy))
	}
	return worst
}
