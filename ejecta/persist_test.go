package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/mat"
	"pgregory.net/rapid"
)

// epochOf is an epoch with a blanket amplitude and direction whose errors are
// known.
func epochOf(name string, a, se float64, h []float64) *EpochFinding {
	f := UnmeasuredEpoch(StatusOK, "")
	f.Species, f.Epoch, f.Unit, f.Coverage, f.ExcessP = "water", name, "ppm", 1, upperTail(a/se)
	for range decayNodes {
		f.DecayScores = append(f.DecayScores, a/(se*se))
		f.DecayInfo = append(f.DecayInfo, 1/(se*se))
	}
	if h != nil {
		f.Direction, f.DirectionCov = h, make([]float64, 16)
		for i := range 4 {
			f.DirectionCov[i*5] = se * se
		}
	}
	return &f
}

// sharedNoise draws standard normals with one correlation between them.
func sharedNoise(rng *rand.Rand, epochs int, r float64) []float64 {
	common := math.Sqrt(r) * rng.NormFloat64()
	out := make([]float64, epochs)
	for i := range out {
		out[i] = common + math.Sqrt(1-r)*rng.NormFloat64()
	}
	return out
}

// nullPlaces draws the scores of null positions.
func nullPlaces(rng *rand.Rand, places, epochs int, r float64) [][][]float64 {
	out := make([][][]float64, places)
	for i := range out {
		out[i] = make([][]float64, epochs)
		for range 5 {
			for e, x := range sharedNoise(rng, epochs, r) {
				out[i][e] = append(out[i][e], x)
			}
		}
	}
	return out
}

// The test of persistence claims a change as often as its level says where
// there is none, whether or not the epochs share noise, with correlations
// estimated afresh at a survey's null positions for every three craters.
func TestPersistenceSize(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	const surveys, craters, se = 1200, 3, 5.0
	for _, c := range []struct {
		epochs, places int
		r, a           float64
	}{
		{2, 200, 0, 0}, {2, 200, 0, 20}, {2, 200, 0.8, 20}, {2, 60, 0.8, 20}, {3, 200, 0.5, 20}, {4, 60, 0.9, 20},
	} {
		rng := rand.New(rand.NewPCG(41, uint64(1000*c.epochs+c.places)))
		fired, n := 0, 0
		for range surveys {
			nulls := nullPlaces(rng, c.places, c.epochs, c.r)
			noise, ok := NewEpochNoise(c.epochs, nulls, nulls)
			if !ok {
				t.Fatal("no correlation")
			}
			for range craters {
				n++
				if drawn(rng, c.epochs, c.r, c.a, se, noise, 1).P < 0.05 {
					fired++
				}
			}
		}
		size, s := float64(fired)/float64(n), math.Sqrt(0.05*0.95/float64(n))
		t.Logf("%d epochs, correlation %.1f, %d null positions: size %.4f, s.e. %.4f", c.epochs, c.r, c.places, size, s)
		if size < 0.04 || size > 0.06 {
			t.Errorf("%+v: size %.4f at 0.05", c, size)
		}
	}
}

// drawn is the persistence of one crater whose last epoch keeps a share.
func drawn(rng *rand.Rand, epochs int, r, a, se float64, noise EpochNoise, share float64) Persistence {
	var list []*EpochFinding
	for e, x := range sharedNoise(rng, epochs, r) {
		amp := a
		if e == epochs-1 {
			amp *= share
		}
		list = append(list, epochOf(fmt.Sprint("e", e), amp+se*x, se, nil))
	}
	return NewPersistence(list, noise, 0.01)
}

// A blanket that halves is found, and one that stays is said to.
func TestPersistencePower(t *testing.T) {
	const n, se = 600, 5.0
	rng := rand.New(rand.NewPCG(5, 6))
	for _, c := range []struct{ r, a, least float64 }{{0, 60, 0.94}, {0.8, 60, 0.999}, {0.8, 25, 0.85}} {
		noise := KnownEpochNoise(2, c.r)
		found, words := 0, 0
		for range n {
			p := drawn(rng, 2, c.r, c.a, se, noise, 0.5)
			if p.P < 0.01 {
				found++
			}
			if q := drawn(rng, 2, c.r, c.a, se, noise, 1); q.Verdict == Persistent {
				words++
			}
		}
		t.Logf("blanket of %.0f sigma that halves, correlation %.1f: power %.3f at 0.01; %.3f of those that stay are said to", c.a/se, c.r, float64(found)/n, float64(words)/n)
		if float64(found)/n < c.least {
			t.Errorf("%+v: power %.3f", c, float64(found)/n)
		}
	}
}

