package ejecta

import (
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sort"
	"sync"
)

// rankDraws is the number of repeated measurements behind the rank intervals.
const rankDraws = 400

// longRanking is the number of craters above which fewer draws are made.
const longRanking = 20000

// stability fills rank intervals (5 to 95 %) and the chance of the top ten of the
// craters that have a score: the others come behind them in every draw.
func (r *ranking) stability(w RankWeights, seed uint64) {
	n := len(r.measured)
	if n == 0 {
		return
	}
	draws := rankDraws
	if len(r.in)+r.bare.Len() > longRanking {
		draws = 100
	}
	ranks := make([]int32, n*draws) // by draw
	r.repeats(w).rank(ranks, draws, seed)
	own := make([]int32, draws)
	for k, i := range r.measured {
		for d := range own {
			own[d] = ranks[d*n+k]
		}
		r.targets[i].settleRank(own)
	}
}

// rank fills the ranks of every draw. Each draw has its own stream, so that the
// number of workers does not matter.
func (r *repeats) rank(ranks []int32, draws int, seed uint64) {
	n := len(r.craters)
	workers := min(runtime.GOMAXPROCS(0), draws)
	var wg sync.WaitGroup
	for first := range workers {
		wg.Go(func() {
			scores := make([]scoredCrater, n)
			for d := first; d < draws; d += workers {
				r.draw(ranks[d*n:(d+1)*n], scores, rand.New(rand.NewPCG(seed^0x5a, uint64(d))))
			}
		})
	}
	wg.Wait()
}

// draw measures the catalogue once more and fills in the ranks by crater.
func (r *repeats) draw(ranks []int32, scores []scoredCrater, rng *rand.Rand) {
	for i := range scores {
		scores[i] = scoredCrater{r.again(&r.craters[i], rng), int32(i)}
	}
	slices.SortFunc(scores, byScore)
	for place, s := range scores {
		ranks[s.crater] = int32(place + 1)
	}
}

type scoredCrater struct {
	score  float64
	crater int32
}

// byScore sorts the best first, ties in catalogue order.
func byScore(a, b scoredCrater) int {
	switch {
	case a.score > b.score:
		return -1
	case a.score < b.score:
		return 1
	}
	return int(a.crater - b.crater)
}

func (t *Target) settleRank(r []int32) {
	slices.Sort(r)
	n := len(r)
	t.RankLo, t.RankHi = int(r[n/20]), int(r[n-1-n/20])
	top := sort.Search(n, func(k int) bool { return r[k] > 10 })
	t.PTop10 = float64(top) / float64(n)
}

// repeats holds what a repeated measurement of the catalogue is drawn from.
type repeats struct {
	threshold float64 // score from which a direction is named
	craters   []repeatCrater

	wExcess, wExtent, wPattern float64
}

// repeatCrater is a crater's score split into what a repeated measurement moves
// and what it does not.
type repeatCrater struct {
	fixed    float64
	findings []repeatFinding
}

// repeatFinding is one species there.
type repeatFinding struct {
	z, direction                float64 // observed; NaN where not tested
	extent                      float64 // compressed
	doubted                     bool    // an alarm speaks against the direction
	excessGiven, directionGiven *posterior
	*speciesCurves
}

// speciesCurves are what the catalogue of one species says of excess and
// direction.
type speciesCurves struct {
	excess, turn           worthCurve
	excessPrior, turnPrior *Prior
}

// repeats is what the craters that have a score are drawn from.
func (r *ranking) repeats(w RankWeights) *repeats {
	out := &repeats{threshold: namedFrom(r.in), craters: make([]repeatCrater, len(r.measured)), wExcess: w[ScoreExcess], wExtent: w[ScoreExtent], wPattern: w[ScorePattern]}
	curves := map[string]*speciesCurves{}
	for _, name := range speciesOf(r.in) {
		curves[name] = newSpeciesCurves(r.in, r.bare, name)
	}
	for k, i := range r.measured {
		c := &out.craters[k]
		c.fixed = r.targets[i].fixedScore()
		list := r.in[i].Findings
		for j := range list {
			if f := &list[j]; f.Status.Measured() && !math.IsNaN(f.ExcessP) {
				c.findings = append(c.findings, newRepeatFinding(f, curves[f.Species]))
			}
		}
	}
	return out
}

// fixedScore is the part of a score that a repeated measurement does not move.
func (t *Target) fixedScore() float64 {
	fixed := t.place()
	for _, part := range t.Components {
		switch part.Name {
		case ScoreExcess, ScoreExtent, ScorePattern:
			fixed -= part.Value
		}
	}
	return fixed
}

