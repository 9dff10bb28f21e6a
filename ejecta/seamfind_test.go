package ejecta

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"rimcast/ejecta/testblanket"
)

// stripField is a strip that stands higher by height between two distances
// towards an azimuth in degrees.
func stripField(azimuth, from, to, height float64) func(rho, az float64) float64 {
	return func(rho, az float64) float64 {
		if d := rho * math.Cos(az-azimuth*math.Pi/180); d >= from && d < to {
			return height
		}
		return 0
	}
}

func noLayers() AlarmInputs {
	return AlarmInputs{NullScale: 1, SunAzimuth: math.NaN(), TrackAzimuth: math.NaN()}
}

// A strip that no layer tells is found where it lies, with its height, and the
// direction that it made is gone.
func TestSeamIsFoundInTheMap(t *testing.T) {
	for _, c := range []struct {
		name             string
		across, from, to float64 // azimuth across the strip
		track            float64
	}{
		{"along the columns", 90, 0.5, 3, math.NaN()},
		{"along the rows", 0, -1.3, 1.6, math.NaN()},
		{"a single step", 90, 1.1, 99, math.NaN()},
		{"along a track that is told", 62, 0.6, 2.9, 152},
	} {
		e, m := planted(4, stripField(c.across, c.from, c.to, 0.8))
		if m.Finding.AsymmetryP > 0.01 {
			t.Fatalf("%s: nothing to explain: p %g", c.name, m.Finding.AsymmetryP)
		}
		in := noLayers()
		in.TrackAzimuth = c.track
		list := e.findSeams(&m, Settings{}, in)
		if len(list) == 0 {
			t.Fatalf("%s: none found", c.name)
		}
		s := list[0]
		from, to, height := s.offset, s.offset+s.width, s.height
		if s.width == 0 {
			to = 99
		}
		off := math.Abs(math.Remainder(s.azimuth-c.across, 360))
		if off > 1 || math.Abs(from-c.from) > 0.15 || math.Abs(to-c.to) > 0.15 || math.Abs(height-0.8) > 0.2+3*s.se {
			t.Errorf("%s: %s, height %.2f ± %.2f", c.name, s.words(), height, s.se)
		}
		a := e.seamAlarmWithout(&m, Settings{}, in)
		if !a.Raised || !strings.Contains(a.Detail, "found in the map") || m.Finding.Pattern.Directional() || !math.IsNaN(m.Finding.Axis) {
			t.Errorf("%s: raised %v, pattern %s, axis %g: %s", c.name, a.Raised, m.Finding.Pattern, m.Finding.Axis, a.Detail)
		}
	}
}

// Even ground, lobes and boundaries that do not run along the map show no seam;
// the chance is held.
func TestSeamsAreNotInvented(t *testing.T) {
	n := 120
	if testing.Short() {
		n = 30
	}
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 4, Axis: 90, Interior: "filled"})
	for _, c := range []struct {
		name  string
		field func(rho, az float64) float64
		n     int
	}{
		{"even ground", func(rho, az float64) float64 { return 0 }, n},
		{"a lobe", lobe, n / 10},
		{"half a boundary", func(rho, az float64) float64 {
			if math.Cos(az) < 0 {
				return 0
			}
			return boundary(90, 1, 1)(rho, az)
		}, n / 10},
	} {
		found := 0
		for seed := range c.n {
			e, m := planted(uint64(seed), c.field)
			if len(e.findSeams(&m, Settings{}, noLayers())) > 0 {
				found++
			}
		}
		if p := BinomialP(found, c.n, seamChance); p < 0.01 {
			t.Errorf("%s: %d of %d", c.name, found, c.n)
		}
	}
}

// A real lobe stays beside the seam that crosses it.
func TestLobeStaysBesideSeam(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 0, Interior: "filled"})
	strip := stripField(90, 0.5, 3, 0.8)
	e, m := planted(5, func(rho, az float64) float64 { return lobe(rho, az) + strip(rho, az) })
	a := e.seamAlarmWithout(&m, Settings{}, noLayers())
	if !a.Raised || m.Finding.Pattern != PatternOneSided || math.Abs(math.Remainder(m.Finding.Axis, 360)) > 15 {
		t.Errorf("%s at %.0f: %s", m.Finding.Pattern, m.Finding.Axis, a.Detail)
	}
}

// The chance that is given for a seam is met by ground without one.
func TestChanceOfSeams(t *testing.T) {
	e, _ := planted(1, func(rho, az float64) float64 { return 0 })
	s := &seamSearch{e: e, variance: 1}
	b := s.along(0)
	rng := rand.New(rand.NewPCG(7, 7))
	l, ok := factorised(b.info, len(b.lines))
	at := b.oftenMet(1)
	over, n := [2]int{}, 4000
	for range n {
		z, _, _ := b.plainest(normalOf(l, len(b.lines), rng))
		z = math.Abs(z)
		p := seamOften * z * z * upperTail(z) / (at * at * upperTail(at))
		over[0], over[1] = over[0]+counted(p < 0.05), over[1]+counted(p < 0.01)
	}
	if a, b := share(over[0], n), share(over[1], n); !ok || a < 0.035 || a > 0.065 || b < 0.005 || b > 0.016 {
		t.Errorf("chances of 0.05 and 0.01 are met by %.4f and %.4f", a, b)
	}
}
