package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"
)

// rankCatalogue is a catalogue of plain numbers, two species, corrected.
func rankCatalogue(n int, seed uint64) []RankInput {
	rng := rand.New(rand.NewPCG(seed, 9))
	var list []Finding
	for i := range n {
		mu := 0.0
		if i%20 == 0 {
			mu = 2 + 5*rng.Float64()
		}
		for _, name := range []string{"water", "hydroxyl"} {
			f := Finding{CraterIndex: i, Species: name, Status: StatusOK}
			BlankNumbers(&f)
			f.ExcessP, f.AsymmetryP = upperTail(mu+rng.NormFloat64()), upperTail(mu/2+rng.NormFloat64())
			if f.Describe(0.01); f.AsymmetryP < 0.01 {
				f.Pattern = PatternOneSided
			}
			list = append(list, f)
		}
	}
	Correct(list, 2)
	in := make([]RankInput, n)
	for i := range in {
		in[i] = RankInput{CraterIndex: i, Findings: list[2*i : 2*i+2], Freshness: math.NaN()}
	}
	return in
}

// The parts of a score are its sum, the chance of being real and the running
// number of false ones belong together, and equal seeds give equal ranks.
func TestRankColumns(t *testing.T) {
	in := rankCatalogue(400, 1)
	targets, again := Rank(in, nil, 7), Rank(in, nil, 7)
	lost := 0.0
	for i, x := range targets {
		sum := 0.0
		for _, c := range x.Components {
			sum += c.Value
		}
		lost += 1 - x.PReal
		if math.Abs(sum-x.Score) > 1e-9 || math.Abs(x.ExpectedFalse-lost) > 1e-9 || x.Rank != i+1 || x.RankLo > x.RankHi {
			t.Fatalf("%+v: parts %g, false %g", x, sum, lost)
		}
		if again[i].RankLo != x.RankLo || again[i].RankHi != x.RankHi || again[i].PTop10 != x.PTop10 {
			t.Fatal("two rankings with one seed differ")
		}
	}
	if !(targets[0].TrueScore < targets[0].ExcessScore) || targets[0].Species == "" {
		t.Errorf("the best target is not drawn back: %+v", targets[0])
	}
}

// What could not be measured comes last, also in repeated measurements, however
// fresh it is.
func TestUnmeasuredComeLast(t *testing.T) {
	in := rankCatalogue(40, 2)
	for _, i := range []int{0, 7} {
		in[i].Freshness = 5
		for k := range in[i].Findings {
			in[i].Findings[k] = Finding{Status: StatusTooSmall, Species: in[i].Findings[k].Species}
			BlankNumbers(&in[i].Findings[k])
		}
	}
	targets := Rank(in, nil, 7)
	for i, x := range targets[38:] {
		if x.Species != "" || x.RankLo != 39+i || x.CraterIndex != 7*i || x.Score != 1.25 {
			t.Errorf("place %d: %+v", 39+i, x)
		}
	}
}

// A repeated measurement moves the direction: craters that differ in the
// direction alone have intervals of their ranks.
func TestRepeatsMoveTheDirection(t *testing.T) {
	var in []RankInput
	for i := range 40 {
		f := Finding{CraterIndex: i, Species: "water", Status: StatusOK, Pattern: PatternOneSided}
		BlankNumbers(&f)
		f.ExcessP, f.AsymmetryP = upperTail(20), upperTail(3+0.05*float64(i)) // beyond the grid the excess is nearly fixed
		in = append(in, RankInput{CraterIndex: i, Findings: []Finding{f}})
	}
	wide := 0
	for _, x := range Rank(in, RankWeights{ScoreExcess: 0}, 3) {
		if x.RankHi-x.RankLo > 5 {
			wide++
		}
	}
	if wide < 30 {
		t.Errorf("%d of 40 craters have an interval of their rank", wide)
	}
}

func TestWorthCurve(t *testing.T) {
	c := newWorthCurve([]float64{1, 3, math.NaN(), 30}, []float64{0.8, 0.2, 9, 0.1})
	for _, x := range []struct{ z, rate float64 }{{-9, 0.8}, {1.01, 0.8}, {2.01, 0.5}, {3.01, 0.2}, {35, 0.1}, {50, 0.1}} {
		b := scoreBinOf(x.z)
		if got := 1 - c.real[b]; math.Abs(got-x.rate) > 0.02 {
			t.Errorf("rate at %g is %g, want %g", x.z, got, x.rate)
		}
		if want := (1 - x.rate) * compressed(math.Min(x.z, highestScore)); math.Abs(c.worth[b]-want) > 0.03 {
			t.Errorf("worth at %g is %g, want %g", x.z, c.worth[b], want)
		}
	}
	if newWorthCurve(nil, nil).real[scoreBinOf(2)] != 1 {
		t.Error("a rate out of nothing")
	}
}

func BenchmarkRank100000(b *testing.B) {
	in := rankCatalogue(100000, 2)
	b.ResetTimer()
	for range b.N {
		Rank(in, nil, 1)
	}
}
