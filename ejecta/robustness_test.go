package ejecta

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rimcast/ejecta/testblanket"
)

func robustnessOf(e *Evidence, m *Measurement) Robustness {
	return e.Robustness(m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
}

// A strong lobe stands under every choice; one at the limit does not; a crater
// without a claim has nothing to stand.
func TestRobustness(t *testing.T) {
	lobe := func(a float64) func(rho, az float64) float64 {
		return blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: a, Axis: 70})
	}
	e, m := planted(1, lobe(4))
	if r := robustnessOf(e, &m); r.Tried < 12 || r.Share() < 0.99 {
		t.Errorf("a strong lobe: %d tried, overturned by %v", r.Tried, r.Overturned)
	}
	weakest := 1.0
	for seed := range uint64(8) {
		if e, m = planted(seed, lobe(0.3)); m.Finding.Pattern.Directional() || m.Blanket.P < 0.01 {
			weakest = math.Min(weakest, robustnessOf(e, &m).Share())
		}
	}
	if !(weakest < 0.95) {
		t.Errorf("faint lobes stand as firmly: %g", weakest)
	}
	e, m = planted(2, func(rho, az float64) float64 { return 0 })
	if r := robustnessOf(e, &m); r.Tried != 0 || !math.IsNaN(r.Share()) {
		t.Errorf("nothing claimed: %+v", r)
	}
}

// What sits in the first ring alone falls with the first ring.
func TestRobustnessNamesTheRing(t *testing.T) {
	e0, _ := planted(3, func(rho, az float64) float64 { return 0 })
	edge := e0.Layout.Edges[1]
	e, m := planted(3, func(rho, az float64) float64 {
		if rho < edge {
			return 2 + 2*math.Cos(az)
		}
		return 0
	})
	r := robustnessOf(e, &m)
	if !m.Finding.Pattern.Directional() || !slices.ContainsFunc(r.Overturned, func(s string) bool { return strings.HasPrefix(s, "the first ring") }) {
		t.Errorf("%s: overturned by %v", m.Finding.Pattern, r.Overturned)
	}
}

// A cell that is left out has no say any more.
func TestCellsLeftOut(t *testing.T) {
	site := plantedSite(4, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2}))
	first := func(k int) bool { return k == 0 }
	z := func() float64 {
		e := Collect(site, Settings{})
		g := e.ground.leaveOut(e.Gram, nil).without(e.cellsIn(first))
		return fitBlanket(g.Without([]int{colConst}, span(colPlane, colPlane+2)), 1).Z
	}
	before := z()
	for i, rho := range site.Samples.Rho {
		if rho < 1.35 {
			site.Values[i] += 50
		}
	}
	near(t, "score", z(), before, 1e-3)
}

// Leaving cells out is the same as a column of its own for each of them.
func TestLeavingOutIsAColumnForEachCell(t *testing.T) {
	e := Collect(plantedSite(4, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2})), Settings{})
	under := paintContacts(e.ground.cells, contacts[3:5])
	base := e.ground.widened(e.Gram, under)
	for _, w := range e.ringChoices() {
		cells := e.cellsIn(w.out)
		got := directionSweep(e.ground.leaveOut(base, under).without(cells), span(e.Gram.P, base.P))
		g := e.ground.widened(e.Gram, sideBySide(base.Cells, paintContacts(e.ground.cells, contacts[3:5]), oneEach(base.Cells, cells)))
		want := directionSweep(g, span(e.Gram.P, g.P))
		for k := range 2 * Orders {
			near(t, w.name, got.at(colCos+k, colValue), want.at(colCos+k, colValue), 1e-6)
			near(t, w.name, got.at(colCos+k, colCos+k), want.at(colCos+k, colCos+k), 1e-6)
		}
	}
}

func BenchmarkRobustness(b *testing.B) {
	e, m := planted(1, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 1.3, Axis: 70}))
	for b.Loop() {
		robustnessOf(e, &m)
	}
}

func BenchmarkTerrain(b *testing.B) {
	e, m := planted(1, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 1.3, Axis: 70}))
	for b.Loop() {
		e.contactAlarmOf(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
	}
}