// namedFrom is the least score of a direction that was named.
func namedFrom(in []RankInput) float64 {
	least := ScoreOf(DefaultAlpha)
	for i := range in {
		for _, f := range in[i].Findings {
			if f.Pattern.Directional() {
				least = math.Min(least, ScoreOf(f.AsymmetryP))
			}
		}
	}
	return least
}

func speciesOf(in []RankInput) (names []string) {
	for i := range in {
		for _, f := range in[i].Findings {
			if !slices.Contains(names, f.Species) {
				names = append(names, f.Species)
			}
		}
	}
	return names
}

func newRepeatFinding(f *Finding, c *speciesCurves) repeatFinding {
	r := repeatFinding{z: ScoreOf(f.ExcessP), direction: ScoreOf(f.AsymmetryP), extent: compressed(orZero(f.Extent) - 1), doubted: f.Doubt() != "", speciesCurves: c}
	r.excessGiven, r.directionGiven = c.excessPrior.at(r.z), c.turnPrior.at(r.direction)
	return r
}

func newSpeciesCurves(in []RankInput, bare *Bare, name string) *speciesCurves {
	var z, d, fz, fd, sievedZ, sievedD []float64
	for i := range in {
		for k := range in[i].Findings {
			f := &in[i].Findings[k]
			excess, direction := f.Tests()
			switch {
			case f.Species != name:
			case f.Status.Measured():
				z, fz = append(z, ScoreOf(excess)), append(fz, orZero(f.LocalFDR))
				d, fd = append(d, ScoreOf(direction)), append(fd, orZero(f.DirectionFDR))
			case f.Status == StatusSieved && f.Quick != nil:
				sievedZ, sievedD = append(sievedZ, ScoreOf(excess)), append(sievedD, ScoreOf(direction))
			}
		}
	}
	if s := bare.speciesNumber(name); s >= 0 {
		bare.SieveTests(s, func(tests, _ [2]float64) {
			sievedZ, sievedD = append(sievedZ, ScoreOf(tests[0])), append(sievedD, ScoreOf(tests[1]))
		})
	}
	return &speciesCurves{newWorthCurve(z, fz), newWorthCurve(d, fd), FitPrior(append(sievedZ, z...)), FitPrior(append(sievedD, d...))}
}

// again is the score of a crater measured once more.
func (r *repeats) again(c *repeatCrater, rng *rand.Rand) float64 {
	best, excess, extent, pattern := math.Inf(-1), 0.0, 0.0, 0.0
	for k := range c.findings {
		f := &c.findings[k]
		z := again(f.excessGiven, f.z, rng)
		bin := scoreBinOf(z)
		if z > best {
			best, excess, extent = z, f.excess.worth[bin], f.excess.real[bin]*f.extent
		}
		if math.IsNaN(f.direction) || f.doubted {
			continue
		}
		if d := again(f.directionGiven, f.direction, rng); d >= r.threshold {
			pattern = math.Max(pattern, f.excess.real[bin]*f.turn.worth[scoreBinOf(d)])
		}
	}
	return c.fixed + r.wExcess*excess + r.wExtent*extent + r.wPattern*pattern
}

// worthCurve is the chance of being real and its product with the compressed
// score, by bins of the score.
type worthCurve struct{ real, worth []float64 }

// newWorthCurve takes the local rates at the scores of a catalogue, the mean in
// each bin, and draws straight lines between. Without any score all is real, as
// where the rate is not known.
func newWorthCurve(z, rate []float64) worthCurve {
	n := scoreBinOf(math.Inf(1)) + 1
	c := worthCurve{make([]float64, n), make([]float64, n)}
	lost, count := c.real, c.worth // filled as rates and counts first
	for i, v := range z {
		if !math.IsNaN(v) {
			b := scoreBinOf(v)
			lost[b] += rate[i]
			count[b]++
		}
	}
	last := -1
	for b := range n {
		if count[b] > 0 {
			lost[b] /= count[b]
			bridge(lost, last, b)
			last = b
		}
	}
	for b := last + 1; b < n && last >= 0; b++ {
		lost[b] = lost[last]
	}
	for b := range n {
		c.real[b] = 1 - lost[b]
		c.worth[b] = c.real[b] * compressed(binMiddle(b+binOf(priorLow)))
	}
	return c
}

// bridge fills the bins between two that are known; before the first all are as
// that one.
func bridge(v []float64, a, b int) {
	for k := a + 1; k < b; k++ {
		v[k] = v[b]
		if a >= 0 {
			t := float64(k-a) / float64(b-a)
			v[k] = (1-t)*v[a] + t*v[b]
		}
	}
}

// highestScore is the score from which on all count as one bin.
const highestScore = 40.0

// scoreBinOf numbers the bins from the lowest score.
func scoreBinOf(z float64) int {
	return int((math.Min(math.Max(z, priorLow), highestScore) - priorLow) / scoreBin)
}
