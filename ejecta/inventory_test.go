package ejecta

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The closed form is the integral: ring by ring by the midpoint rule in the
// logarithm of the range.
func TestExcessMassIsTheIntegral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		radius, thick := rapid.Float64Range(100, 1e5).Draw(t, "radius"), rapid.Float64Range(0.1, 500).Draw(t, "thickness")
		a, b := rapid.Float64Range(-1e-3, 1e-3).Draw(t, "a"), rapid.Float64Range(0, 7).Draw(t, "b")
		outer := rapid.Float64Range(1.1, 10).Draw(t, "outer")
		const n = 4000
		sum, volume := 0.0, 0.0
		for i := range n {
			step := math.Log(outer) / n
			rho := math.Exp(step * (float64(i) + 0.5))
			ring := 2 * math.Pi * radius * radius * rho * rho * step * thick * math.Pow(rho, -3)
			volume += ring
			sum += ring * 1700 * a * math.Pow(rho, -b)
		}
		if got := excessMass(radius, thick, a, b, 1700, outer); math.Abs(got-sum) > 1e-5*math.Abs(sum) {
			t.Errorf("mass %g, integral %g", got, sum)
		}
		if got := blanketVolume(radius, thick, outer); math.Abs(got-volume) > 1e-5*volume {
			t.Errorf("volume %g, integral %g", got, volume)
		}
	})
	near(t, "where the exponents cancel", rangeIntegral(2, math.E), 1, 1e-12)
}

// Worked by hand: R = 1000 m.
func TestLaws(t *testing.T) {
	near(t, "McGetchin et al.", ThicknessLaws[0].Rim(1000), 0.14*165.958690743756, 1e-9)
	near(t, "Pike", ThicknessLaws[1].Rim(1000), 33, 1e-12)
	near(t, "depth", DepthLaws[0].Depth(2000), 168, 1e-12)
	near(t, "depth from the rim", DepthLaws[1].Depth(2000), 200, 1e-12)
}

func inventoried() Finding {
	return Finding{RimExcess: 200, RimExcessSE: 20, Decay: 3, DecaySE: 0.3}
}

// The interval holds what was put in: excess error alone, then each assumption
// more widens it.
func TestInventoryInterval(t *testing.T) {
	f, set := inventoried(), DefaultInventory()
	set.Mixing, set.Density = Range{0.5, 0.5}, Range{1700, 1700}
	f.DecaySE = 0
	narrow := TakeInventory(&f, 1000, 1e-6, set)
	lo := excessMass(1000, narrow.ThicknessAll[0], 200e-6, 3, 850, 5)
	hi := excessMass(1000, narrow.ThicknessAll[1], 200e-6, 3, 850, 5)
	if !(narrow.Mass95[0] < lo && narrow.Mass95[0] > 0.75*lo && narrow.Mass95[1] > hi && narrow.Mass95[1] < 1.25*hi) {
		t.Errorf("%g..%g, the laws alone give %g..%g", narrow.Mass95[0], narrow.Mass95[1], lo, hi)
	}
	set = DefaultInventory()
	wide := TakeInventory(&f, 1000, 1e-6, set)
	if !(wide.Mass95[1]/wide.Mass95[0] > 2*narrow.Mass95[1]/narrow.Mass95[0]) {
		t.Errorf("mixing does not widen %v to %v", narrow.Mass95, wide.Mass95)
	}
	if again := TakeInventory(&f, 1000, 1e-6, set); again != wide {
		t.Error("not the same twice")
	}
}

// An excess that is nothing has an interval across zero; one without a unit of
// mass has no mass, but depth and thickness.
func TestInventoryOfNothing(t *testing.T) {
	f := inventoried()
	f.RimExcess = 0
	if v := TakeInventory(&f, 1000, 1e-6, DefaultInventory()); !(v.Mass95[0] < 0 && v.Mass95[1] > 0) || v.Mass != 0 {
		t.Errorf("%+v", v)
	}
	f.RimExcess = 5
	if v := TakeInventory(&f, 1000, math.NaN(), DefaultInventory()); !math.IsNaN(v.Mass) || v.Depth != 168 || !(v.Volume > 0) {
		t.Errorf("%+v", v)
	}
	f.Decay = math.NaN()
	if v := TakeInventory(&f, 1000, 1e-6, DefaultInventory()); !(v.Mass > 0) {
		t.Errorf("without an exponent: %+v", v)
	}
}

func TestInventorySettings(t *testing.T) {
	for name, change := range map[string]func(*InventorySettings){
		"density": func(s *InventorySettings) { s.Density = Range{2000, 1500} }, "zero density": func(s *InventorySettings) { s.Density.Lo = 0 },
		"mixing": func(s *InventorySettings) { s.Mixing.Hi = 1.1 }, "nan": func(s *InventorySettings) { s.Mixing.Lo = math.NaN() },
		"outer": func(s *InventorySettings) { s.Outer = 1 }, "draws": func(s *InventorySettings) { s.Draws = 3 },
	} {
		s := DefaultInventory()
		if s.Check() != nil {
			t.Fatal("the default is refused")
		}
		if change(&s); s.Check() == nil {
			t.Errorf("%s is taken", name)
		}
	}
}
