package ejecta

import (
	"math"
	"strings"
	"testing"

	"rimcast/ejecta/testblanket"
)

// besideNeighbour is a crater with a neighbour of its own size at 4 radii east,
// whose rim is masked and whose mean blanket has a column.
func besideNeighbour(seed uint64, b testblanket.Blanket, own func(rho, az float64) float64) (*Evidence, Measurement) {
	disc := Disc{East: 4, Radius: 1}
	next := testblanket.Around(b, testblanket.Place{East: disc.East}, 1)
	mean := testblanket.Around(testblanket.Blanket{Pattern: "symmetric", Amplitude: 1, Interior: "filled"}, testblanket.Place{East: disc.East}, 1)
	at := func(rho, az float64) testblanket.Place {
		return testblanket.Place{East: rho * math.Sin(az), North: rho * math.Cos(az)}
	}
	site := plantedSite(seed, func(rho, az float64) float64 { return next(at(rho, az)) + own(rho, az) })
	field := Field{Name: "next", Disc: disc}
	for i, rho := range site.Samples.Rho {
		p := at(rho, site.Samples.Az[i])
		field.Values = append(field.Values, mean(p))
		site.Masked = append(site.Masked, math.Hypot(p.East-disc.East, p.North) < 1)
	}
	site.Neighbours = []Field{field}
	e := Collect(site, Settings{})
	return e, e.Measure(Settings{}, 1, 1)
}

func evenGround(rho, az float64) float64 { return 0 }

// A neighbour whose blanket went to one side or two makes a direction, which is
// gone when its blanket may have sides; a lobe of the crater's own stays.
func TestRayedNeighbour(t *testing.T) {
	for _, pattern := range []string{"one-sided", "bilateral"} {
		b := testblanket.Blanket{Pattern: pattern, Amplitude: 8, Axis: 300, Interior: "filled"}
		e, m := besideNeighbour(1, b, evenGround)
		if !m.Finding.Pattern.Directional() {
			t.Fatalf("%s: nothing to explain: p %g", pattern, m.Finding.AsymmetryP)
		}
		a := e.neighbourAlarm(&m, Settings{}, noLayers())
		if !a.Raised || m.Finding.Pattern.Directional() || !strings.Contains(a.Detail, "sides of their own") {
			t.Errorf("%s: %s, %+v", pattern, m.Finding.Pattern, a)
		}
		lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 200, Interior: "filled"})
		e, m = besideNeighbour(1, b, lobe)
		e.neighbourAlarm(&m, Settings{}, noLayers())
		if m.Finding.Pattern != PatternOneSided || math.Abs(math.Remainder(m.Finding.Axis-200, 360)) > 15 {
			t.Errorf("%s: the lobe is %s at %.0f", pattern, m.Finding.Pattern, m.Finding.Axis)
		}
	}
}

// A faint neighbour gets no further columns.
func TestFaintNeighbourHasNoSides(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 200, Interior: "filled"})
	e, m := besideNeighbour(2, testblanket.Blanket{Pattern: "symmetric", Amplitude: 0.01}, lobe)
	if d, lost := e.besideNeighbours(&m, Settings{}, noLayers()); d != "" || lost || len(m.bright) != 0 {
		t.Error(d)
	}
	e, m = besideNeighbour(3, testblanket.Blanket{Pattern: "symmetric", Amplitude: 8, Interior: "filled"}, lobe)
	if d, _ := e.besideNeighbours(&m, Settings{}, noLayers()); d != "" {
		t.Error("a blanket alike all round: ", d)
	}
}
