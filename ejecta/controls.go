package ejecta

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"
)

// Controls is the comparison of young craters with old ones that are like them
// in all that is known but age.
type Controls struct {
	Rule       string // who is young and who old, in words
	Young, Old int    // craters that could be matched
	Pairs      []Match
	Balance    []Balance
	Species    []ControlSpecies
}

// ControlSpecies is the outcome for one species.
type ControlSpecies struct {
	Species, Unit string
	Differences   []PairDifference // pairs with an excess on both sides
	Paired        PairedMean
	Raw, RawSE    float64 // mean of all young less mean of all old, without matching
	Sentence      string
}

// PairDifference is the excess of the young crater less that of the old one.
type PairDifference struct {
	Match
	YoungExcess, YoungSE, OldExcess, OldSE float64
}

// Difference is the difference of a pair with its error: two craters far apart
// share no noise.
func (d PairDifference) Difference() (x, se float64) {
	return d.YoungExcess - d.OldExcess, math.Hypot(d.YoungSE, d.OldSE)
}

// PairedMean is the mean difference of pairs. The pairs are estimates whose true
// differences differ among themselves.
type PairedMean struct {
	Pairs          int
	Mean, SE       float64 // random effects
	Lo, Hi         float64 // 95 %
	P              float64 // two-sided, of no difference
	Scatter        float64 // of the true differences
	Middle         float64 // Hodges-Lehmann: the median of the means of all two pairs
	MidLo, MidHi   float64 // 95 %, by the signed ranks of Wilcoxon
	WilcoxonP      float64
	Richer, Poorer int // pairs whose young crater has more, less
}

// minPairs is the least number of pairs for an interval.
const minPairs = 5

// NewPairedMean takes the mean of paired differences by [RandomEffects], with the
// interval of Hartung & Knapp (2001), Statistics in Medicine 20, 3875 (from
// memory): the error is taken from the scatter of the pairs themselves,
//
//	se^2 = sum w (d - mean)^2 / ((k - 1) sum w),  w = 1/(v + tau^2),  t with k - 1 degrees,
//
// which holds its level with few pairs where the normal one does not. Beside it
// stands the estimate of Hodges & Lehmann (1963), Ann. Math. Stat. 34, 598, which
// a single wild pair does not move.
func NewPairedMean(list []Estimate) PairedMean {
	nan := math.NaN()
	m := PairedMean{Pairs: len(list), Mean: nan, SE: nan, Lo: nan, Hi: nan, P: nan, Scatter: nan, Middle: nan, MidLo: nan, MidHi: nan, WilcoxonP: nan}
	for _, d := range list {
		if d.Value > 0 {
			m.Richer++
		} else if d.Value < 0 {
			m.Poorer++
		}
	}
	if len(list) < minPairs {
		return m
	}
	m.randomEffects(list)
	m.signedRanks(list)
	return m
}

func (m *PairedMean) randomEffects(list []Estimate) {
	m.Mean, _, m.Scatter = RandomEffects(list)
	sum, w := 0.0, 0.0
	for _, d := range list {
		k := 1 / (d.Variance + m.Scatter*m.Scatter)
		sum += k * (d.Value - m.Mean) * (d.Value - m.Mean)
		w += k
	}
	free := float64(len(list) - 1)
	m.SE = math.Sqrt(sum / (free * w))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: free}
	half := t.Quantile(0.975) * m.SE
	m.Lo, m.Hi = m.Mean-half, m.Mean+half
	m.P = 2 * t.Survival(math.Abs(m.Mean)/m.SE)
}

// mostWalsh bounds the pairs of which all means of two are formed.
const mostWalsh = 2000

// signedRanks fills the Hodges-Lehmann estimate and its interval: the means of
// all two differences (Walsh averages) in order, cut at the ranks of Wilcoxon's
// statistic, whose exact distribution serves up to exactRanks pairs and the
// normal one beyond. With more than mostWalsh pairs it is left out.
func (m *PairedMean) signedRanks(list []Estimate) {
	n := len(list)
	if n > mostWalsh {
		return
	}
	walsh := make([]float64, 0, n*(n+1)/2)
	for i := range n {
		for j := range i + 1 {
			walsh = append(walsh, (list[i].Value+list[j].Value)/2)
		}
	}
	sort.Float64s(walsh)
	m.Middle = Median(walsh)
	cut := rankCut(n, 0.025)
	m.MidLo, m.MidHi = walsh[cut], walsh[len(walsh)-1-cut]
	positive := 0
	for _, v := range walsh {
		if v > 0 {
			positive++
		}
	}
	m.WilcoxonP = math.Min(1, 2*math.Min(rankTail(n, positive), rankTail(n, len(walsh)-positive)))
	if n < minRanks {
		m.MidLo, m.MidHi = math.NaN(), math.NaN() // no rank leaves so little outside
	}
}

