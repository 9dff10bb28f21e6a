package testblanket

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func drawBlanket(rt *rapid.T) Blanket {
	return Blanket{
		Pattern:   rapid.SampledFrom(patterns).Draw(rt, "pattern"),
		Amplitude: rapid.Float64Range(-5, 5).Draw(rt, "amplitude"),
		Decay:     rapid.Float64Range(0.5, 6).Draw(rt, "decay"),
		Axis:      rapid.Float64Range(0, 360).Draw(rt, "axis"),
		Share:     rapid.Float64Range(0.1, 1).Draw(rt, "share"),
		Kappa:     rapid.Float64Range(0, 60).Draw(rt, "kappa"),
		Rays:      rapid.SliceOfN(rapid.Float64Range(0, 360), 1, 6).Draw(rt, "rays"),
		GapWidth:  rapid.Float64Range(20, 300).Draw(rt, "gap"),
	}
}

// Whatever the pattern, the azimuthal mean of the excess is Amplitude rho^-b,
// and the shape turns with its axis.
func TestBlanketMeanAndTurn(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := drawBlanket(rt)
		s := b.Shape()
		rho := rapid.Float64Range(1, 8).Draw(rt, "rho")
		mean := 0.0
		const n = 2880
		for i := range n {
			mean += s.At(rho, 2*math.Pi*float64(i)/n) / n
		}
		want := b.Amplitude * math.Pow(rho, -b.Decay)
		if math.Abs(mean-want) > 1e-9+1e-6*math.Abs(want) {
			rt.Fatalf("mean %g, want %g", mean, want)
		}
		turned := b
		turned.Axis += 30
		turned.Rays = nil
		for _, r := range b.Rays {
			turned.Rays = append(turned.Rays, r+30)
		}
		az := rapid.Float64Range(-7, 7).Draw(rt, "azimuth")
		x, y := turned.Shape().F(az+30*math.Pi/180), s.F(az)
		if math.Abs(x-y) > 1e-6*math.Abs(y)+1e-9 {
			rt.Fatalf("f = %g, turned %g", y, x)
		}
	})
}

// Closed forms: the cosine lobe is 1 + share cos, two lobes are alike, the gap
// is empty in its middle and 360/(360-width) elsewhere.
func TestBlanketShapes(t *testing.T) {
	at := func(b Blanket, deg float64) float64 { return b.Shape().F(deg * math.Pi / 180) }
	one := Blanket{Pattern: "one-sided", Axis: 40, Share: 0.6}
	gap := Blanket{Pattern: "gap", Axis: 200, GapWidth: 90}
	two := Blanket{Pattern: "bilateral", Axis: 31}
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"cosine at its axis", at(one, 40), 1.6},
		{"cosine across", at(one, 130), 1},
		{"cosine behind", at(one, 220), 0.4},
		{"gap middle", at(gap, 200), 0},
		{"gap edge", at(gap, 245), 0.5 * 4 / 3},
		{"outside the gap", at(gap, 20), 4. / 3},
		{"second lobe", at(two, 211), at(two, 31)},
		{"von Mises lobe", at(Blanket{Pattern: "one-sided", Kappa: 4}, 0), math.Exp(4) / 11.301921952136331}, // I0(4), Abramowitz & Stegun table 9.8
	} {
		if math.Abs(c.got-c.want) > 2e-5 {
			t.Errorf("%s: %g, want %g", c.name, c.got, c.want)
		}
	}
}

func TestInterior(t *testing.T) {
	zero := Blanket{Pattern: "symmetric", Amplitude: 2}.Shape()
	filled := Blanket{Pattern: "symmetric", Amplitude: 2, Interior: "filled"}.Shape()
	if zero.At(0.9, 0) != 0 || math.Abs(filled.At(0.5, 0)-2) > 1e-12 || math.Abs(filled.At(1, 0)-2) > 1e-12 {
		t.Errorf("interior %g, %g; rim %g", zero.At(0.9, 0), filled.At(0.5, 0), filled.At(1, 0))
	}
	if r := zero.Reach(2./1000, 40); math.Abs(r-10) > 1e-9 {
		t.Errorf("reach %g, want 10", r)
	}
}

// The painted sum is the integral 2 pi A R^2 integral rho^-2 drho, and pixel
// means near the rim agree with a fine subdivision.
func TestPaintConservesTheIntegral(t *testing.T) {
	const radius, outer = 6.3, 8.0
	f := &Field{200, 200, make([]float64, 200*200)}
	s := Blanket{Pattern: "bilateral", Amplitude: 3, Axis: 20}.Shape()
	f.Paint(s, 100.3, 99.6, radius)
	sum := 0.0
	for y := range 200 {
		for x := range 200 {
			if math.Hypot(float64(x)+0.5-100.3, float64(y)+0.5-99.6) < outer*radius {
				sum += f.Values[y*200+x]
			}
		}
	}
	want := 2 * math.Pi * 3 * radius * radius * (1 - 1/outer)
	if math.Abs(sum/want-1) > 0.01 {
		t.Errorf("painted %g, integral %g", sum, want)
	}
}

func TestPixelMeansAgainstFineSubdivision(t *testing.T) {
	s := Blanket{Pattern: "one-sided", Amplitude: 1, Kappa: 4, Axis: 75}.Shape()
	const radius = 4.0
	for _, p := range [][2]float64{{5.2, 1}, {-3, 6}, {9, -9}, {0.5, 30}} {
		fine := 0.0
		const n = 60
		for j := range n {
			for i := range n {
				x := p[0] + (float64(i)+0.5)/n - 0.5
				y := p[1] + (float64(j)+0.5)/n - 0.5
				fine += s.At(math.Hypot(x, y)/radius, math.Atan2(x, y)) / (n * n)
			}
		}
		if got := pixelMean(s, p[0], p[1], radius); math.Abs(got-fine) > 0.004*math.Abs(fine) {
			t.Errorf("pixel at %v: %g, finely %g", p, got, fine)
		}
	}
}

func TestBlanketsAreChecked(t *testing.T) {
	for _, b := range []Blanket{
		{}, {Pattern: "spiral"}, {Pattern: "rays"}, {Pattern: "gap", GapWidth: 350}, {Pattern: "symmetric", Amplitude: math.NaN()},
		{Pattern: "symmetric", Decay: -1}, {Pattern: "symmetric", Share: 2}, {Pattern: "symmetric", Kappa: -1}, {Pattern: "symmetric", Interior: "full"},
	} {
		if b.Valid() == nil {
			t.Errorf("%+v was accepted", b)
		}
	}
}
