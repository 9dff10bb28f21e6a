package main

import (
	"errors"
	"fmt"
	"math"

	"rimcast/geom"
	"rimcast/raster"
)

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