// The interval of the largest change covers what it says for two epochs, and no
// less for three.
func TestLargestChangeCovers(t *testing.T) {
	const n, se = 3000, 4.0
	rng := rand.New(rand.NewPCG(8, 2))
	for _, epochs := range []int{2, 3} {
		in := 0
		for range n {
			p := drawn(rng, epochs, 0.6, 50, se, KnownEpochNoise(epochs, 0.6), 1)
			if p.ChangeLo <= 0 && p.ChangeHi >= 0 {
				in++
			}
		}
		if share := float64(in) / n; share < 0.94 || epochs == 2 && share > 0.96 {
			t.Errorf("%d epochs: the interval of the largest change holds 0 in %.3f", epochs, share)
		}
	}
}

func TestPersistenceWords(t *testing.T) {
	known := KnownEpochNoise(3, 0.5)
	for _, c := range []struct {
		a    [3]float64
		want string
	}{
		{[3]float64{80, 82, 79}, Persistent},
		{[3]float64{80, 50, 40}, Changing},
		{[3]float64{80, 20, 2}, ComesAndGoes},
		{[3]float64{2, -3, 1}, NotKnown},
		{[3]float64{17, 14, 8}, NotKnown}, // seen, and a change by half is not excluded
	} {
		p := NewPersistence([]*EpochFinding{epochOf("dawn", c.a[0], 5, nil), epochOf("noon", c.a[1], 5, nil), epochOf("dusk", c.a[2], 5, nil)}, known, 0.01)
		if p.Verdict != c.want {
			t.Errorf("%v is %q, want %q: %s", c.a, p.Verdict, c.want, p.Sentence)
		}
	}
}

// The words at another level are those of a test at that level.
func TestClaimAgain(t *testing.T) {
	known := KnownEpochNoise(3, 0.5)
	make3 := func() []*EpochFinding {
		return []*EpochFinding{epochOf("dawn", 80, 5, turned(1, 40, 30)), epochOf("noon", 62, 5, turned(1, 40, 55)), epochOf("dusk", 78, 5, turned(1, 40, 20))}
	}
	for _, alpha := range []float64{0.05, 0.01, 1e-4, 1e-9} {
		list := make3()
		p := NewPersistence(list, known, 0.01)
		p.Claim(list, alpha)
		want := NewPersistence(make3(), known, alpha)
		if p.Verdict != want.Verdict || p.Axis != want.Axis || p.Seen != want.Seen || p.Sentence != want.Sentence {
			t.Errorf("at %g: %s (%q, %d), want %s (%q, %d)", alpha, p.Verdict, p.Axis, p.Seen, want.Verdict, want.Axis, want.Seen)
		}
	}
	words := map[string]bool{}
	for _, alpha := range []float64{0.05, 1e-6} {
		words[NewPersistence(make3(), known, alpha).Verdict] = true
	}
	if len(words) != 2 {
		t.Errorf("the level makes no difference: %v", words)
	}
}

// One epoch, or no null positions, is no test.
func TestPersistenceNotTestable(t *testing.T) {
	a := epochOf("dawn", 80, 5, nil)
	gone := UnmeasuredEpoch(StatusNotCovered, "outside the map")
	gone.Epoch = "noon"
	for _, p := range []Persistence{
		NewPersistence([]*EpochFinding{a, &gone}, KnownEpochNoise(2, 0), 0.01),
		NewPersistence([]*EpochFinding{a, epochOf("noon", 1, 5, nil)}, EpochNoise{}, 0.01),
	} {
		if p.Verdict != NotKnown || p.Note == "" || !math.IsNaN(p.P) {
			t.Errorf("%+v", p)
		}
	}
}

// With correlations known the statistic is that of general least squares about
// one mean (gonum's dense inverse as the other way).
func TestDifferAgainstDense(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.Float64Range(-0.3, 0.9).Draw(t, "r")
		var list []*EpochFinding
		for i := range 3 {
			list = append(list, epochOf("e", rapid.Float64Range(-50, 50).Draw(t, "a"), rapid.Float64Range(1, 9).Draw(t, "se"), nil))
			putBlankets(list[i : i+1])
		}
		m := newAmplitudes(list, KnownEpochNoise(3, r).Blanket)
		v := mat.NewDense(3, 3, m.v)
		var w mat.Dense
		if w.Inverse(v) != nil {
			t.Skip("ill conditioned")
		}
		y, one := mat.NewVecDense(3, m.a), mat.NewVecDense(3, []float64{1, 1, 1})
		mean := mat.Inner(one, &w, y) / mat.Inner(one, &w, one)
		var d mat.VecDense
		d.AddScaledVec(y, -mean, one)
		want := mat.Inner(&d, &w, &d)
		if got := m.differ(); math.Abs(got-want) > 1e-6*(1+want) {
			t.Fatalf("statistic %g, want %g", got, want)
		}
	})
}

