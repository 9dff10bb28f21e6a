package testblanket

import (
	"math"
	"testing"

	"rimcast/geom"
)

// The sun over known places: straight to the east on the equator, on the
// meridian at noon, and by the cosine law elsewhere.
func TestSky(t *testing.T) {
	for _, row := range []struct {
		lat, lon  float64
		c         Covariate
		incidence float64
		azimuth   float64
	}{
		{0, 77, Covariate{EveryNoon: true, SunEast: 30}, 30, 90},
		{30, -12, Covariate{EveryNoon: true}, 30, 180},
		{-30, 5, Covariate{EveryNoon: true}, 30, 0},
		{0, 50, Covariate{Subsolar: 10}, 40, 270},
		{60, 0, Covariate{Subsolar: 90}, 90, 90},
		{45, 20, Covariate{Subsolar: 80}, 69.295, 112.208}, // arccos(cos 45 cos 60), atan2(sin 60, -sin 45 cos 60)
	} {
		p := geom.LonLat{Lon: row.lon, Lat: row.lat}
		row.c.Kind = "incidence"
		if got := row.c.level(p, 0); math.Abs(got-row.incidence) > 1e-3 {
			t.Errorf("%+v: incidence %.4f, want %.4f", p, got, row.incidence)
		}
		row.c.Kind = "sun_azimuth"
		if got := row.c.level(p, 0); math.Abs(math.Remainder(got-row.azimuth, 360)) > 1e-3 {
			t.Errorf("%+v: azimuth %.4f, want %.4f", p, got, row.azimuth)
		}
	}
}

// The levels of aligned strips change where the layer of strips does, and
// nowhere else.
func TestStripsAreTheirLayer(t *testing.T) {
	layer := Covariate{Kind: "strip", Noise: Noise{StripWidth: 7}}
	g := NewGenerator(Noise{Strips: 1, StripWidth: 7, Aligned: true}, 70, 1, false, false)
	levels := map[float64]float64{}
	quiet := &Field{70, 1, make([]float64, 70)}
	g.stripes(quiet, stream(3, "strips"))
	for x, v := range quiet.Values {
		strip := layer.level(geom.LonLat{}, x)
		if old, seen := levels[strip]; seen && old != v {
			t.Fatalf("column %d: level %g in strip %g, which has %g", x, v, strip, old)
		}
		levels[strip] = v
	}
	if len(levels) != 10 || levels[1] == levels[2] {
		t.Errorf("levels %v", levels)
	}
}
