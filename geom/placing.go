package geom

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// placing is how the coordinates of a file become places on the body.
type placing struct {
	body      Body
	west      bool
	graphicOn Body // planetographic on this body; the zero Body for planetocentric
	transform func(x, y float64) (LonLat, error)
}

// sameBody is how far radii may differ for one and the same body.
const sameBody = 0.005

// placing decides what the coordinates mean, from the options first and the
// file second, and refuses what cannot be decided.
func (b *builder) placing() (*placing, error) {
	declared := b.crs
	if b.opt.CRS != "" {
		declared = b.opt.CRS
	} else if b.crsFault != "" {
		return nil, refuse("crs", "give the CRS of the catalogue", "the crs member is not understood: %s", b.crsFault)
	}
	b.cat.CRS = clip(declared, maxWKT)
	pl := &placing{body: b.opt.Body}
	if err := b.referenceBody(pl); err != nil {
		return nil, err
	}
	var c CRS
	if declared != "" {
		var err error
		if c, err = b.declaredCRS(pl, declared); err != nil {
			return nil, err
		}
	}
	if pl.body.SemiMajor == 0 {
		return nil, refuse("body", "name the body of the survey", "neither the survey nor the file says which body this is")
	}
	b.cat.Body = pl.body
	if declared == "" && b.ref == nil {
		b.note("no coordinate reference system is declared; coordinates are taken to be degrees on %s", pl.body)
	}
	if pl.transform != nil {
		b.note("coordinates are converted from %s", Quote(declared))
		return pl, nil
	}
	if err := b.direction(pl, c); err != nil {
		return nil, err
	}
	return pl, b.latitude(pl, c)
}

// referenceBody reads the foreign member of this program's own files.
func (b *builder) referenceBody(pl *placing) error {
	if b.ref == nil {
		return nil
	}
	body, err := b.ref.Body()
	if err != nil {
		return refuse(ReferenceMember, "remove the member or correct it", "%v", err)
	}
	return b.agree(pl, body, ReferenceMember)
}

// agree compares the body that a file declares with that of the survey.
func (b *builder) agree(pl *placing, declared Body, field string) error {
	switch {
	case pl.body.SemiMajor == 0:
		pl.body = declared
	case !sphereRadiusNear(declared, pl.body):
		return refuse(field, "give the catalogue of this body, or correct the body of the survey",
			"the coordinates are on %s, the survey is on %s", declared, pl.body)
	case math.Abs(declared.SemiMajor-pl.body.SemiMajor) > 1e-9*pl.body.SemiMajor:
		b.note("the catalogue is on %s, the survey on %s: degrees are taken over as they are", declared, pl.body)
	}
	return nil
}

// sphereRadiusNear lets the sphere and the ellipsoid of one body pass, and two
// editions of one radius.
func sphereRadiusNear(a, b Body) bool {
	return math.Abs(a.SemiMajor-b.SemiMajor) <= sameBody*b.SemiMajor ||
		math.Abs(a.SemiMajor-b.MeanRadius()) <= sameBody*b.SemiMajor ||
		math.Abs(a.MeanRadius()-b.SemiMajor) <= sameBody*b.SemiMajor
}

func (b *builder) declaredCRS(pl *placing, declared string) (CRS, error) {
	c, err := ParseCRS(declared)
	earth := c.Earth && !strings.EqualFold(pl.body.Name, "Earth")
	switch {
	case earth && !b.opt.AssumeBodyCRS:
		return c, refuse("crs", "if the coordinates are on the body after all give assume_body_crs",
			"%s is a system of the Earth, the survey is on %s", Quote(declared), bodyWords(pl.body))
	case earth && c.Projected:
		return c, refuse("crs", "convert the catalogue to longitude and latitude", "coordinates are projected on the Earth (%s)", Quote(declared))
	case earth:
		b.note("the file says %s, a system of the Earth; its degrees are taken to be on the body, as asked", Quote(declared))
		return CRS{}, nil
	case c.Projected && b.opt.Transform != nil:
		return c, b.useTransform(pl, c, declared)
	case err != nil && b.opt.Transform != nil:
		if fault := b.useTransform(pl, c, declared); fault != nil {
			return c, refuse("crs", "give the CRS of the catalogue, or remove the member", "%v (%s)", err, clip(fault.Error(), 300))
		}
		return c, nil
	case err != nil:
		return c, refuse("crs", "give the CRS of the catalogue, or remove the member", "%v", err)
	case c.Projected:
		return c, refuse("crs", "convert the catalogue to longitude and latitude", "coordinates are projected (%s)", Quote(declared))
	}
	return c, b.agree(pl, c.Body, "crs")
}

func bodyWords(b Body) string {
	if b.SemiMajor == 0 {
		return "another body"
	}
	return b.String()
}

func (b *builder) useTransform(pl *placing, c CRS, declared string) error {
	if c.Body.SemiMajor != 0 {
		if err := b.agree(pl, c.Body, "crs"); err != nil {
			return err
		}
	}
	f, err := b.opt.Transform(declared)
	if err != nil || f == nil {
		return refuse("crs", "convert the catalogue to longitude and latitude", "coordinates in %s cannot be converted: %v", Quote(declared), err)
	}
	pl.transform = f
	return nil
}

