package raster

import (
	"fmt"
	"math"
	"strings"

	"rimcast/geom"
)

// LonLatCRS returns well-known text for longitude and latitude on a body,
// east positive; on an ellipsoid the latitudes are geodetic, as GDAL takes
// them.
func LonLatCRS(b geom.Body) string {
	n := wktName(b)
	return fmt.Sprintf(`GEOGCS["%s",DATUM["%s",SPHEROID["%s",%.15g,%.15g]],PRIMEM["Reference_Meridian",0],UNIT["degree",0.0174532925199433]]`,
		n, n, n, b.SemiMajor, b.InverseFlattening)
}

func wktName(b geom.Body) string {
	if b.Name == "" {
		return "Body"
	}
	return strings.Map(func(r rune) rune {
		if r < ' ' || r == '"' || r > '~' {
			return '_'
		}
		return r
	}, b.Name)
}

// EquirectangularCRS returns well-known text for the equirectangular
// projection in metres, with its central meridian and standard parallel in
// degrees.
func EquirectangularCRS(b geom.Body, lon0, latTS float64) string {
	return fmt.Sprintf(`PROJCS["%s equirectangular",%s,PROJECTION["Equirectangular"],PARAMETER["standard_parallel_1",%.15g],`+
		`PARAMETER["central_meridian",%.15g],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1]]`,
		wktName(b), LonLatCRS(b), latTS, lon0)
}

// StereographicCRS returns well-known text for the polar stereographic
// projection in metres, true to scale at the pole: the north pole, or the
// south pole when south is set.
func StereographicCRS(b geom.Body, south bool, lon0 float64) string {
	pole := 90.0
	if south {
		pole = -90
	}
	return fmt.Sprintf(`PROJCS["%s polar stereographic",%s,PROJECTION["Polar_Stereographic"],PARAMETER["latitude_of_origin",%g],`+
		`PARAMETER["central_meridian",%.15g],PARAMETER["scale_factor",1],PARAMETER["false_easting",0],PARAMETER["false_northing",0],UNIT["metre",1]]`,
		wktName(b), LonLatCRS(b), pole, lon0)
}

// GlobalGrid returns the equirectangular grid of width x width/2 pixels that
// shows a whole body, with longitude lon0 in the middle. Width must be even.
func GlobalGrid(b geom.Body, width int, lon0 float64) (Grid, error) {
	p, err := NewProjection(EquirectangularCRS(b, lon0, 0))
	if err != nil {
		return Grid{}, err
	}
	if width < 2 || width%2 != 0 {
		return Grid{}, fmt.Errorf("grid of odd width %d", width)
	}
	half := math.Pi * b.SemiMajor
	px := 2 * half / float64(width)
	return NewGrid(width, width/2, [6]float64{-half, px, 0, half / 2, 0, -px}, p, b)
}

// PolarCapGrid returns the polar stereographic grid of size x size pixels of
// pixel metres centred on a pole.
func PolarCapGrid(b geom.Body, south bool, size int, pixel float64) (Grid, error) {
	p, err := NewProjection(StereographicCRS(b, south, 0))
	if err != nil {
		return Grid{}, err
	}
	half := float64(size) * pixel / 2
	return NewGrid(size, size, [6]float64{-half, pixel, 0, half, 0, -pixel}, p, b)
}
