package ejecta

import (
	commandline "flag"
	"math/rand/v2"
	"testing"

	"rimcast/ejecta/testblanket"
)

var smallSites = commandline.Int("small.sites", 60, "places of each noise and radius for the sizes of small craters")

// smallSize counts p below a level at places without a crater, of maps of known
// noise: for a direction, and for an excess.
func smallSize(noise string, radius float64, sites int) (direction, excess tally) {
	recipe, _ := testblanket.NoiseByName(noise)
	model := KnownNoise(recipe.Covariance, int(16*radius)+8)
	gen := testblanket.NewGenerator(recipe, 512, 512, true, true)
	rng := rand.New(rand.NewPCG(7, uint64(100*radius)))
	step := int(17 * radius)
	for n := 0; n < sites; {
		field := gen.Draw(rng)
		for k := range (512 / step) * (512 / step) {
			x0, y0 := step/2+step*(k%(512/step)), step/2+step*(k/(512/step))
			if n++; n > sites {
				break
			}
			site := Site{Samples: flatSite(radius, rng.Float64()-0.5, rng.Float64()-0.5), Noise: model, Variance: recipe.Covariance(0, 0)}
			for i := range site.Samples.Len() {
				x, y := x0+int(site.Samples.X[i]), y0+int(site.Samples.Y[i])
				site.Values = append(site.Values, float32(field.Values[(y+512)%512*512+(x+512)%512]))
			}
			f := Collect(site, Settings{}).Measure(Settings{}, 1, uint64(n)).Finding
			direction.add(f.AsymmetryP)
			excess.add(f.ExcessP)
		}
	}
	return direction, excess
}

// tally counts p below .05, .01 and .001, and in tenths.
type tally struct {
	n      int
	below  [3]int
	tenths [10]int
}

func (t *tally) add(p float64) {
	if p != p {
		return
	}
	t.n++
	for i, level := range [3]float64{0.05, 0.01, 0.001} {
		t.below[i] += counted(p < level)
	}
	t.tenths[min(int(10*p), 9)]++
}

// share is the share below a level.
func (t *tally) share(i int) float64 { return float64(t.below[i]) / float64(max(t.n, 1)) }

// At places without a crater small craters claim as seldom as their level says.
// More of them: -small.sites 1000.
func TestSmallCratersHoldTheirSize(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	var all, excess tally
	for _, noise := range []string{"white", "exp5", "white-stripe"} {
		for _, r := range []float64{2.5, 3.2, 4, 4.8, 6.5} {
			d, e := smallSize(noise, r, *smallSites)
			t.Logf("R %g, %s: direction %.3f / %.3f / %.4f of %d, excess %.3f / %.3f / %.4f, tenths of the direction %v",
				r, noise, d.share(0), d.share(1), d.share(2), d.n, e.share(0), e.share(1), e.share(2), d.tenths)
			all, excess = all.plus(d), excess.plus(e)
		}
	}
	t.Logf("all: direction %.4f / %.4f / %.5f of %d, excess %.4f / %.4f / %.5f, tenths %v",
		all.share(0), all.share(1), all.share(2), all.n, excess.share(0), excess.share(1), excess.share(2), all.tenths)
	for what, s := range map[string]tally{"direction": all, "excess": excess} {
		if p := s.share(0); p < 0.02 || p > 0.08 {
			t.Errorf("%s: %.3f of %d below 0.05", what, p, s.n)
		}
	}
}

func (t tally) plus(o tally) tally {
	t.n += o.n
	for i := range t.below {
		t.below[i] += o.below[i]
	}
	for i := range t.tenths {
		t.tenths[i] += o.tenths[i]
	}
	return t
}