// exactRanks is the number of pairs up to which the distribution of the signed
// ranks is counted; minRanks that from which an interval of 95 % exists.
const (
	exactRanks = 60
	minRanks   = 6
)

// rankTail is the chance that Wilcoxon's signed-rank statistic of n pairs is at
// most w when the pairs have no difference.
func rankTail(n, w int) float64 {
	if n > exactRanks {
		k := float64(n)
		mean, sd := k*(k+1)/4, math.Sqrt(k*(k+1)*(2*k+1)/24)
		return distuv.UnitNormal.CDF((float64(w) + 0.5 - mean) / sd)
	}
	sum := 0.0
	for _, c := range rankCounts(n)[:min(w, n*(n+1)/2)+1] {
		sum += c
	}
	return sum
}

// rankCounts is the distribution of the statistic: each rank 1..n is added or
// not with even chances.
func rankCounts(n int) []float64 {
	p := make([]float64, n*(n+1)/2+1)
	p[0] = 1
	for r := 1; r <= n; r++ {
		for w := len(p) - 1; w >= 0; w-- {
			p[w] /= 2
			if w >= r {
				p[w] += p[w-r] / 2
			}
		}
	}
	return p
}

// rankCut is the number of Walsh averages to leave out at each end: the most
// whose tail does not pass the level. None can be left out of fewer than minRanks.
func rankCut(n int, level float64) int {
	lo, hi := 0, n*(n+1)/4
	for lo < hi {
		mid := (lo + hi) / 2
		if rankTail(n, mid) > level {
			hi = mid
		} else {
			lo = mid + 1
		}
	}
	return max(lo-1, 0)
}

// usableExcess reports whether a finding has an excess to compare.
func usableExcess(f *Finding) bool {
	return f != nil && f.Status.Measured() && finite(f.Excess) && finite(f.ExcessSE) && f.ExcessSE > 0
}

// NewControlSpecies compares the pairs in one species. find gives the finding of
// a crater, nil without one; units are all that could be matched.
func NewControlSpecies(species, unit string, pairs []Match, units []Unit, find func(crater int) *Finding) ControlSpecies {
	c := ControlSpecies{Species: species, Unit: unit}
	var list []Estimate
	for _, p := range pairs {
		y, o := find(p.Young), find(p.Old)
		if !usableExcess(y) || !usableExcess(o) {
			continue
		}
		d := PairDifference{p, y.Excess, y.ExcessSE, o.Excess, o.ExcessSE}
		x, se := d.Difference()
		c.Differences, list = append(c.Differences, d), append(list, Estimate{x, se * se})
	}
	c.Paired = NewPairedMean(list)
	c.Raw, c.RawSE = rawDifference(units, find)
	c.Sentence = c.describe()
	return c
}

// rawDifference compares all young with all old craters, whatever else differs.
func rawDifference(units []Unit, find func(crater int) *Finding) (d, se float64) {
	var groups [2][]Estimate
	for _, u := range units {
		if f := find(u.Index); usableExcess(f) {
			g := 0
			if u.Young {
				g = 1
			}
			groups[g] = append(groups[g], Estimate{f.Excess, f.ExcessSE * f.ExcessSE})
		}
	}
	old, so, _ := RandomEffects(groups[0])
	young, sy, _ := RandomEffects(groups[1])
	return young - old, math.Hypot(so, sy)
}

// describe answers the question in a sentence.
func (c *ControlSpecies) describe() string {
	p := c.Paired
	if math.IsNaN(p.Mean) {
		return fmt.Sprintf("%s: pairs of a young crater and an old one like it: %d; to compare, %d are needed", c.Species, p.Pairs, minPairs)
	}
	what := "no richer and no poorer than"
	switch {
	case p.Lo > 0:
		what = "richer than"
	case p.Hi < 0:
		what = "poorer than"
	}
	amount := withUnit(fmt.Sprintf("%.3g (95 %%: %.3g to %.3g)", p.Mean, p.Lo, p.Hi), c.Unit)
	text := fmt.Sprintf("%s: the young craters are %s the old ones beside them, by %s of excess in %d pairs", c.Species, what, amount, p.Pairs)
	if what == "no richer and no poorer than" {
		text = fmt.Sprintf("%s: the young craters are not shown to be richer or poorer than the old ones beside them: %s of excess in %d pairs", c.Species, amount, p.Pairs)
	}
	return text
}
