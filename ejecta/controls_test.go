package ejecta

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// The critical values of the signed-rank test at 0.05 on both sides, as in every
// table since Wilcoxon (1945), Biometrics Bulletin 1, 80: the largest statistic
// that is significant.
func TestRankCut(t *testing.T) {
	for n, want := range map[int]int{6: 0, 7: 2, 8: 3, 10: 8, 12: 13, 15: 25, 20: 52, 25: 89, 30: 137} {
		if got := rankCut(n, 0.025); got != want {
			t.Errorf("%d pairs: %d, the table says %d", n, got, want)
		}
	}
	if a, b := rankTail(60, 700), rankTail(61, 720); math.Abs(ScoreOf(a)-ScoreOf(b)) > 0.1 {
		t.Errorf("exact %g and normal %g do not meet", a, b)
	}
}

// Both intervals hold the true mean difference as often as they say, whether or
// not the pairs differ among themselves, also with few pairs and unequal errors.
func TestPairedMeanCovers(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	const n = 900
	for _, c := range []struct {
		pairs   int
		scatter float64
	}{{8, 0}, {8, 10}, {25, 0}, {25, 10}, {60, 5}} {
		rng := rand.New(rand.NewPCG(uint64(c.pairs), uint64(c.scatter)))
		in, inRank, false5 := 0, 0, 0
		for range n {
			var list, none []Estimate
			for range c.pairs {
				se := 3 + 9*rng.Float64()
				x := c.scatter*rng.NormFloat64() + se*rng.NormFloat64()
				list, none = append(list, Estimate{12 + x, se * se}), append(none, Estimate{x, se * se})
			}
			m := NewPairedMean(list)
			if m.Lo <= 12 && m.Hi >= 12 {
				in++
			}
			if m.MidLo <= 12 && m.MidHi >= 12 {
				inRank++
			}
			if NewPairedMean(none).P < 0.05 {
				false5++
			}
		}
		a, b, p := float64(in)/n, float64(inRank)/n, float64(false5)/n
		t.Logf("%d pairs, scatter %g: interval holds %.3f, by ranks %.3f, p < 0.05 in %.3f (s.e. %.3f)", c.pairs, c.scatter, a, b, p, math.Sqrt(0.05*0.95/n))
		if a < 0.93 || a > 0.97 || b < 0.94 || b > 0.985 || math.Abs(p-0.05) > 0.022 {
			t.Errorf("%+v: %.3f, %.3f, %.3f", c, a, b, p)
		}
	}
}

// confounded are craters whose excess grows with latitude and not with youth,
// and whose young ones lie at higher latitudes.
func confounded(rng *rand.Rand, bonus float64) ([]Unit, map[int]*Finding) {
	var units []Unit
	found := map[int]*Finding{}
	for i := range 400 {
		u := Unit{Index: i, Young: i < 40}
		lat := 60 * rng.Float64()
		if u.Young {
			lat = 20 + 50*rng.Float64()
		}
		u.X = []float64{lat, rng.NormFloat64()}
		f := &Finding{Status: StatusOK, ExcessSE: 4, Excess: 0.8*lat + 4*rng.NormFloat64()}
		if u.Young {
			f.Excess += bonus
		}
		units, found[i] = append(units, u), f
	}
	return units, found
}

// What differs besides age is taken out by the pairs: the difference of all
// young and all old is wrong, that of the pairs right, with its interval.
func TestMatchingTakesOutWhatDiffers(t *testing.T) {
	const draws = 150
	rng := rand.New(rand.NewPCG(6, 6))
	in, pairs, raw, mean := 0, 0, 0.0, 0.0
	for range draws {
		units, found := confounded(rng, 10)
		list, balance := MatchNearest(units, []string{"latitude", "size"}, 0.25)
		c := NewControlSpecies("water", "ppm", list, units, func(i int) *Finding { return found[i] })
		pairs += len(list)
		raw, mean = raw+c.Raw/draws, mean+c.Paired.Mean/draws
		if c.Paired.Lo <= 10 && c.Paired.Hi >= 10 {
			in++
		}
		if b := balance[0]; math.Abs(b.After) > 0.1 || b.Before < 0.4 {
			t.Fatalf("latitude differs by %.2f before and %.2f after", b.Before, b.After)
		}
	}
	t.Logf("planted 10: all %.1f, pairs %.2f, interval holds it in %.3f, %.1f pairs", raw, mean, float64(in)/draws, float64(pairs)/draws)
	if math.Abs(mean-10) > 0.6 || raw < 15 || float64(in)/draws < 0.9 || pairs < 30*draws {
		t.Errorf("all %.1f, pairs %.2f, interval %.3f, %d pairs", raw, mean, float64(in)/draws, pairs)
	}
}

// No crater is used twice, no pair passes a caliper, the order of the craters
// does not matter, and no young crater is left alone beside a free old one.
func TestMatchNearestProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(6, 40).Draw(t, "n")
		var units []Unit
		for i := range n {
			units = append(units, Unit{Index: i, Young: rapid.Bool().Draw(t, "young"), X: []float64{
				float64(rapid.IntRange(0, 6).Draw(t, "a")), rapid.Float64Range(-1, 1).Draw(t, "b")}})
		}
		names := []string{"a", "b"}
		pairs, _ := MatchNearest(units, names, 0.5)
		m := newMatcher(units, 2, 0.5)
		used := map[int]bool{}
		for _, p := range pairs {
			d, ok := m.distance(units[p.Young], units[p.Old])
			if !ok || d != p.Distance || !units[p.Young].Young || units[p.Old].Young || used[p.Young] || used[p.Old] {
				t.Fatalf("pair %+v, distance %g, within calipers %v", p, d, ok)
			}
			used[p.Young], used[p.Old] = true, true
		}
		for _, y := range m.young {
			for _, o := range m.old {
				if _, ok := m.distance(y, o); m.used > 0 && ok && !used[y.Index] && !used[o.Index] {
					t.Fatalf("%d and %d are both free", y.Index, o.Index)
				}
			}
		}
		turned := slices.Clone(units)
		slices.Reverse(turned)
		if again, _ := MatchNearest(turned, names, 0.5); !slices.Equal(again, pairs) {
			t.Fatalf("in another order %v, not %v", again, pairs)
		}
	})
}

func TestControlWords(t *testing.T) {
	for _, c := range []struct {
		bonus float64
		want  string
	}{{25, "are richer than"}, {-25, "are poorer than"}, {0, "not shown"}} {
		units, found := confounded(rand.New(rand.NewPCG(1, 2)), c.bonus)
		pairs, _ := MatchNearest(units, []string{"latitude", "size"}, 0.25)
		if got := NewControlSpecies("water", "ppm", pairs, units, func(i int) *Finding { return found[i] }).Sentence; !strings.Contains(got, c.want) {
			t.Errorf("bonus %g: %s", c.bonus, got)
		}
	}
	if got := NewControlSpecies("water", "ppm", nil, nil, func(int) *Finding { return nil }).Sentence; !strings.Contains(got, "5 are needed") {
		t.Error(got)
	}
}
