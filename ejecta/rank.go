package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
)

// RankWeights are the weights of the components of a target's score by name.
type RankWeights map[string]float64

// Score components in the order in which they are reported.
const (
	ScoreExcess   = "excess"
	ScorePattern  = "pattern"
	ScoreExtent   = "extent"
	ScoreContrast = "contrast"
	ScoreFresh    = "freshness"
	ScoreAlarms   = "alarms"
)

// DefaultWeights are the weights that Rank uses for names not given.
func DefaultWeights() RankWeights {
	return RankWeights{ScoreExcess: 1, ScorePattern: 0.5, ScoreExtent: 0.5, ScoreContrast: 0.5, ScoreFresh: 0.25, ScoreAlarms: 1}
}

// ComponentNames lists the components in report order.
func ComponentNames() []string {
	return []string{ScoreExcess, ScorePattern, ScoreExtent, ScoreContrast, ScoreFresh, ScoreAlarms}
}

// RankInput is one crater as the ranking sees it.
type RankInput struct {
	CraterIndex int
	Findings    []Finding
	Contrasts   []Contrast
	Freshness   float64 // NaN when the catalogue gives none
}

// rankDraws is the number of noise draws behind the rank intervals.
const rankDraws = 400

// Rank orders the craters by score, the weighted sum of
//
//	excess     (1 - local fdr) times the largest excess over its error, compressed
//	pattern    score of the strongest direction, compressed the same way, times
//	           the chances that both excess and direction are real; one that an
//	           alarm puts down to the ground does not count
//	extent     radii beyond the rim where the excess is seen, compressed, times the chance
//	           that it is real
//	contrast   1 - q of the strongest species contrast
//	freshness  as the catalogue gives it
//	alarms     minus one half for each raised alarm but those that speak of the
//	           reading alone: a background not reached, which understates the
//	           excess, and a gap that fits as well
//
// Rank intervals come from drawing the excess of every crater again within its
// error, with a seeded generator. Ties keep catalogue order.
func Rank(in []RankInput, weights RankWeights, seed uint64) []Target {
	w := DefaultWeights()
	for k, v := range weights {
		w[k] = v
	}
	targets := make([]Target, len(in))
	for i := range in {
		targets[i] = score(&in[i], w, 0)
	}
	stability(in, targets, w, seed)
	sort.SliceStable(targets, func(i, j int) bool { return targets[i].Score > targets[j].Score })
	for i := range targets {
		targets[i].Rank = i + 1
	}
	return targets
}

// score sums the components; shift is added to the best excess score.
func score(in *RankInput, w RankWeights, shift float64) Target {
	t := Target{CraterIndex: in.CraterIndex}
	best := bestFinding(in.Findings)
	values := map[string]float64{}
	if best != nil {
		z := math.Max(ScoreOf(best.ExcessP)+shift, 0)
		values[ScoreExcess] = (1 - orZero(best.LocalFDR)) * compressed(z)
		values[ScoreExtent] = (1 - orZero(best.LocalFDR)) * compressed(orZero(best.Extent)-1)
	}
	alarms := 0
	for i := range in.Findings {
		f := &in.Findings[i]
		if f.Pattern.Directional() && f.Doubt() == "" {
			real := (1 - orZero(f.LocalFDR)) * (1 - orZero(f.DirectionFDR))
			values[ScorePattern] = math.Max(values[ScorePattern], real*compressed(ScoreOf(f.AsymmetryP)))
		}
		alarms += loweringAlarms(f)
	}
	for _, c := range in.Contrasts {
		if c.Q < 0.1 {
			values[ScoreContrast] = math.Max(values[ScoreContrast], 1-c.Q)
		}
	}
	values[ScoreFresh] = orZero(in.Freshness)
	values[ScoreAlarms] = -0.5 * float64(alarms)
	for _, name := range ComponentNames() {
		v := w[name] * values[name]
		t.Components = append(t.Components, Component{name, v})
		t.Score += v
	}
	t.Why = why(best, t.Components)
	t.Verdict = verdict(in, best)
	return t
}

// loweringAlarms is the number of raised alarms that speak against a finding.
func loweringAlarms(f *Finding) (n int) {
	for _, name := range f.RaisedAlarms() {
		if name != backgroundAlarmName && name != gapAlarmName {
			n++
		}
	}
	return n
}

