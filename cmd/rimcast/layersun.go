package main

import (
	"fmt"
	"math"
	"slices"

	"rimcast/geom"
	"rimcast/raster"
)

// The conventions of an azimuth layer.
const (
	fromNorth = "north-clockwise"
	fromEast  = "east-counterclockwise"
)

// northAzimuth turns a value of an azimuth layer into degrees clockwise from
// north.
func (l *layerSection) northAzimuth(v float64) float64 {
	if l.Azimuth == fromEast {
		return 90 - v
	}
	return v
}

// checkSun holds a map of the sun's azimuth against one of the incidence: the
// two together say over which latitude the sun stands, and that varies little
// over a map when the azimuths are read as they were written.
func (sv *surveyFile) checkSun(body geom.Body) error {
	for i := range sv.Covariates {
		a := &sv.Covariates[i]
		if a.Kind != "sun_azimuth" {
			continue
		}
		for j := range sv.Covariates {
			if z := &sv.Covariates[j]; z.Kind == "incidence" && z.Epoch == a.Epoch {
				if err := sv.checkSunPair(a, z, body); err != nil {
					return err
				}
			}
		}
	}
	return nil
}

// A contradiction needs another convention to fit so much better.
const (
	sunPlaces     = 24
	sunFits       = 0.1 // scatter of the sine of the sub-solar latitude
	sunMuchBetter = 3.0
)

func (sv *surveyFile) checkSunPair(azimuth, incidence *layerSection, body geom.Body) error {
	a, err := sv.openLayer(azimuth, body)
	if err != nil {
		return nil // said elsewhere
	}
	defer a.Close()
	z, err := sv.openLayer(incidence, body)
	if err != nil {
		return nil
	}
	defer z.Close()
	as, other := sunScatter(a, z, azimuth.northAzimuth), sunScatter(a, z, azimuth.otherWay)
	if other < sunFits && as > sunMuchBetter*other {
		return refuse(
			fmt.Sprintf("covariate %s: %s read %s does not fit the incidence in %s: the sun would stand over all latitudes",
				azimuth.Name, azimuth.written, azimuth.word(), incidence.written),
			fmt.Sprintf("its values fit azimuths of the other convention: add azimuth=%s to the layer", azimuth.otherWord()))
	}
	return nil
}

// word is the convention of an azimuth layer; clockwise from north unless said.
func (l *layerSection) word() string {
	if l.Azimuth == "" {
		return fromNorth
	}
	return l.Azimuth
}

func (l *layerSection) otherWord() string {
	if l.word() == fromEast {
		return fromNorth
	}
	return fromEast
}

func (l *layerSection) otherWay(v float64) float64 {
	turned := layerSection{Azimuth: l.otherWord()}
	return turned.northAzimuth(v)
}

// sunScatter is the scatter of the sine of the sub-solar latitude over the
// map: half the range of its middle eight tenths.
func sunScatter(a, z *raster.Layer, north func(float64) float64) float64 {
	var sines []float64
	g := a.Grid()
	for iy := range sunPlaces {
		for ix := range sunPlaces {
			x, y := (ix*2+1)*g.Width/(2*sunPlaces), (iy*2+1)*g.Height/(2*sunPlaces)
			at, ok := g.LonLat(float64(x)+0.5, float64(y)+0.5)
			az, inc := pixelAt(a, x, y), valueAt(z, at)
			if ok && az == az && inc == inc {
				sines = append(sines, sunSine(at.Lat, inc, north(az)))
			}
		}
	}
	if len(sines) < sunPlaces {
		return math.NaN()
	}
	slices.Sort(sines)
	return (sines[len(sines)*9/10] - sines[len(sines)/10]) / 2
}

// sunSine is the sine of the latitude under the sun, by the cosine law for
// sides: the sun stands the incidence away in the direction of its azimuth.
func sunSine(lat, incidence, azimuth float64) float64 {
	sl, cl := math.Sincos(lat * math.Pi / 180)
	si, ci := math.Sincos(incidence * math.Pi / 180)
	return sl*ci + cl*si*math.Cos(azimuth*math.Pi/180)
}

func valueAt(l *raster.Layer, at geom.LonLat) float64 {
	x, y, ok := l.Grid().Pixel(at)
	if !ok {
		return math.NaN()
	}
	return pixelAt(l, int(math.Floor(x)), int(math.Floor(y)))
}

func pixelAt(l *raster.Layer, x, y int) float64 {
	var v [1]float32
	if l.Read(x, y, 1, 1, v[:]) != nil {
		return math.NaN()
	}
	return float64(v[0])
}
