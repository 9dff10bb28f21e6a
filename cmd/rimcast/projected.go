package main

import (
	"errors"
	"fmt"
	"math"

	"rimcast/geom"
	"rimcast/raster"
)

// crsOfMap, as the reference system of a catalogue, is that of the first species
// map: so come craters that were marked on the map itself.
const crsOfMap = "map"

// mapCRS is the reference system of the first species map, as well-known text.
func (sv *surveyFile) mapCRS(body geom.Body) (string, error) {
	if len(sv.Species) == 0 {
		return "", usage("the catalogue is in the coordinates of the map, and the survey names no map", "give --species")
	}
	l, err := sv.openLayer(&sv.Species[0], body)
	if err != nil {
		return "", err
	}
	defer l.Close()
	return l.Grid().Proj.WKT(), nil
}

// unproject returns the conversion from a reference system to degrees on the
// body, for catalogues in metres of a map.
func unproject(body geom.Body) func(crs string) (func(x, y float64) (geom.LonLat, error), error) {
	return func(crs string) (func(x, y float64) (geom.LonLat, error), error) {
		p, on, err := raster.NewBodyProjection(crs)
		if err != nil {
			return nil, err
		}
		if body.SemiMajor > 0 && math.Abs(on.SemiMajor-body.SemiMajor) > 0.005*body.SemiMajor {
			return nil, fmt.Errorf("it lies on a body of radius %.10g m, the survey on %s", on.SemiMajor, body)
		}
		return func(x, y float64) (geom.LonLat, error) {
			if at, ok := p.Inverse(x, y); ok {
				return at, nil
			}
			return geom.LonLat{}, errors.New("it lies outside the projection")
		}, nil
	}
}
