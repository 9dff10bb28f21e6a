package study

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"rimcast/ejecta"
)

// RankPlan says how many invented catalogues are ranked. The numbers of a
// crater are drawn, not measured: no map is made.
type RankPlan struct {
	Seed       uint64
	Craters    int // of one catalogue
	Catalogues int
}

// Ranks are the results, means over the catalogues.
type Ranks struct {
	Plan               RankPlan
	Precision          map[int][2]float64 // by length of the list: score, plain sort by excess
	Expected, False    map[int]float64    // false ones in the list
	Held, HeldTop      float64            // share of ranks of a repeat in the interval: all, first 50
	Top10, PTop10      float64            // of the first 50: share in the best ten of a repeat, and the share said
	RawBias, TrueBias  float64            // mean score of the first 50 less the true one, as observed and drawn back
	Shared10, Expect10 float64            // of the first ten, in the first ten of the repeat; said by p_top10
}

// rankLists are the lengths of lists that are looked at.
var rankLists = []int{10, 50, 150}

// drawnCrater is the truth of a crater.
type drawnCrater struct {
	real  bool
	score [2]float64 // true scores of the excess, by species
	turn  [2]float64 // of the direction
	se    float64    // of the excess: craters differ in what can be seen
	alarm bool       // something else made an excess here, and an alarm says so
	ghost float64    // score that it made

}

// drawTruth invents a catalogue: one crater in twenty is rich, with true scores
// of 2 to 8, half of them with a direction; three in a hundred have an excess of
// heat, with its alarm. Errors differ from crater to crater by a factor of 10.
func drawTruth(n int, rng *rand.Rand) []drawnCrater {
	list := make([]drawnCrater, n)
	for i := range list {
		c := &list[i]
		c.se = math.Pow(10, rng.Float64())
		switch x := rng.Float64(); {
		case x < 0.05:
			c.real = true
			z := 2 + 6*rng.Float64()
			c.score = [2]float64{z, z * (0.3 + 0.7*rng.Float64())}
			if rng.IntN(2) == 0 {
				c.turn = [2]float64{0.7 * z, 0.5 * z}
			}
		case x < 0.08:
			c.alarm, c.ghost = true, 2+4*rng.Float64()
		}
	}
	return list
}

var rankSpecies = [2]string{"water", "hydroxyl"}

// observe draws the findings of a catalogue and corrects them.
func observe(truth []drawnCrater, rng *rand.Rand) []ejecta.Finding {
	var list []ejecta.Finding
	for i := range truth {
		for k, name := range rankSpecies {
			list = append(list, truth[i].observe(i, k, name, rng))
		}
	}
	ejecta.Correct(list, len(rankSpecies))
	return list
}

func (c *drawnCrater) observe(i, k int, name string, rng *rand.Rand) ejecta.Finding {
	f := ejecta.Finding{CraterIndex: i, Species: name, Unit: "ppm", Status: ejecta.StatusOK}
	ejecta.BlankNumbers(&f)
	z := c.score[k] + rng.NormFloat64()
	if c.alarm && k == 0 {
		z += c.ghost
		f.Alarms = []ejecta.Alarm{{Name: "thermal", Raised: true}}
	}
	f.Excess, f.ExcessSE, f.ExcessP = z*c.se, c.se, tail(z)
	f.AsymmetryP = tail(c.turn[k] + rng.NormFloat64())
	if f.AsymmetryP < ejecta.DefaultAlpha {
		f.Pattern = ejecta.PatternOneSided
	}
	if f.Describe(ejecta.DefaultAlpha); f.Claimed {
		f.Extent = 1 + math.Pow(math.Max(z, 1), 0.5)
	}
	return f
}

func tail(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }

func rankOf(findings []ejecta.Finding, seed uint64) []ejecta.Target {
	n := len(rankSpecies)
	in := make([]ejecta.RankInput, len(findings)/n)
	for i := range in {
		in[i] = ejecta.RankInput{CraterIndex: i, Findings: findings[n*i : n*i+n], Freshness: math.NaN()}
	}
	return ejecta.Rank(in, nil, seed)
}

// RunRanks draws catalogues, ranks them, measures each once more, and compares.
func RunRanks(p RankPlan) *Ranks {
	r := &Ranks{Plan: p, Precision: map[int][2]float64{}, Expected: map[int]float64{}, False: map[int]float64{}}
	for c := range p.Catalogues {
		rng := rand.New(rand.NewPCG(p.Seed, uint64(c)))
		truth := drawTruth(p.Craters, rng)
		findings := observe(truth, rng)
		targets := rankOf(findings, p.Seed)
		again := rankOf(observe(truth, rng), p.Seed)
		r.addPrecision(truth, findings, targets)
		r.addRepeat(targets, again)
		r.addCurse(truth, targets)
	}
	return r
}

