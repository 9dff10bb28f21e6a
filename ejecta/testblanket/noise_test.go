package testblanket

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

// lagCovariance is the mean product of valid pixels (dx, dy) apart, over
// several fields, about the known mean 0.
func lagCovariance(fields []*Field, dx, dy int) float64 {
	sum, n := 0.0, 0
	for _, f := range fields {
		for y := 0; y+dy < f.Height; y++ {
			for x := 0; x+dx < f.Width; x++ {
				p := f.Values[y*f.Width+x] * f.Values[(y+dy)*f.Width+x+dx]
				if !math.IsNaN(p) {
					sum += p
					n++
				}
			}
		}
	}
	return sum / float64(n)
}

// The fields must have the covariance that the recipe states in closed form:
// exp(-d/L), stripes and strips added, the nugget of the heavy tails.
func TestFieldsHaveTheirCovariance(t *testing.T) {
	for _, name := range NoiseNames() {
		n, err := NoiseByName(name)
		if err != nil {
			t.Fatal(err)
		}
		n.Gradient = 0
		rng := rand.New(rand.NewPCG(3, 14))
		g := NewGenerator(n, 360, 300, false, true)
		var fields []*Field
		for range 10 {
			fields = append(fields, g.Draw(rng))
		}
		for _, lag := range [][2]int{{0, 0}, {1, 0}, {0, 1}, {3, 0}, {0, 3}, {4, 4}, {12, 0}, {0, 12}, {30, 2}} {
			got := lagCovariance(fields, lag[0], lag[1])
			want := n.Covariance(float64(lag[0]), float64(lag[1]))
			if tol := covarianceError(n, len(fields)*360*300, len(fields)*360); math.Abs(got-want) > tol {
				t.Errorf("%s: covariance at %v = %.4f, want %.4f +- %.4f", name, lag, got, want, tol)
			}
		}
	}
}

// covarianceError is four standard errors of a lag covariance: 2 sum C^2 / n,
// the sum over the plane being pi L^2 / 2 for exp(-2d/L), and that of the
// column offsets over the number of columns.
func covarianceError(n Noise, pixels, columns int) float64 {
	pixelVariance := 2 * math.Max(2, math.Pi*n.Length*n.Length/2) / float64(pixels)
	if n.HeavyTails {
		pixelVariance *= 40 // fourth moments of t4 are unbounded
	}
	a, b := n.Columns*n.Columns, n.Strips*n.Strips
	columnVariance := (2*a*a + 4*a*b) / float64(columns)
	stripVariance := 2 * b * b * float64(n.stripWidth()) / float64(columns)
	// Cross terms of field and stripes: their product averages over the rows.
	cross := 4 * (a + b) * (2 * math.Max(1, n.Length)) * float64(n.stripWidth()) / float64(pixels)
	gaps := 1 / (1 - n.Gaps)
	return 4 * math.Sqrt((pixelVariance+columnVariance+stripVariance+cross)*gaps)
}

func TestHeavyTailsAreStudent(t *testing.T) {
	n, _ := NoiseByName("exp2-t4")
	f := NewGenerator(n, 1024, 1024, true, true).Draw(rand.New(rand.NewPCG(1, 2)))
	// Student's t with 4 degrees: P(|T| > 4.604) = 0.01, P(|T| > 2.132) = 0.1
	// (tables), here divided by its sd sqrt(2).
	for _, c := range []struct{ limit, p float64 }{{4.604095 / math.Sqrt2, 0.01}, {2.131847 / math.Sqrt2, 0.1}} {
		k := 0
		for _, v := range f.Values {
			if math.Abs(v) > c.limit {
				k++
			}
		}
		got := float64(k) / float64(len(f.Values))
		if math.Abs(got/c.p-1) > 0.03 {
			t.Errorf("share beyond %.3f is %.5f, want %.3f", c.limit, got, c.p)
		}
	}
}

func TestGapsTakeTheirShareInBlobs(t *testing.T) {
	n, _ := NoiseByName("white-gap")
	f := NewGenerator(n, 512, 512, false, false).Draw(rand.New(rand.NewPCG(8, 2)))
	missing, together := 0.0, 0.0
	for i, v := range f.Values {
		if !math.IsNaN(v) {
			continue
		}
		missing++
		if i%512 < 511 && math.IsNaN(f.Values[i+1]) {
			together++
		}
	}
	if share := missing / float64(len(f.Values)); math.Abs(share-0.4) > 0.01 {
		t.Errorf("%.3f missing, want 0.40", share)
	}
	if together/missing < 0.9 {
		t.Errorf("only %.2f of the holes go on to the right: no blobs", together/missing)
	}
}

func TestWrappedFieldsContinueAcrossTheSeam(t *testing.T) {
	for _, wrap := range []bool{true, false} {
		g := NewGenerator(Noise{Length: 15}, 256, 256, wrap, false)
		rng := rand.New(rand.NewPCG(1, 1))
		sum := 0.0
		for range 20 {
			f := g.Draw(rng)
			for y := range f.Height {
				sum += f.Values[y*256] * f.Values[y*256+255] / (20 * 256)
			}
		}
		want := math.Exp(-1. / 15)
		if !wrap {
			want = math.Exp(-255. / 15)
		}
		if math.Abs(sum-want) > 0.2 {
			t.Errorf("wrap %v: correlation across the seam %.2f, want %.2f", wrap, sum, want)
		}
	}
}

func TestSameSeedSameField(t *testing.T) {
	n, _ := NoiseByName("exp5-stripe-gap")
	a := NewGenerator(n, 100, 80, false, false).Draw(rand.New(rand.NewPCG(9, 9)))
	b := NewGenerator(n, 100, 80, false, false).Draw(rand.New(rand.NewPCG(9, 9)))
	c := NewGenerator(n, 100, 80, false, false).Draw(rand.New(rand.NewPCG(9, 8)))
	same, other := true, true
	for i := range a.Values {
		same = same && math.Float64bits(a.Values[i]) == math.Float64bits(b.Values[i])
		other = other && math.Float64bits(a.Values[i]) == math.Float64bits(c.Values[i])
	}
	if !same || other {
		t.Errorf("same seed equal: %v; other seed equal: %v", same, other)
	}
}

func TestClipAndGradient(t *testing.T) {
	f := NewGenerator(Noise{Clip: 2, Gradient: 0}, 200, 200, false, false).Draw(rand.New(rand.NewPCG(1, 1)))
	lo, hi := 0.0, 0.0
	for _, v := range f.Values {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	if hi > 2.1 || lo < -2.1 || hi < 1.9 {
		t.Errorf("clipped field spans %.2f..%.2f", lo, hi)
	}
	f = &Field{2, 2, make([]float64, 4)}
	f.addGradient(4)
	if got := fmt.Sprint(f.Values); got != "[-2 0 0 2]" {
		t.Errorf("gradient %s", got)
	}
}

func TestNoiseRecipesAreChecked(t *testing.T) {
	if _, err := NoiseByName("pink"); err == nil {
		t.Error("an unknown noise was accepted")
	}
	for _, n := range []Noise{{Length: -1}, {Gaps: 1}, {Clip: math.NaN()}, {Gradient: math.Inf(1)}, {StripWidth: -3}} {
		if n.Valid() == nil {
			t.Errorf("%+v was accepted", n)
		}
	}
}
