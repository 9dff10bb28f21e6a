package ejecta

import (
	commandline "flag"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"

	"rimcast/ejecta/testblanket"
)

var blanketDraws = commandline.Int("blanket.draws", 2000, "draws of each case of TestBlanketIntervals")

// blanketGround is what the blanket fit knows of a crater of 8 pixels under known
// noise, with what it takes to draw scores.
type blanketGround struct {
	gram   *Gram      // constant and plane eliminated
	root   *mat.Dense // of the information along the exponents
	signal map[float64][]float64
	sigma  float64 // of A at b = 3
}

// plantedDecays are those of the study.
var plantedDecays = []float64{2.5, 2.75, 3, 3.25, 3.5}

func newBlanketGround(t *testing.T, noise string) *blanketGround {
	recipe, err := testblanket.NoiseByName(noise)
	if err != nil {
		t.Fatal(err)
	}
	n := KnownNoise(recipe.Covariance, 140)
	s := flatSite(8, 0.13, -0.37)
	site := Site{Samples: s, Values: powerLaw(s, 3), Noise: n, Variance: 1}
	for _, decay := range plantedDecays {
		site.Neighbours = append(site.Neighbours, Field{Values: doubles(powerLaw(s, decay))})
	}
	g := Collect(site, Settings{}).Gram.Without([]int{colConst}, span(colPlane, colPlane+2))
	b := &blanketGround{gram: g, signal: map[float64][]float64{}, sigma: 1 / math.Sqrt(g.at(colDecay+5, colDecay+5))}
	for i, c := range g.extras() {
		b.signal[plantedDecays[i]] = g.M[c*g.P+colDecay : c*g.P+colDecay+len(decayNodes)]
	}
	b.root = blockRoot(g, span(colDecay, colDecay+len(decayNodes)))
	return b
}

func doubles(v []float32) []float64 {
	out := make([]float64, len(v))
	for i, x := range v {
		out[i] = float64(x)
	}
	return out
}

// powerLaw is the pixel means of rho^-b outside of the rim.
func powerLaw(s *Samples, b float64) []float32 {
	v := make([]float32, s.Len())
	const sub = 5
	for i := range v {
		sum := 0.0
		for j := range sub * sub {
			x := float64(s.X[i]) - 0.13 + (float64(j%sub)+0.5)/sub - 0.5
			y := float64(s.Y[i]) + 0.37 + (float64(j/sub)+0.5)/sub - 0.5
			sum += math.Pow(math.Max(1, math.Hypot(x, y)/s.PixelsPerRadius), -b)
		}
		v[i] = float32(sum / (sub * sub))
	}
	return v
}

// blockRoot is the symmetric root of a block of products.
func blockRoot(g *Gram, cols []int) *mat.Dense {
	block, _ := g.sub(cols)
	var e mat.EigenSym
	e.Factorize(mat.NewSymDense(len(cols), block), true)
	var u mat.Dense
	e.VectorsTo(&u)
	for j, v := range e.Values(nil) {
		for i := range cols {
			u.Set(i, j, u.At(i, j)*math.Sqrt(math.Max(v, 0)))
		}
	}
	return &u
}

// draw fits a blanket of amplitude a under noise.
func (b *blanketGround) draw(a, decay float64, rng *rand.Rand) Blanket {
	n := len(decayNodes)
	z := make([]float64, n)
	for i := range z {
		z[i] = rng.NormFloat64()
	}
	var noise mat.VecDense
	noise.MulVec(b.root, mat.NewVecDense(n, z))
	g := *b.gram
	g.M = append([]float64(nil), b.gram.M...)
	for i := range n {
		g.M[(colDecay+i)*g.P+colValue] = a*b.signal[decay][i] + noise.AtVec(i)
	}
	return fitBlanket(&g, 1)
}

// blanketTally counts intervals that hold the truth.
type blanketTally struct {
	n, in68, in95, below, known, b95 float64
	ratio, decay                     []float64
}

func (y *blanketTally) add(bl Blanket, a, decay float64) {
	y.n++
	y.ratio = append(y.ratio, bl.Amplitude/a)
	y.in68 += float64(counted(between(bl.Amplitude68, a)))
	y.in95 += float64(counted(between(bl.Amplitude95, a)))
	_, _, upper := bl.Limits()
	y.below += float64(counted(a <= upper))
	if !math.IsNaN(bl.Decay95[0]) {
		y.known++
		y.b95 += float64(counted(between(bl.Decay95, decay)))
	}
	if !bl.Unconstraint {
		y.decay = append(y.decay, bl.Decay-decay)
	}
}

func (y *blanketTally) merge(o blanketTally) {
	y.n, y.in68, y.in95, y.below = y.n+o.n, y.in68+o.in68, y.in95+o.in95, y.below+o.below
	y.known, y.b95 = y.known+o.known, y.b95+o.b95
	y.ratio, y.decay = append(y.ratio, o.ratio...), append(y.decay, o.decay...)
}

func (y *blanketTally) bias() float64 { return Median(y.ratio) - 1 }