// turned are the harmonics of a side at an azimuth in degrees.
func turned(order int, amplitude, azimuth float64) []float64 {
	h := make([]float64, 4)
	s, c := math.Sincos(float64(order) * azimuth * math.Pi / 180)
	h[order-1], h[order+1] = amplitude*c, amplitude*s
	return h
}

func TestEpochAxis(t *testing.T) {
	sun := [3]float64{95, 180, 265}
	for _, c := range []struct {
		name    string
		order   int
		azimuth [3]float64
		sun     bool
		want    string
	}{
		{"follows", 1, [3]float64{275, 0, 85}, true, AxisFollows}, // away from the sun
		{"stays", 1, [3]float64{40, 42, 38}, true, AxisStays},
		{"turns otherwise", 1, [3]float64{40, 40, 220}, true, AxisTurns},
		{"no sun, stays", 1, [3]float64{40, 42, 38}, false, AxisStays},
		{"no sun, turns", 1, [3]float64{40, 100, 38}, false, AxisTurns},
		{"an axis", 2, [3]float64{10, 95, 178}, true, AxisFollows},
	} {
		var list []*EpochFinding
		for e := range 3 {
			f := epochOf(fmt.Sprint("e", e), 60, 4, turned(c.order, 50, c.azimuth[e]))
			if c.sun {
				f.SunAzimuth = sun[e]
			}
			list = append(list, f)
		}
		p := NewPersistence(list, KnownEpochNoise(3, 0.4), 0.01)
		if p.Axis != c.want || p.AxisOrder != c.order {
			t.Errorf("%s: %q of order %d, p %g, sun %g", c.name, p.Axis, p.AxisOrder, p.AxisP, p.SunP)
		}
	}
}

// One direction at all epochs is rejected as often as the level says, with and
// without shared noise.
func TestEpochAxisSize(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	const n, se, alpha = 1500, 5.0, 0.05
	for _, r := range []float64{0, 0.7} {
		rng := rand.New(rand.NewPCG(3, 9))
		fired, tested := 0, 0
		for range n {
			list := []*EpochFinding{}
			x, y := sharedNoise(rng, 2, r), sharedNoise(rng, 2, r)
			for e := range 2 {
				h := turned(1, 35, 70)
				h[0], h[2] = h[0]+se*x[e], h[2]+se*y[e]
				list = append(list, epochOf("e", 40, se, h))
			}
			p := NewPersistence(list, KnownEpochNoise(2, r), 0.01)
			if p.AxisOrder == 1 {
				tested++
				if p.AxisP < alpha {
					fired++
				}
			}
		}
		size := float64(fired) / float64(tested)
		t.Logf("correlation %.1f: one direction rejected in %.3f of %d, s.e. %.3f", r, size, tested, math.Sqrt(alpha*(1-alpha)/float64(tested)))
		if size < 0.035 || size > 0.066 {
			t.Errorf("correlation %.1f: size %.3f", r, size)
		}
	}
}

// The sun rises in the east, stands in the north or south at noon by the
// latitude, and sets in the west.
func TestSunAzimuth(t *testing.T) {
	for _, c := range []struct{ hour, lat, subsolar, want float64 }{
		{6, 0, 0, 90}, {18, 0, 0, 270}, {12, 30, 0, 180}, {12, -30, 0, 0}, {12, 0, 10, 0}, {0, 80, 5, 0},
		{9, 45, 0, 125.264}, // tan = tan 45 / sin 45: 180 - atan(sqrt 2)
	} {
		if got := SunAzimuth(c.hour, c.lat, c.subsolar); math.Abs(math.Remainder(got-c.want, 360)) > 0.01 {
			t.Errorf("sun at %g h, latitude %g: %g, want %g", c.hour, c.lat, got, c.want)
		}
	}
	if !math.IsNaN(SunAzimuth(12, 0, 0)) {
		t.Error("a sun overhead has an azimuth")
	}
}

// Fieller's interval of the share holds the true one as often as it says.
func TestShareCovers(t *testing.T) {
	const n = 3000
	rng := rand.New(rand.NewPCG(12, 1))
	in := 0
	for range n {
		p := drawn(rng, 2, 0.6, 60, 5, KnownEpochNoise(2, 0.6), 0.4)
		if p.ShareLo <= 0.4 && p.ShareHi >= 0.4 {
			in++
		}
	}
	if share := float64(in) / n; share < 0.94 || share > 0.96 {
		t.Errorf("the interval of the share holds it in %.3f", share)
	}
}
