package main

import (
	"math"
	"strings"

	"rimcast/geom"
	"rimcast/raster"
)

// This file opens what a survey names. The pipeline, inspect and profile all
// go through it, so that a guess is made in one place.

// surveyBody returns the body that the survey file or the flags name. ok is
// false when they leave it to the maps.
func (sv *surveyFile) surveyBody() (b geom.Body, ok bool, err error) {
	s := sv.Body
	switch {
	case s.CRS != "":
		if b, err = bodyOfCRS(s.CRS); err != nil {
			return b, false, err
		}
	case s.RadiusM != 0:
		b = geom.Sphere(s.Name, s.RadiusM)
	case s.SemiMajorM != 0:
		b = geom.Ellipsoid(s.Name, s.SemiMajorM, s.InverseFlattening)
	case s.Name != "":
		if b, ok = geom.BodyByName(s.Name); !ok {
			return b, false, usage("the body "+geom.Quote(s.Name)+" is not in the list of the IAU",
				didYouMean(s.Name, geom.BodyNames())+"; or give the radius with --body-radius")
		}
	default:
		return geom.Body{}, false, nil
	}
	if s.Name != "" {
		b.Name = s.Name
	}
	if err := b.Valid(); err != nil {
		return b, false, usage(err.Error(), "")
	}
	return b, true, nil
}

// settleBody returns the body of the survey: the one that it names, or that of
// the first species map. The text says which of the two.
func (sv *surveyFile) settleBody() (b geom.Body, how string, err error) {
	b, ok, err := sv.surveyBody()
	if ok || err != nil {
		return b, "given", err
	}
	if len(sv.Species) == 0 {
		return b, "", usage("the survey has neither a body nor a map to take it from", "give --body, such as --body Moon")
	}
	l, err := sv.openLayer(&sv.Species[0], b)
	if err != nil {
		return b, "", err
	}
	defer l.Close()
	return knownBody(l.Grid().Body), "taken from " + sv.Species[0].written, nil
}

// knownBody gives a body that a map describes the name by which the IAU lists
// it, when name and radii are those: maps call the Moon "Moon (2015) - Sphere"
// or the like, and lose its code.
func knownBody(b geom.Body) geom.Body {
	for _, name := range geom.BodyNames() {
		if !strings.HasPrefix(strings.ToLower(b.Name), strings.ToLower(name)) {
			continue
		}
		known := b
		known.Name = name
		if known.Code() != "" {
			return known
		}
	}
	return b
}

// bodyOfCRS takes a code or a name of a body.
func bodyOfCRS(text string) (geom.Body, error) {
	if b, ok := geom.BodyByName(text); ok {
		return b, nil
	}
	c, err := geom.ParseCRS(text)
	if err == nil && c.Body.SemiMajor > 0 {
		return c.Body, nil
	}
	hint := "give a code such as IAU_2015:30100, a name such as Moon, or the radius with --body-radius"
	if n := closest(text, geom.BodyNames()); n != "" {
		hint = "did you mean " + n
	}
	return geom.Body{}, usage("body.crs "+geom.Quote(text)+" names no known body", hint)
}

// spec says how to open a layer of the survey. The zero Body takes that of
// the map.
func (sv *surveyFile) spec(l *layerSection, body geom.Body) raster.Spec {
	west := sv.Rasters.LonPositive
	if l.LonPositive != "" {
		west = l.LonPositive
	}
	crs := sv.Rasters.CRS
	if l.CRS != "" {
		crs = l.CRS
	}
	return raster.Spec{
		Path: l.Path, Band: l.Band, BandName: l.BandName,
		NoData: append(append([]float64(nil), l.NoData...), l.Drop...), KeepValues: l.Keep,
		Scale: l.Scale, Offset: l.Offset, Unit: l.Unit,
		CRS: crs, Body: body,
		AssumeBodyCRS: sv.Rasters.AssumeBodyCRS,
		LonWest:       west == geom.WestPositive,
		AllowVSI:      sv.Rasters.AllowVSI,
	}
}

// openLayer opens a layer of the survey.
func (sv *surveyFile) openLayer(l *layerSection, body geom.Body) (*raster.Layer, error) {
	return raster.Open(sv.spec(l, body))
}

// openSigma opens the error map of a species; nil when it has none. It is not
// scaled like the species: its file says its own scale.
func (sv *surveyFile) openSigma(l *layerSection, body geom.Body) (*raster.Layer, error) {
	if l.Sigma == "" {
		return nil, nil
	}
	s := sv.spec(l, body)
	s.Path, s.Scale, s.Offset = l.Sigma, nil, nil
	return raster.Open(s)
}

// badPixel reports whether a value of a mask layer marks a pixel to leave out.
// Values that are not kept, or dropped, have become NaN when they were read.
func (l *layerSection) badPixel(v float32) bool {
	x := float64(v)
	if math.IsNaN(x) {
		return true
	}
	for _, bit := range l.Bits {
		if int64(x)>>bit&1 == 1 { // of a signed band also its highest bit
			return true
		}
	}
	return false
}

// catalogueOptions says how to read the catalogue on a body.
func (sv *surveyFile) catalogueOptions(body geom.Body) geom.CatalogueOptions {
	c := sv.Catalogue
	return geom.CatalogueOptions{
		Body: body, Format: c.Format, CRS: c.CRS,
		ID: c.ID, Name: c.Name, Lon: c.Lon, Lat: c.Lat,
		Radius: c.Radius, Diameter: c.Diameter, RadiusUnit: c.RadiusUnit,
		LonDirection: c.LonDirection, Latitude: c.Latitude, AssumeBodyCRS: c.AssumeBodyCRS,
		SigmaCentre: c.SigmaCentre, SigmaRadius: c.SigmaRadius,
		EllipseMajor: c.SemiMajor, EllipseMinor: c.SemiMinor, EllipseAzimuth: c.RimAzimuth,
		Age: c.Age, Freshness: c.Freshness, Class: c.Class,
		Dedupe: c.Dedupe, FitEllipse: c.FitEllipse,
		Transform: unproject(body),
	}
}

// readCatalogue reads the craters of the survey.
func (sv *surveyFile) readCatalogue(body geom.Body) (geom.Catalogue, error) {
	f, err := openInput(sv.Catalogue.Path)
	if err != nil {
		return geom.Catalogue{}, inputFault(err, "check the path of the catalogue")
	}
	defer f.Close()
	opt := sv.catalogueOptions(body)
	if strings.EqualFold(opt.CRS, crsOfMap) {
		if opt.CRS, err = sv.mapCRS(body); err != nil {
			return geom.Catalogue{}, err
		}
	}
	return geom.ReadCatalogue(f, sv.Catalogue.written, opt)
}