func (y *blanketTally) String() string {
	bias, sd := MAD(y.decay)
	return fmt.Sprintf("bias of A %+.3f, intervals hold %.3f %.3f, limit %.3f; b quoted %.2f, bias %+.2f, sd %.2f, interval %.2f, holds %.3f",
		y.bias(), y.in68/y.n, y.in95/y.n, y.below/y.n, float64(len(y.decay))/y.n, bias, sd, y.known/y.n, y.b95/y.known)
}

func between(in [2]float64, v float64) bool { return in[0] <= v && v <= in[1] }

// trial fits blankets of random exponent at a signal to noise.
func (b *blanketGround) trial(snr float64, rng *rand.Rand) (y blanketTally) {
	for range *blanketDraws {
		decay := plantedDecays[rng.IntN(len(plantedDecays))]
		y.add(b.draw(snr*b.sigma, decay, rng), snr*b.sigma, decay)
	}
	return y
}

// TestBlanketIntervals draws scores of planted blankets and counts how often the
// intervals of A and b hold the truth, apart from maps and measured noise. An
// amplitude that is that of b = 3 below a signal to noise of 4, and an interval of b
// that is given with b only, break it. -blanket.draws 4000 gives shares good to
// half a hundredth.
func TestBlanketIntervals(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	white, exp5 := newBlanketGround(t, "white"), newBlanketGround(t, "exp5")
	for k, snr := range []float64{1, 3, 4, 5, 6, 8, 12, 25, 0} {
		y := white.trial(snr, rand.New(rand.NewPCG(7, uint64(k))))
		t.Logf("white S/N %4.1f: %v", snr, &y)
		o := exp5.trial(snr, rand.New(rand.NewPCG(8, uint64(k))))
		t.Logf("exp5  S/N %4.1f: %v", snr, &o)
		y.merge(o)
		y.check(t, snr)
	}
}

// check holds the shares to what the method promises, and to no less where the
// signal is so weak that the intervals must leave the exponent open.
func (y *blanketTally) check(t *testing.T, snr float64) {
	t.Helper()
	high68, high95 := 0.72, 0.97
	if snr < 4 {
		high68, high95 = 0.80, 0.985
	}
	for _, c := range []struct {
		what        string
		got, lo, hi float64
	}{
		{"68 % of A", y.in68 / y.n, 0.65, high68},
		{"95 % of A", y.in95 / y.n, 0.935, high95},
		{"95 % of b", y.b95 / y.known, 0.93, 0.97},
	} {
		if snr == 0 && c.what == "95 % of b" { // there is none
			continue
		}
		if !(c.got >= c.lo && c.got <= c.hi) {
			t.Errorf("S/N %g: intervals of %s hold %.3f, want %g..%g", snr, c.what, c.got, c.lo, c.hi)
		}
	}
	if least := 0.935; snr >= 3 && !(y.below/y.n >= least) {
		t.Errorf("S/N %g: the upper limit holds %.3f, want %g", snr, y.below/y.n, least)
	}
	if snr >= 6 && math.Abs(y.bias()) > 0.025 {
		t.Errorf("S/N %g: bias of A %+.3f", snr, y.bias())
	}
}

// Without noise a blanket is fitted as it was planted, and the intervals have the
// widths of normal ones, however fine the exponent is known.
func TestBlanketWithoutNoise(t *testing.T) {
	b := newBlanketGround(t, "exp5")
	b.root.Zero()
	for _, snr := range []float64{40, 400, 4000} {
		for _, decay := range plantedDecays {
			a := snr * b.sigma
			bl := b.draw(a, decay, rand.New(rand.NewPCG(1, 1)))
			within(t, "b", bl.Decay, decay, 0.03)
			near(t, "A", bl.Amplitude, a, 0.005)
			near(t, "interval of b", bl.Decay95[1]-bl.Decay95[0], 2*math.Sqrt(chi95)*bl.DecaySE, 0.03)
			near(t, "interval of A", bl.Amplitude95[1]-bl.Amplitude95[0], 2*math.Sqrt(chi95)*bl.SE, 0.03)
			near(t, "error of b times signal to noise", bl.DecaySE*snr, b.draw(40*b.sigma, decay, rand.New(rand.NewPCG(1, 1))).DecaySE*40, 0.05)
		}
	}
}

// Whatever the scores, the intervals hold the amplitude, and the narrower lies in
// the wider.
func TestBlanketOfAnyScore(t *testing.T) {
	b := newBlanketGround(t, "white")
	rapid.Check(t, func(t *rapid.T) {
		snr := rapid.Float64Range(-50, 50).Draw(t, "signal to noise")
		decay := rapid.SampledFrom(plantedDecays).Draw(t, "exponent")
		bl := b.draw(snr*b.sigma, decay, rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1)))
		w, n := bl.Amplitude95, bl.Amplitude68
		if !between(n, bl.Amplitude) || !between(w, n[0]) || !between(w, n[1]) || !(bl.SE > 0) {
			t.Fatalf("A %v, intervals %v %v, error %v", bl.Amplitude, n, w, bl.SE)
		}
		if _, _, upper := bl.Limits(); !(upper > bl.Amplitude) {
			t.Fatalf("A %v, yet more than %v is excluded", bl.Amplitude, upper)
		}
		if !bl.Unconstraint && !between(bl.Decay95, bl.Decay) {
			t.Fatalf("b %v outside of %v", bl.Decay, bl.Decay95)
		}
	})
}