func (r *Ranks) addPrecision(truth []drawnCrater, findings []ejecta.Finding, targets []ejecta.Target) {
	plain := plainOrder(findings)
	part := 1 / float64(r.Plan.Catalogues)
	for _, n := range rankLists {
		p := r.Precision[n]
		for k := range n {
			p[0] += part * ifTrue(truth[targets[k].CraterIndex].real) / float64(n)
			p[1] += part * ifTrue(truth[plain[k]].real) / float64(n)
			c := &truth[targets[k].CraterIndex]
			r.False[n] += part * ifTrue(!c.real && !c.alarm)
		}
		r.Precision[n] = p
		r.Expected[n] += part * targets[n-1].ExpectedFalse
	}
}

func ifTrue(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// plainOrder sorts the craters by their largest excess, as a spreadsheet does.
func plainOrder(findings []ejecta.Finding) []int {
	n := len(rankSpecies)
	order := make([]int, len(findings)/n)
	largest := make([]float64, len(order))
	for i := range order {
		order[i] = i
		largest[i] = math.Max(findings[n*i].Excess, findings[n*i+1].Excess)
	}
	slices.SortStableFunc(order, func(a, b int) int { return int(ifTrue(largest[b] > largest[a])) - int(ifTrue(largest[a] > largest[b])) })
	return order
}

// addRepeat asks whether the ranks of a repeated measurement lie in the
// intervals, and how many of the first ten stay.
func (r *Ranks) addRepeat(targets, again []ejecta.Target) {
	rank := make([]int, len(again))
	for _, t := range again {
		rank[t.CraterIndex] = t.Rank
	}
	n, top := float64(len(targets)*r.Plan.Catalogues), float64(50*r.Plan.Catalogues)
	for k, t := range targets {
		at := rank[t.CraterIndex]
		held := ifTrue(at >= t.RankLo && at <= t.RankHi)
		r.Held += held / n
		if k < 50 {
			r.HeldTop += held / top
			r.Top10 += ifTrue(at <= 10) / top
			r.PTop10 += t.PTop10 / top
		}
		if k < 10 {
			r.Shared10 += ifTrue(at <= 10) / float64(r.Plan.Catalogues)
			r.Expect10 += t.PTop10 / float64(r.Plan.Catalogues)
		}
	}
}

// addCurse compares scores of the first fifty with the true ones, alarms left
// out.
func (r *Ranks) addCurse(truth []drawnCrater, targets []ejecta.Target) {
	raw, drawn, n := 0.0, 0.0, 0.0
	for _, t := range targets[:50] {
		c := &truth[t.CraterIndex]
		if c.alarm {
			continue
		}
		mu := c.score[slices.Index(rankSpecies[:], t.Species)]
		raw, drawn, n = raw+t.ExcessScore-mu, drawn+t.TrueScore-mu, n+1
	}
	r.RawBias += raw / n / float64(r.Plan.Catalogues)
	r.TrueBias += drawn / n / float64(r.Plan.Catalogues)
}

// Markdown writes the table.
func (r *Ranks) Markdown(out io.Writer) {
	t := table{out}
	fmt.Fprintf(out, "Seed %d, %d catalogues of %d craters, 5 %% rich with true scores of 2 to 8, 3 %% with an excess of heat and its alarm, errors that differ by a factor of 10.\n\n",
		r.Plan.Seed, r.Plan.Catalogues, r.Plan.Craters)
	t.head("quantity", "first 10", "first 50", "first 150")
	by := func(name string, get func(n int) float64) {
		t.row(name, f2(get(10)), f2(get(50)), f2(get(150)))
	}
	by("rich ones in the list, share", func(n int) float64 { return r.Precision[n][0] })
	by("the same for a plain sort by excess", func(n int) float64 { return r.Precision[n][1] })
	by("false ones expected (`expected_false`)", func(n int) float64 { return r.Expected[n] })
	by("false ones found, excess of heat left out", func(n int) float64 { return r.False[n] })
	t.row("among the best ten when measured again, said by `p_top10`", f2(r.Expect10/10), f2(r.PTop10), "")
	t.row("the same, found", f2(r.Shared10/10), f2(r.Top10), "")
	t.row("rank when measured again in the interval, nominal 0.9", "", f2(r.HeldTop), "")
	t.row("the same, all craters", "", "", f2(r.Held))
	t.row("bias of the score as observed", "", f2(r.RawBias), "")
	t.row("bias of the score drawn back", "", f2(r.TrueBias), "")
}
