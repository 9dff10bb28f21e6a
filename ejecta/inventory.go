package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// An inventory turns an excess into a mass by what is published about blankets.
// Every step adds an assumption that no map can test; the interval carries them.

// ThicknessLaw gives the thickness of a blanket at the rim, metres, of a crater
// of a rim radius in metres; it falls off with the third power of the range.
type ThicknessLaw struct {
	Name, Source string
	Rim          func(radius float64) float64
}

// thicknessDecay is the exponent of every law.
const thicknessDecay = 3.0

// ThicknessLaws are the laws to choose from, the default first. The numbers are
// from memory.
var ThicknessLaws = []ThicknessLaw{
	{"mcgetchin", "McGetchin, Settle & Head 1973: T = 0.14 R^0.74 (R/r)^3, metres; from memory", func(r float64) float64 { return 0.14 * math.Pow(r, 0.74) }},
	{"pike", "Pike 1974: T = 0.033 R (R/r)^3; from memory", func(r float64) float64 { return 0.033 * r }},
}

// DepthLaw gives the greatest depth that was dug out, metres, from the rim
// diameter in metres.
type DepthLaw struct {
	Name, Source string
	Depth        func(diameter float64) float64
}

// DepthLaws are the laws to choose from, the default first. Both are of simple
// craters: those of complex ones are shallower.
var DepthLaws = []DepthLaw{
	{"transient", "depth 0.1 of the transient diameter, which is 0.84 of the rim diameter of a simple crater: Melosh 1989; from memory", func(d float64) float64 { return 0.1 * 0.84 * d }},
	{"rim", "depth 0.1 of the rim diameter, as if nothing had slumped: an upper bound of the same rule", func(d float64) float64 { return 0.1 * d }},
}

// Range is an assumption: values between two bounds, all alike.
type Range struct{ Lo, Hi float64 }

func (r Range) draw(rng *rand.Rand) float64 { return r.Lo + (r.Hi-r.Lo)*rng.Float64() }

// Middle is the middle of a range.
func (r Range) Middle() float64 { return (r.Lo + r.Hi) / 2 }

// valid reports whether a range is two finite bounds in order.
func (r Range) valid(least float64) bool {
	return r.Lo >= least && r.Hi >= r.Lo && !math.IsInf(r.Hi, 0)
}

// InventorySettings are the assumptions of an inventory.
type InventorySettings struct {
	Thickness ThicknessLaw
	Depth     DepthLaw
	Density   Range   // of the blanket, kg/m3
	Mixing    Range   // share of the thickness that holds the excess seen at the surface
	Outer     float64 // where the blanket ends, crater radii
	Draws     int
	Seed      uint64
}

// DefaultInventory are the assumptions without a choice: loose soil (from
// memory), an unknown share of the thickness, and five radii.
func DefaultInventory() InventorySettings {
	return InventorySettings{Thickness: ThicknessLaws[0], Depth: DepthLaws[0], Density: Range{1500, 2000}, Mixing: Range{0.1, 1}, Outer: 5, Draws: 4000, Seed: 1}
}

// Check refuses assumptions that cannot be.
func (s *InventorySettings) Check() error {
	switch {
	case !s.Density.valid(1) || s.Density.Hi > 10000:
		return fmt.Errorf("a density of %g to %g kg/m3 is not possible", s.Density.Lo, s.Density.Hi)
	case !s.Mixing.valid(0) || s.Mixing.Hi > 1:
		return fmt.Errorf("a mixed share of %g to %g is not possible", s.Mixing.Lo, s.Mixing.Hi)
	case !(s.Outer > 1 && s.Outer <= 50):
		return fmt.Errorf("a blanket that ends at %g radii is not possible", s.Outer)
	case s.Draws < 100 || s.Draws > 1e6:
		return fmt.Errorf("%d draws are not possible", s.Draws)
	}
	return nil
}

