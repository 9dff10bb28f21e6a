package ejecta

import (
	"math"
	"reflect"
	"strings"
	"testing"

	"rimcast/ejecta/testblanket"
)

// besideNeighbour is a crater with a neighbour of its own size at 4 radii east,
// whose rim is masked and whose mean blanket has a column.
func besideNeighbour(seed uint64, b testblanket.Blanket, own func(rho, az float64) float64) (*Evidence, Measurement) {
	e := Collect(neighbourSite(seed, b, own), Settings{})
	return e, e.Measure(Settings{}, 1, 1)
}

func neighbourSite(seed uint64, b testblanket.Blanket, own func(rho, az float64) float64) Site {
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
	return site
}

func evenGround(rho, az float64) float64 { return 0 }

// A neighbour whose blanket went to one side or two makes a direction, which is
// gone when its blanket may have sides; a lobe of the crater's own stays.
func TestRayedNeighbour(t *testing.T) {
	for _, pattern := range []string{"one-sided", "bilateral"} {
		b := testblanket.Blanket{Pattern: pattern, Amplitude: 8, Axis: 300, Interior: "filled"}
		e, m := besideNeighbour(1, b, evenGround)
		if !(e.sides.before < 0.01) {
			t.Fatalf("%s: nothing to explain: p %g", pattern, e.sides.before)
		}
		a := e.neighbourAlarm(&m, Settings{}, noLayers())
		if !a.Raised || m.Finding.Pattern.Directional() || !strings.Contains(a.Detail, "not alike all round") {
			t.Errorf("%s: %s, %+v", pattern, m.Finding.Pattern, a)
		}
		lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 200, Interior: "filled"})
		e, m = besideNeighbour(1, b, lobe)
		m.Finding.Alarms = e.Alarms(&m, Settings{}, noLayers())
		if doubt := m.Finding.Doubt(); doubt != "" {
			t.Errorf("%s: the lobe is doubted, %s", pattern, doubt)
		}
		if m.Finding.Pattern != PatternOneSided || math.Abs(math.Remainder(m.Finding.Axis-200, 360)) > 15 {
			t.Errorf("%s: the lobe is %s at %.0f", pattern, m.Finding.Pattern, m.Finding.Axis)
		}
	}
}

// A faint neighbour gets no further columns.
func TestFaintNeighbourHasNoSides(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 200, Interior: "filled"})
	e, m := besideNeighbour(2, testblanket.Blanket{Pattern: "symmetric", Amplitude: 0.01}, lobe)
	if d, lost := e.sidesWords(&m, Settings{}); d != "" || lost || e.sides.count != 0 {
		t.Error(d)
	}
	e, m = besideNeighbour(3, testblanket.Blanket{Pattern: "symmetric", Amplitude: 8, Interior: "filled"}, lobe)
	if d, _ := e.sidesWords(&m, Settings{}); d != "" {
		t.Error("a blanket alike all round: ", d)
	}
}

// The columns that are added are those that would have been there had the map
// been read with them: the collecting, the mask and the pixels are the same.
func TestSidesAsIfCollected(t *testing.T) {
	b := testblanket.Blanket{Pattern: "bilateral", Amplitude: 8, Axis: 300, Interior: "filled"}
	site := neighbourSite(4, b, evenGround)
	e := Collect(site, Settings{})
	m := e.Measure(Settings{}, 1, 1)
	if e.sides.count != 1 {
		t.Fatalf("%d neighbours with sides", e.sides.count)
	}
	s, d := site.Samples.withUnits(), site.Neighbours[0].Disc
	for k := range rayColumns {
		f := Field{Name: "side"}
		for i := range s.Len() {
			row := make([]float64, rayColumns)
			d.paintPixel(s, i, 1, row)
			f.Values = append(f.Values, row[k])
		}
		site.Neighbours = append(site.Neighbours, f)
	}
	again := Collect(site, Settings{})
	for i, want := range again.Measure(Settings{}, 1, 1).Direction.Score {
		near(t, "score", m.Direction.Score[i], want, 1e-6)
	}
}

// A crater without such a neighbour is measured as if nobody had asked.
func TestNoSidesNoPrice(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 200})
	site := neighbourSite(3, testblanket.Blanket{Pattern: "symmetric", Amplitude: 8, Interior: "filled"}, lobe)
	with := Collect(site, Settings{}).Measure(Settings{}, 1, 1)
	site.KeepGround = false // then nobody asks
	without := Collect(site, Settings{}).Measure(Settings{}, 1, 1)
	if !reflect.DeepEqual(with.Direction, without.Direction) || !reflect.DeepEqual(with.Blanket, without.Blanket) {
		t.Error("a neighbour alike all round changes a crater beside it")
	}
}
