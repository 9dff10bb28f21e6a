package ejecta

import (
	"cmp"
	"math"
	"slices"
)

// RankBeside is [Rank] for a catalogue that has bare craters too, with the freshness
// of each of these, by their number in the list. They come last, in catalogue
// order, with the others that were not measured. The craters of in are in
// catalogue order.
func RankBeside(in []RankInput, bare *Bare, freshness []float64, weights RankWeights, seed uint64) []Target {
	w := DefaultWeights()
	for k, v := range weights {
		w[k] = v
	}
	targets := make([]Target, len(in), len(in)+bare.Len())
	for i := range in {
		targets[i] = score(&in[i], w)
	}
	r := ranking{in: in, targets: targets, bare: bare}
	r.split()
	r.stability(w, seed)
	return r.ordered(newBareTargets(bare, freshness, w))
}

// ranking is craters and their targets while they are ranked.
type ranking struct {
	in       []RankInput
	targets  []Target // of in
	bare     *Bare
	measured []int // of in, what has a score
	others   []int
}

// split tells the craters that have a score from those that cannot be ranked.
func (r *ranking) split() {
	for i := range r.targets {
		if math.IsInf(r.targets[i].place(), -1) {
			r.others = append(r.others, i)
		} else {
			r.measured = append(r.measured, i)
		}
	}
}

// ordered are all targets, the best first, ties and those without a score in
// catalogue order.
func (r *ranking) ordered(bare bareTargets) []Target {
	slices.SortStableFunc(r.measured, func(a, b int) int { return cmp.Compare(r.targets[b].Score, r.targets[a].Score) })
	out := make([]Target, 0, len(r.targets)+bare.list.Len())
	for _, i := range r.measured {
		out = append(out, r.targets[i])
	}
	for _, i := range r.others {
		out = append(bare.before(r.targets[i].CraterIndex, out), r.targets[i])
	}
	out = bare.before(math.MaxInt, out)
	settlePlaces(out, len(r.measured))
	return out
}

// settlePlaces numbers the targets and adds up the false ones. Behind the measured
// ones a place is certain.
func settlePlaces(targets []Target, measured int) {
	lost := 0.0
	for i := range targets {
		t := &targets[i]
		t.Rank = i + 1
		lost += orZero(1 - t.PReal)
		t.ExpectedFalse = lost
		if i >= measured {
			t.RankLo, t.RankHi, t.PTop10 = t.Rank, t.Rank, float64(counted(t.Rank <= 10))
		}
	}
}

// bareTargets makes the targets of bare craters one after the other; those of one
// freshness share what they hold.
type bareTargets struct {
	list      *Bare
	freshness []float64
	weights   RankWeights
	made      map[uint64]Target
	next      int
}

func newBareTargets(bare *Bare, freshness []float64, w RankWeights) bareTargets {
	return bareTargets{list: bare, freshness: freshness, weights: w, made: map[uint64]Target{}}
}

// mostMade bounds the targets that are remembered.
const mostMade = 1024

// before appends those of the craters in front of one.
func (b *bareTargets) before(crater int, out []Target) []Target {
	for ; b.next < b.list.Len() && b.list.Crater(b.next) < crater; b.next++ {
		t := b.target(b.freshness[b.next])
		t.CraterIndex, t.Verdict = b.list.Crater(b.next), b.list.verdict(b.next)
		out = append(out, t)
	}
	return out
}

// target is one without findings.
func (b *bareTargets) target(freshness float64) Target {
	key := math.Float64bits(freshness)
	t, ok := b.made[key]
	if !ok {
		t = score(&RankInput{Freshness: freshness}, b.weights)
		if len(b.made) < mostMade {
			b.made[key] = t
		}
	}
	return t
}

// verdict is what a target says of crater k: the sentence of its first species.
func (b *Bare) verdict(k int) string {
	if v := b.reasons[b.list[k].reason].verdicts; len(v) > 0 {
		return v[0]
	}
	return ""
}