// verdict joins what was found in each species; the best one speaks when
// nothing was.
func verdict(in *RankInput, best *Finding) string {
	var said []string
	for _, f := range in.Findings {
		if f.Claimed || f.Pattern.Directional() {
			said = append(said, f.Verdict)
		}
	}
	for _, c := range in.Contrasts {
		if c.Claimed && c.Q < 0.1 {
			said = append(said, fmt.Sprintf("%s and %s differ in shape (p %s)", c.SpeciesA, c.SpeciesB, probability(c.P)))
		}
	}
	switch {
	case len(said) > 0:
		return strings.Join(said, "; ")
	case best != nil:
		return best.Verdict
	case len(in.Findings) > 0:
		return in.Findings[0].Verdict
	}
	return ""
}

// compressed keeps one huge score from outweighing everything else.
func compressed(z float64) float64 { return math.Log1p(math.Max(z, 0)) }

func orZero(x float64) float64 {
	if math.IsNaN(x) {
		return 0
	}
	return x
}

func bestFinding(list []Finding) *Finding {
	var best *Finding
	for i := range list {
		f := &list[i]
		if f.Status.Measured() && (best == nil || f.ExcessP < best.ExcessP) {
			best = f
		}
	}
	return best
}

func why(best *Finding, parts []Component) string {
	if best == nil {
		return "not measured"
	}
	text := fmt.Sprintf("%s excess at %.1f sigma", best.Species, ScoreOf(best.ExcessP))
	for _, p := range parts[1:] {
		switch {
		case p.Value > 0 && p.Name == ScorePattern:
			text += ", a direction"
		case p.Value > 0 && p.Name == ScoreExtent:
			text += fmt.Sprintf(", seen to %.1f radii", best.Extent)
		case p.Value > 0 && p.Name == ScoreContrast:
			text += ", species differ in shape"
		case p.Value > 0 && p.Name == ScoreFresh:
			text += ", fresh"
		case p.Value < 0:
			text += ", lowered by alarms"
		}
	}
	return text
}

// stability fills rank intervals (5 to 95 %) and the chance of the top ten.
func stability(in []RankInput, targets []Target, w RankWeights, seed uint64) {
	n := len(in)
	if n == 0 {
		return
	}
	draws := rankDraws
	if n > 20000 {
		draws = 100
	}
	rng := rand.New(rand.NewPCG(seed, 0x5a))
	ranks := make([][]int32, n)
	scores, order := make([]float64, n), make([]int, n)
	base := drawBases(in, targets, w)
	for range draws {
		for i := range scores {
			scores[i] = base[i].draw(rng)
			order[i] = i
		}
		sort.SliceStable(order, func(a, b int) bool { return scores[order[a]] > scores[order[b]] })
		for r, i := range order {
			ranks[i] = append(ranks[i], int32(r+1))
		}
	}
	for i := range targets {
		r := ranks[i]
		sort.Slice(r, func(a, b int) bool { return r[a] < r[b] })
		targets[i].RankLo, targets[i].RankHi = int(r[draws/20]), int(r[draws-1-draws/20])
		top := sort.Search(len(r), func(k int) bool { return r[k] > 10 })
		targets[i].PTop10 = float64(top) / float64(draws)
	}
}

// drawBase is a crater's score split into what a new draw of the noise moves
// and what it does not.
type drawBase struct{ fixed, z, factor float64 }

func drawBases(in []RankInput, targets []Target, w RankWeights) []drawBase {
	out := make([]drawBase, len(in))
	for i := range in {
		out[i] = newDrawBase(&in[i], targets[i].Score, w[ScoreExcess])
	}
	return out
}

func newDrawBase(in *RankInput, score, weight float64) drawBase {
	best := bestFinding(in.Findings)
	if best == nil {
		return drawBase{fixed: score}
	}
	b := drawBase{z: ScoreOf(best.ExcessP), factor: weight * (1 - orZero(best.LocalFDR))}
	b.fixed = score - b.factor*compressed(b.z)
	return b
}

func (b drawBase) draw(rng *rand.Rand) float64 {
	return b.fixed + b.factor*compressed(b.z+rng.NormFloat64())
}
