package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

const degree = math.Pi / 180

func radians(deg []float64) []float64 {
	out := make([]float64, len(deg))
	for i, d := range deg {
		out[i] = d * degree
	}
	return out
}

type circularSet struct {
	Name     string
	Axial    bool
	Data     []float64 `json:"data_deg"`
	Mean     float64   `json:"mean_deg"`
	Rbar     float64
	Rayleigh struct {
		Exact *float64 `json:"exact_numeric"`
	} `json:"rayleigh_p"`
	Kappa struct {
		Root float64 `json:"root_of_A1"`
	} `json:"kappa_mle"`
}

// Fisher (1993), Mardia (1972), Mardia & Jupp (2000), Zar, Stephens (1969).
func TestPublishedCircularSets(t *testing.T) {
	var file struct{ Cases []circularSet }
	reference(t, "circular_datasets.json", &file)
	if len(file.Cases) < 20 {
		t.Fatalf("only %d sets", len(file.Cases))
	}
	for _, c := range file.Cases {
		mean, rbar := CircularMean(radians(c.Data), nil)
		turn := 2 * math.Pi
		if c.Axial {
			mean, rbar = AxialMean(radians(c.Data), nil)
			turn = math.Pi
		}
		within(t, c.Name+" mean", math.Remainder(mean-c.Mean*degree, turn), 0, 1e-9)
		near(t, c.Name+" resultant", rbar, c.Rbar, 1e-9)
		near(t, c.Name+" kappa", A1Inverse(rbar), c.Kappa.Root, 1e-10)
		if p := c.Rayleigh.Exact; p != nil {
			near(t, c.Name+" Rayleigh p", RayleighP(rbar, len(c.Data)), *p, 2e-2*math.Exp2(min(0, math.Log10(*p*1e4)))+1e-6)
		}
	}
}

// Mardia & Jupp (2000) appendix table of A1 inverse, recomputed to 15 digits.
func TestA1InverseTable(t *testing.T) {
	var file struct {
		A1inv []struct{ Rbar, Kappa float64 }
	}
	reference(t, "circular_tables.json", &file)
	if len(file.A1inv) < 99 {
		t.Fatalf("only %d rows", len(file.A1inv))
	}
	for _, row := range file.A1inv {
		near(t, fmt.Sprintf("A1Inverse(%g)", row.Rbar), A1Inverse(row.Rbar), row.Kappa, 1e-12)
	}
}

func TestA1InverseUndoesA1(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		kappa := math.Pow(10, rapid.Float64Range(-6, 7).Draw(rt, "log10 kappa"))
		got := A1Inverse(A1(kappa))
		// The length holds kappa only so well: d kappa/kappa = 2 kappa dA, and A
		// is good to a few units in the last place.
		if math.Abs(got-kappa) > (1e-12+2e-15*kappa)*kappa {
			rt.Fatalf("A1Inverse(A1(%g)) = %g", kappa, got)
		}
	})
}

// Zar table B.34 and Greenwood & Durand (1955) give the same values to their
// digits; the file holds the exact ones, to four decimals of z.
func TestRayleighCriticalValues(t *testing.T) {
	var file struct {
		Rows []struct {
			N     int
			Alpha float64
			Z     float64 `json:"z_exact"`
		} `json:"rayleigh_critical"`
	}
	reference(t, "circular_tables.json", &file)
	if len(file.Rows) < 90 {
		t.Fatalf("only %d rows", len(file.Rows))
	}
	for _, row := range file.Rows {
		p := RayleighP(math.Sqrt(row.Z/float64(row.N)), row.N)
		// p falls roughly as exp(-z); z is rounded to 0.00005. Few directions
		// end sooner, where p falls faster.
		near(t, fmt.Sprintf("n=%d alpha=%g: p", row.N, row.Alpha), p, row.Alpha, 5e-4)
	}
}

func TestRayleighSmallSamples(t *testing.T) {
	// n = 2: R = 2|cos(d/2)|. n = 3: Pearson's walk, P(R < 1) = 1/4 exactly
	// (Borwein et al. 2012, Can. J. Math. 64, 961: 1/(n+1)).
	within(t, "n=2", RayleighP(0.5, 2), 2.0/3, 1e-12)
	for _, n := range []int{3, 4, 5, 6, 7, 12, 39, 40, 41} {
		within(t, fmt.Sprintf("P(R<1) for n=%d", n), 1-RayleighP(1/float64(n), n), 1/float64(n+1), 2e-5)
	}
}

func TestRayleighTailAgainstDraws(t *testing.T) {
	// An importance sample under a von Mises tilt reaches tails that plain
	// draws never see.
	rng := rand.New(rand.NewPCG(5, 8))
	for _, c := range []struct {
		n    int
		rbar float64
	}{{6, 0.97}, {10, 0.952}, {12, 0.95}, {30, 0.7}, {200, 0.25}} {
		p, se := tiltedRayleigh(rng, c.n, c.rbar, 15000)
		got := RayleighP(c.rbar, c.n)
		if math.Abs(got-p) > 4*se+0.03*p {
			t.Errorf("RayleighP(%g, %d) = %.4g, draws give %.4g +- %.2g", c.rbar, c.n, got, p, se)
		}
	}
}