// Inventory is what one crater's blanket may hold of one species. Intervals are
// the middle 95 % of the draws.
type Inventory struct {
	Depth        float64    // dug out, metres
	ThicknessRim float64    // metres, by the law chosen
	ThicknessAll [2]float64 // least and largest of all laws
	Volume       float64    // of the blanket, m3
	Mass         float64    // of the excess, kg; NaN when the excess is no share by mass
	Mass95       [2]float64
}

// rangeIntegral is the integral of rho^(1-p) from the rim to outer.
func rangeIntegral(p, outer float64) float64 {
	if q := 2 - p; math.Abs(q) > 1e-9 {
		return math.Expm1(q*math.Log(outer)) / q
	}
	return math.Log(outer)
}

// blanketVolume is the volume of a blanket of a rim thickness between the rim and
// outer crater radii, m3.
func blanketVolume(radius, thickness, outer float64) float64 {
	return 2 * math.Pi * radius * radius * thickness * rangeIntegral(thicknessDecay, outer)
}

// excessMass is the integral of excess times thickness times density over the
// blanket, kg, for an excess a rho^-b as a share by mass.
func excessMass(radius, thickness, a, b, density, outer float64) float64 {
	return 2 * math.Pi * radius * radius * thickness * density * a * rangeIntegral(thicknessDecay+b, outer)
}

// TakeInventory works out the inventory of a finding at a crater of a radius in
// metres. share turns the species' unit into a share by mass (1e-6 for ppm), NaN
// when it is none.
func TakeInventory(f *Finding, radius, share float64, set InventorySettings) Inventory {
	v := Inventory{Depth: set.Depth.Depth(2 * radius), ThicknessRim: set.Thickness.Rim(radius), ThicknessAll: thicknessSpan(radius)}
	v.Volume = blanketVolume(radius, v.ThicknessRim, set.Outer)
	nan := math.NaN()
	v.Mass, v.Mass95 = nan, [2]float64{nan, nan}
	if !(f.RimExcessSE > 0) || !(share > 0) {
		return v
	}
	b := exponentOf(f)
	v.Mass = excessMass(radius, v.ThicknessRim, f.RimExcess*share, b, set.Density.Middle()*set.Mixing.Middle(), set.Outer)
	v.Mass95 = v.massInterval(f, radius, share, set)
	return v
}

// exponentOf is the fitted exponent of a finding, the customary one without.
func exponentOf(f *Finding) float64 {
	if math.IsNaN(f.Decay) {
		return directionalDecay
	}
	return f.Decay
}

// thicknessSpan is the least and the largest rim thickness of all laws.
func thicknessSpan(radius float64) [2]float64 {
	out := [2]float64{math.Inf(1), 0}
	for _, l := range ThicknessLaws {
		t := l.Rim(radius)
		out[0], out[1] = math.Min(out[0], t), math.Max(out[1], t)
	}
	return out
}

// massInterval draws excess and exponent from their errors, density and mixing
// from their ranges, and the thickness between the laws, even in its logarithm.
func (v *Inventory) massInterval(f *Finding, radius, share float64, set InventorySettings) [2]float64 {
	rng := rand.New(rand.NewPCG(set.Seed, 0x1417))
	lo, hi := math.Log(v.ThicknessAll[0]), math.Log(v.ThicknessAll[1])
	draws := make([]float64, set.Draws)
	for i := range draws {
		a := share * (f.RimExcess + f.RimExcessSE*rng.NormFloat64())
		b := exponentOf(f)
		if n := rng.NormFloat64(); f.DecaySE > 0 {
			b = math.Max(0, b+f.DecaySE*n)
		}
		t := math.Exp(Range{lo, hi}.draw(rng))
		draws[i] = excessMass(radius, t, a, b, set.Density.draw(rng)*set.Mixing.draw(rng), set.Outer)
	}
	return [2]float64{Quantile(draws, 0.025), Quantile(draws, 0.975)}
}
