package ejecta

import (
	commandline "flag"
	"math"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta/testblanket"
)

var classDraws = commandline.Int("class.draws", 40, "draws of each case of TestClassShares")

// classGround is a crater of 8 pixels under known noise, with its draws.
type classGround struct {
	e     *Evidence
	noise *NoiseDraws
}

func newClassGround(t *testing.T, noise string) classGround {
	recipe, err := testblanket.NoiseByName(noise)
	if err != nil {
		t.Fatal(err)
	}
	n := KnownNoise(recipe.Covariance, 140)
	s := flatSite(8, 0.13, -0.37)
	e := Collect(Site{Samples: s, Values: powerLaw(s, 3), Noise: n, Variance: n.Variance(0, 0)}, Settings{})
	return classGround{e, e.NoiseDraws(1)}
}

// randomShape draws f - 1 of a class as the study does: a cosine or lobes of
// concentration 2 to 8, opposite lobes of 4 to 12, three to five rays of 25 to 45
// at least 35 degrees apart, gaps of 70 to 140 degrees.
func randomShape(p Pattern, rng *rand.Rand) (a [2 * Orders]float64) {
	turn := 2 * math.Pi * rng.Float64()
	var s shape
	switch p {
	case PatternOneSided:
		if s = cosineShape(); rng.IntN(2) > 0 {
			s = vonMisesShape(2 + 6*rng.Float64())
		}
	case PatternBilateral:
		s = foldShape(2, 4+8*rng.Float64())
	case PatternGap:
		s = gapShape(70 + 70*rng.Float64())
	case PatternRays:
		return randomRays(3+rng.IntN(3), 25+20*rng.Float64(), rng)
	}
	return s.turned(turn)
}

func randomRays(n int, kappa float64, rng *rand.Rand) (a [2 * Orders]float64) {
	var at []float64
	for len(at) < n {
		at = at[:0]
		for range n {
			if t := 360 * rng.Float64(); apart(at, t, 35) {
				at = append(at, t)
			}
		}
	}
	s := vonMisesShape(kappa)
	for _, t := range at {
		for i, v := range s.turned(t * math.Pi / 180) {
			a[i] += v / float64(n)
		}
	}
	return a
}

func apart(at []float64, t, least float64) bool {
	for _, o := range at {
		if math.Abs(math.Remainder(t-o, 360)) < least {
			return false
		}
	}
	return true
}

// plant adds a (rho^-3 + share rho^-3 (f - 1)) to evidence.
func (g classGround) plant(e *Evidence, a, share float64, f *[2 * Orders]float64) *Evidence {
	out := *e
	out.Gram = e.Gram.plusValue(func(j int) float64 {
		v := g.e.Gram.at(colDecay+5, j)
		for i, c := range f {
			v += share * c * g.e.Gram.at(colCos+i, j)
		}
		return a * v
	})
	return &out
}

// unit is the directional signal to noise of a = 1, share = 1.
func (g classGround) unit(f *[2 * Orders]float64) float64 {
	d := g.e.Directions(1)
	sum := 0.0
	for i, v := range f {
		sum += v * dot(d.Info[i*2*Orders:(i+1)*2*Orders], f[:])
	}
	return math.Sqrt(sum)
}

// trial plants random shapes of a class at a directional signal to noise and
// counts what is reported. Without a direction z is the score of the blanket.
func (g classGround) trial(p Pattern, z float64, seed uint64) map[Pattern]int {
	found := map[Pattern]int{}
	rng := rand.New(rand.NewPCG(seed, 9))
	sigma := g.e.blanketBeside(nil, 1).Sigma
	for k := range *classDraws {
		e := g.noise.Draw(rng)
		f, share := randomShape(p, rng), 0.6+0.4*rng.Float64()
		switch {
		case p.Directional():
			e = g.plant(e, z/(share*g.unit(&f)), share, &f)
		case p == PatternSymmetric:
			e = g.plant(e, z*sigma, 0, &f)
		}
		found[e.Measure(Settings{}, 1, seed+uint64(k)).Finding.Pattern]++
	}
	return found
}

// claims counts the patterns with a direction.
func claims(found map[Pattern]int) float64 {
	n := 0
	for p, k := range found {
		if p.Directional() {
			n += k
		}
	}
	return float64(n)
}

// leastRight is the share of each class that must be found right at a signal to
// noise of 5 and of 8, chance of some dozens of draws allowed for: of the 0.75 and
// 0.7, and the 0.95, that the study wants. Rays are the hard case.
var leastRight = map[Pattern][2]float64{
	PatternOneSided: {0.70, 0.92}, PatternBilateral: {0.70, 0.92}, PatternGap: {0.62, 0.92}, PatternRays: {0.30, 0.92},
}

// TestClassShares draws evidence of random shapes, apart from maps and measured
// noise, and counts the classes that are reported. -class.draws 300 gives shares
// good to two hundredths.
func TestClassShares(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	white, exp5 := newClassGround(t, "white"), newClassGround(t, "exp5")
	n := float64(2 * *classDraws)
	for k, z := range []float64{5, 8} {
		for i, p := range []Pattern{PatternNone, PatternSymmetric, PatternOneSided, PatternBilateral, PatternRays, PatternGap} {
			seed := uint64(10000*k + 1000*i)
			found, other := white.trial(p, z, seed), exp5.trial(p, z, seed+500)
			t.Logf("S/N %g, %s: white %v, exp5 %v", z, p, found, other)
			if share := float64(found[p]+other[p]) / n; p.Directional() && share < leastRight[p][k] {
				t.Errorf("S/N %g: %.2f of %s found right, want %g", z, share, p, leastRight[p][k])
			}
			if share := (claims(found) + claims(other)) / n; !p.Directional() && share > 0.05 {
				t.Errorf("S/N %g: direction claimed for %.2f of %s", z, share, p)
			}
		}
	}
}