func tiltedRayleigh(rng *rand.Rand, n int, rbar float64, draws int) (p, se float64) {
	kappa := A1Inverse(rbar)
	logI0 := kappa + math.Log(scaledI0(kappa))
	logI0At := func(x float64) float64 { return x + math.Log(scaledI0(x)) }
	sum, sum2 := 0.0, 0.0
	for range draws {
		var s, c float64
		for range n {
			sin, cos := math.Sincos(drawVonMises(rng, kappa))
			s, c = s+sin, c+cos
		}
		r := math.Hypot(s, c)
		if r >= rbar*float64(n) {
			// likelihood ratio of the length alone: I0(kappa)^n / I0(kappa r)
			w := math.Exp(float64(n)*logI0 - logI0At(kappa*r))
			sum += w
			sum2 += w * w
		}
	}
	p = sum / float64(draws)
	return p, math.Sqrt((sum2/float64(draws) - p*p) / float64(draws))
}

// drawVonMises draws by rejection from a wrapped uniform proposal: slow, plain.
func drawVonMises(rng *rand.Rand, kappa float64) float64 {
	width := math.Min(math.Pi, 8/math.Sqrt(kappa))
	for {
		a := (2*rng.Float64() - 1) * width
		if rng.Float64() < math.Exp(kappa*(math.Cos(a)-1)) {
			return a
		}
	}
}

func TestRayleighIsMonotone(t *testing.T) {
	for _, n := range []int{3, 5, 9, 40, 254} {
		last := 1.0
		for r := 0.1; r < 1; r += 0.1 {
			p := RayleighP(r, n)
			if !(p <= last && p >= 0) {
				t.Fatalf("n=%d: p(%.2f) = %g after %g", n, r, p, last)
			}
			last = p
		}
	}
}

func TestVonMisesHarmonics(t *testing.T) {
	// Abramowitz & Stegun table 9.8 and 9.9: I0(1), I1(1), I2(1).
	c := VonMisesHarmonics(1, 2)
	near(t, "c1", c[0], 2*0.5651591039924851/1.2660658777520084, 1e-14)
	near(t, "c2", c[1], 2*0.1357476697670383/1.2660658777520084, 1e-13)
	for _, kappa := range []float64{1e-3, 0.5, 4, 20, 100, 3000} {
		c := VonMisesHarmonics(kappa, 800)
		for _, theta := range []float64{0, 0.02, 0.3, 2, math.Pi} {
			sum := 1.0
			for k, v := range c {
				sum += v * math.Cos(float64(k+1)*theta)
			}
			within(t, fmt.Sprintf("series(kappa %g, theta %g)", kappa, theta), sum, VonMises(kappa, theta), 1e-10*VonMises(kappa, 0))
		}
	}
	if c := VonMisesHarmonics(0, 3); c[0] != 0 || len(c) != 3 {
		t.Errorf("kappa 0: %v", c)
	}
}

func TestCircularMeanEdges(t *testing.T) {
	if m, r := CircularMean([]float64{math.NaN()}, nil); !math.IsNaN(m) || !math.IsNaN(r) {
		t.Errorf("nothing to average gave %g, %g", m, r)
	}
	h, r := HourMean([]float64{23, 1}, nil)
	within(t, "mean of 23 h and 1 h", math.Remainder(h, 24), 0, 1e-9)
	near(t, "its resultant", r, math.Cos(15*degree), 1e-12)
	m, _ := CircularMean([]float64{0, math.Pi / 2, 2}, []float64{1, 1, 0})
	within(t, "weightless angle", m, math.Pi/4, 1e-12)
	within(t, "axis difference", AxisDifference(179*degree, degree), -2*degree, 1e-12)
	within(t, "angle difference", AngleDifference(359*degree, degree), -2*degree, 1e-12)
}

func TestCircularMeanTurnsWithItsData(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := rapid.SliceOfN(rapid.Float64Range(-10, 10), 1, 20).Draw(rt, "angles")
		by := rapid.Float64Range(-7, 7).Draw(rt, "turn")
		m0, r0 := CircularMean(a, nil)
		for i := range a {
			a[i] += by
		}
		m1, r1 := CircularMean(a, nil)
		if math.Abs(r0-r1) > 1e-12 || (r0 > 1e-6 && math.Abs(AngleDifference(m1, m0+by)) > 1e-8) {
			rt.Fatalf("mean %g, %g became %g, %g after a turn of %g", m0, r0, m1, r1, by)
		}
	})
}

func ExampleAxialMean() {
	// Two axes a degree either side of north-south.
	mean, resultant := AxialMean([]float64{1 * degree, 181 * degree, 179 * degree}, nil)
	fmt.Printf("%.1f deg, resultant %.3f\n", mean/degree, resultant)
	// Output: 0.3 deg, resultant 0.999
}

func BenchmarkRayleighP(b *testing.B) {
	for b.Loop() {
		RayleighP(0.17, 300)
	}
}
