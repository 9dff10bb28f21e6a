package ejecta

import (
	commandline "flag"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"rimcast/ejecta/testblanket"
)

var axisDraws = commandline.Int("axis.draws", 30, "draws of each case of TestAxisIntervals")

// axisCases are the planted shapes of TestAxisIntervals.
var axisCases = []struct {
	name string
	candidate
}{
	{"one-sided, cosine", newCandidate(PatternOneSided, cosineShape(), 360, 0, 1)},
	{"one-sided, lobe 4", newCandidate(PatternOneSided, vonMisesShape(4), 360, 0, 1)},
	{"bilateral, lobes 8", newCandidate(PatternBilateral, foldShape(2, 8), 180, 0, 1)},
}

// axisGround is the directional information of a crater of 8 pixels under known
// noise, with a factor for drawing scores.
type axisGround struct {
	d    *Directional
	root []float64
}

func newAxisGround(t testing.TB, noise string) axisGround {
	recipe, err := testblanket.NoiseByName(noise)
	if err != nil {
		t.Fatal(err)
	}
	n := KnownNoise(recipe.Covariance, 140)
	s := flatSite(8, 0.13, -0.37)
	v := make([]float32, s.Len())
	for i := range v {
		v[i] = float32(i % 7)
	}
	d := Collect(Site{Samples: s, Values: v, Noise: n, Variance: n.Variance(0, 0)}, Settings{}).Directions(1)
	return axisGround{d, d.root()}
}

// draw is the directional content under noise and a planted template.
func (g axisGround) draw(a float64, template *[2 * Orders]float64, rng *rand.Rand) *Directional {
	const n = 2 * Orders
	out := *g.d
	var z [n]float64
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	for i := range n {
		out.Score[i] = a*dot(g.d.Info[i*n:(i+1)*n], template[:]) + dot(g.root[i*n:i*n+i+1], z[:i+1])
	}
	return &out
}

// bound is the Cramer-Rao bound of the direction, degrees, amplitude free.
func (g axisGround) bound(s shape, a, azimuth float64) float64 {
	const n, h = 2 * Orders, 1e-4
	x, lo, hi := s.turned(azimuth), s.turned(azimuth-h), s.turned(azimuth+h)
	var dx [n]float64
	for i := range dx {
		dx[i] = (hi[i] - lo[i]) / (2 * h)
	}
	product := func(a, b *[n]float64) (v float64) {
		for i, u := range a {
			v += u * dot(g.d.Info[i*n:(i+1)*n], b[:])
		}
		return v
	}
	cross := product(&x, &dx)
	return 180 / math.Pi / (a * math.Sqrt(product(&dx, &dx)-cross*cross/product(&x, &x)))
}

// axisTally counts intervals that hold the truth, and errors in units of the bound.
type axisTally struct{ n, in68, in95, square float64 }

func (y *axisTally) add(f axisFit, truth, bound float64) {
	e := math.Remainder(f.azimuth-truth, f.period) / bound
	y.n++
	y.square += e * e
	y.in68 += holds(f.ci68, truth, f.period)
	y.in95 += holds(f.ci95, truth, f.period)
}

func (y *axisTally) merge(o axisTally) {
	y.n, y.in68, y.in95, y.square = y.n+o.n, y.in68+o.in68, y.in95+o.in95, y.square+o.square
}

func holds(pieces []Interval, at, period float64) float64 {
	for _, p := range pieces {
		if math.Mod(at-p.Lo+4*period, period) <= p.Hi-p.Lo {
			return 1
		}
	}
	return 0
}

// TestAxisIntervals draws scores of planted patterns and counts how often the
// intervals of the axis hold the truth, apart from maps, masks and measured
// noise: once for the class that was planted, known to be right, and once for
// the craters whose class was found right. 4.3 is roughly the score at which an
// oracle finds nine in ten. -axis.draws 2000 gives shares good to a hundredth.
func TestAxisIntervals(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	var weak axisTally
	seed := uint64(0)
	for _, noise := range []string{"white", "exp5"} {
		g := newAxisGround(t, noise)
		for _, c := range axisCases {
			for _, snr := range []float64{4.3, 5, 7, 10} {
				seed++
				all, right := axisTrial(g, &c.candidate, snr, rand.New(rand.NewPCG(5, seed)))
				t.Logf("%-6s %-18s S/N %4.1f: rms/bound %.2f, holds %.3f %.3f; of %3.0f of the right class %.2f, %.3f %.3f", noise, c.name, snr,
					math.Sqrt(all.square/all.n), all.in68/all.n, all.in95/all.n, right.n, math.Sqrt(right.square/right.n), right.in68/right.n, right.in95/right.n)
				weak.merge(right)
			}
		}
	}
	if share := weak.in68 / weak.n; share < 0.64 || share > 0.72 {
		t.Errorf("intervals of 68 %% hold %.3f of %.0f", share, weak.n)
	}
	if share := weak.in95 / weak.n; share < 0.93 || share > 0.97 {
		t.Errorf("intervals of 95 %% hold %.3f of %.0f", share, weak.n)
	}
	if rms := math.Sqrt(weak.square / weak.n); rms > 1.15 {
		t.Errorf("the error of the axis is %.2f of the bound", rms)
	}
}