// direction decides the sign of longitudes.
func (b *builder) direction(pl *placing, c CRS) error {
	dir := b.opt.LonDirection
	if b.ref != nil && b.ref.LongitudeDirection != "" {
		switch {
		case dir == "":
			dir = b.ref.LongitudeDirection
		case dir != b.ref.LongitudeDirection:
			b.note("longitude is read as %s positive as asked, against the file", dir)
		}
	}
	if dir == "" && c.Latitude == PlanetographicLatitude && strings.HasPrefix(c.Code, "IAU") {
		return refuse("longitude direction", `give "east" or "west"`,
			"%s has longitude positive to the west by definition, but many files in it are not", c.Code)
	}
	if pl.west = dir == WestPositive; pl.west {
		b.note("longitude is positive to the west in the file")
	}
	return nil
}

// latitude decides the kind of latitude, and the ellipsoid that it is counted on.
func (b *builder) latitude(pl *placing, c CRS) error {
	kind, on := b.opt.Latitude, pl.body
	if c.Body.SemiMajor != 0 && !c.Body.IsSphere() {
		on = c.Body
	}
	switch {
	case kind != "":
	case b.ref != nil && b.ref.LatitudeType != "":
		kind = b.ref.LatitudeType
	case c.Latitude != "":
		kind = c.Latitude
	case on.IsSphere() || c.Body.SemiMajor != 0:
		kind = PlanetocentricLatitude
	default:
		return refuse("latitude", `give "planetocentric" or "planetographic"`,
			"%s is no sphere and the catalogue does not say which latitude it uses", pl.body)
	}
	if kind == PlanetographicLatitude {
		pl.graphicOn = on
		if b.ref != nil && b.ref.InverseFlattening != 0 {
			pl.graphicOn, _ = b.ref.Body()
		}
		b.note("latitude is planetographic on %s in the file", pl.graphicOn)
	}
	return nil
}

// place converts a pair of coordinates, or says why not.
func (pl *placing) place(x, y float64) (LonLat, string) {
	p, reason := pl.placeUnwrapped(x, y)
	p.Lon = WrapLon(p.Lon)
	return p, reason
}

// placeUnwrapped leaves the longitude in its turn, so that an outline across the
// cut stays whole.
func (pl *placing) placeUnwrapped(x, y float64) (LonLat, string) {
	p := LonLat{x, y}
	if pl.transform != nil {
		var err error
		if p, err = pl.transform(x, y); err != nil {
			return LonLat{}, fmt.Sprintf("the place (%g, %g) cannot be converted: %v", x, y, err)
		}
	}
	switch {
	case !(math.Abs(p.Lat) <= 90):
		return LonLat{}, fmt.Sprintf("latitude %g", p.Lat)
	case !(math.Abs(p.Lon) <= 360):
		return LonLat{}, fmt.Sprintf("longitude %g", p.Lon)
	}
	if pl.west {
		p.Lon = -p.Lon
	}
	if pl.graphicOn.SemiMajor != 0 {
		p.Lat = Planetocentric(pl.graphicOn, p.Lat)
	}
	return p, ""
}

// finalNotes says what was guessed and what looks odd.
func (b *builder) finalNotes() {
	for _, n := range []struct {
		count  int
		format string
	}{
		{b.noID, "%d features have no id and are called by their position"},
		{b.longNames, fmt.Sprintf("%%d names are longer than %d bytes and are cut", maxNameBytes)},
		{b.badText, "%d texts are not UTF-8; their bytes are replaced"},
		{b.skipped, "%d outlines of an overlay are not rims and are passed over"},
		{b.rimVsField, "%d polygon rims differ by more than 10 % from the radius stated beside them; the polygon is used"},
		{b.twoToOne, "%d diameters are not twice the radius beside them; the radius is used"},
		{len(b.cat.NearDuplicates), "%d pairs are probably the same crater twice (closer than 0.2 radii, sizes within 20 %)"},
	} {
		if n.count > 0 {
			b.note("%s", strings.Replace(n.format, "%d", fmt.Sprint(n.count), 1))
		}
	}
	b.rimNote()
	b.sizeNote()
}

func (b *builder) rimNote() {
	var res []float64
	worst := -1
	for i := range b.cat.Craters {
		c := &b.cat.Craters[i]
		if b.rims[c.Index] == nil {
			continue
		}
		res = append(res, c.RimResidual)
		if worst < 0 || c.RimResidual > b.cat.Craters[worst].RimResidual {
			worst = i
		}
	}
	if len(res) == 0 {
		return
	}
	slices.Sort(res)
	b.note("%d rims are polygons; centre and radius from their area; they depart from a circle by %.1f %% of the radius in the middle and %.1f %% at worst (%s)",
		len(res), 100*res[len(res)/2], 100*res[len(res)-1], Quote(b.cat.Craters[worst].ID))
}

// sizeNote repeats the extreme diameters, for a reader to see that the unit is
// right.
func (b *builder) sizeNote() {
	var d []float64
	for i := range b.cat.Craters {
		d = append(d, 2*b.cat.Craters[i].Radius/1000)
	}
	if len(d) < 6 {
		return
	}
	slices.Sort(d)
	n := len(d)
	b.note("smallest diameters %.4g, %.4g, %.4g km; largest %.4g, %.4g, %.4g km", d[0], d[1], d[2], d[n-3], d[n-2], d[n-1])
}