func axisTrial(g axisGround, c *candidate, snr float64, rng *rand.Rand) (all, right axisTally) {
	for range *axisDraws {
		azimuth := 360 * rng.Float64()
		template := c.shape.turned(azimuth * math.Pi / 180)
		_, info := g.d.score(&template)
		a := snr / math.Sqrt(info)
		bound := g.bound(c.shape, a, azimuth*math.Pi/180)
		d := g.draw(a, &template, rng)
		f := d.fitAxis(d.bestOf(c.pattern))
		all.add(f, azimuth, bound)
		if d.classify()[0].pattern == c.pattern {
			right.add(f, azimuth, bound)
		}
	}
	return all, right
}

// bestOf is the best shape of a class.
func (d *Directional) bestOf(p Pattern) (best *candidate) {
	most := -1.0
	for i := range candidates {
		if c := &candidates[i]; c.pattern == p && d.quickAxis(c) > most {
			best, most = c, d.quickAxis(c)
		}
	}
	return best
}

// Whatever the score, the axis lies in its intervals of 95 %, the narrower interval
// in the wider, and everything turns with the crater.
func TestAxisOfAnyScore(t *testing.T) {
	g := newAxisGround(t, "white")
	for i := range g.d.Info { // the same in all directions
		if i%(2*Orders+1) != 0 {
			g.d.Info[i] = 0
		}
	}
	for k := range Orders {
		i, j := k*(2*Orders+1), (k+Orders)*(2*Orders+1)
		g.d.Info[j] = g.d.Info[i]
	}
	rapid.Check(t, func(t *rapid.T) {
		d := *g.d
		for i := range d.Score {
			d.Score[i] = rapid.Float64Range(-6, 6).Draw(t, "score") * math.Sqrt(d.Info[i*(2*Orders+1)])
		}
		c := &candidates[rapid.IntRange(0, len(candidates)-1).Draw(t, "shape")]
		f := d.fitAxis(c)
		if holds(f.ci95, f.azimuth, c.period) != 1 {
			t.Fatalf("axis %v outside of %v", f.azimuth, f.ci95)
		}
		if length(f.ci68) > length(f.ci95) || length(f.ci95) > c.period+1e-9 {
			t.Fatalf("lengths %v and %v", length(f.ci68), length(f.ci95))
		}
		turned := d.turnedBy(30).fitAxis(c)
		if e := math.Abs(math.Remainder(turned.azimuth-f.azimuth-30, c.period)); e > 0.01 && length(f.ci95) < c.period-1 {
			t.Fatalf("turned by 30 degrees the axis went from %v to %v", f.azimuth, turned.azimuth)
		}
	})
}

// turnedBy turns the score by an angle in degrees.
func (d *Directional) turnedBy(deg float64) *Directional {
	out := *d
	for k := range Orders {
		sin, cos := math.Sincos(float64(k+1) * deg * math.Pi / 180)
		out.Score[k] = cos*d.Score[k] - sin*d.Score[Orders+k]
		out.Score[Orders+k] = sin*d.Score[k] + cos*d.Score[Orders+k]
	}
	return &out
}

// Under strong signal the curve is normal with the width of the bound.
func TestAxisIntervalOfAStrongLobe(t *testing.T) {
	g := newAxisGround(t, "white")
	c := &candidates[0]
	template := c.shape.turned(1)
	_, info := g.d.score(&template)
	for _, snr := range []float64{15, 40} {
		a := snr / math.Sqrt(info)
		d := *g.d
		for i := range d.Score {
			d.Score[i] = a * dot(d.Info[i*2*Orders:(i+1)*2*Orders], template[:])
		}
		f, bound := d.fitAxis(c), g.bound(c.shape, a, 1)
		near(t, "half width of 68 %", length(f.ci68)/2, bound, 0.05)
		near(t, "half width of 95 %", length(f.ci95)/2, 1.96*bound, 0.05)
		within(t, "axis", f.azimuth, 180/math.Pi, 0.05)
	}
}

// The logarithm of sqrt(2 pi) exp(z^2/2) Phi(z): at 0 it is log sqrt(pi/2); far
// below, the series of Mills' ratio 1/|z| (1 - 1/z^2).
func TestLogAmplitudes(t *testing.T) {
	within(t, "at 0", logAmplitudes(0), 0.5*math.Log(math.Pi/2), 1e-12)
	within(t, "at -20", logAmplitudes(-20), math.Log((1-1.0/400+3.0/160000)/20), 1e-6)
	within(t, "at the seam", logAmplitudes(-25.0001), logAmplitudes(-24.9999), 2e-3)
	within(t, "at 40", logAmplitudes(40), 800+0.5*math.Log(2*math.Pi), 1e-9)
}
