package ejecta

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// Member is a crater of a population, with what it is grouped by. NaN and an
// empty class stand for what the catalogue does not give.
type Member struct {
	Radius    float64 // metres
	Latitude  float64 // degrees
	Age       float64
	Freshness float64
	Class     string
	Finding   *Finding // of one species
}

// PopulationGroup is the craters of one species that are alike in one property.
type PopulationGroup struct {
	Property string // size, excavation_depth, latitude, age, freshness or class
	Unit     string
	Class    string  // of property class
	Lo, Hi   float64 // of the members, NaN for classes
	Middle   float64 // median

	N             int
	Rich          float64 // expected number with a real excess, the sum of one less the local rate
	RichLo        float64 // 95 % interval of its share
	RichHi        float64
	Claimed       int
	MeanExcess    float64
	MeanExcessSE  float64 // from the scatter between the craters
	MedianExcess  float64
	RankCorr      float64 // Spearman's, of excess and property over all groups; NaN for classes
	RankCorrP     float64 // two-sided
	AlarmedShare  float64 // with a raised alarm; they are not left out
	DirectedShare float64 // with a direction that has a name
}

// ExcavationDepth is the depth from which a crater's ejecta come at most: a
// tenth of the diameter of the transient crater, which for simple craters is
// 0.84 of the final one (Melosh 1989, Impact Cratering; both from memory). The
// transient crater of a complex one is smaller; that is not taken into account.
func ExcavationDepth(radius float64) float64 { return 0.1 * 0.84 * 2 * radius }

// Groups of a population are fifths, fewer where they would hold too few.
const (
	populationGroups = 5
	leastGroup       = 5
)

// Population groups the measured members by every property that is known of at
// least two groups of them.
func Population(all []Member) (out []PopulationGroup) {
	var list []Member
	for _, m := range all {
		if m.Finding.Status.Measured() && finite(m.Finding.Excess) {
			list = append(list, m)
		}
	}
	for _, p := range []struct {
		name, unit string
		value      func(*Member) float64
	}{
		{"size", "m", func(m *Member) float64 { return 2 * m.Radius }},
		{"excavation_depth", "m", func(m *Member) float64 { return ExcavationDepth(m.Radius) }},
		{"latitude", "deg", func(m *Member) float64 { return math.Abs(m.Latitude) }},
		{"age", "as in the catalogue", func(m *Member) float64 { return m.Age }},
		{"freshness", "as in the catalogue", func(m *Member) float64 { return m.Freshness }},
	} {
		out = append(out, populationBy(list, p.name, p.unit, p.value)...)
	}
	return append(out, populationByClass(list)...)
}

// populationBy groups by amount: equal numbers in the order of the amount, equal
// amounts together.
func populationBy(all []Member, name, unit string, value func(*Member) float64) (out []PopulationGroup) {
	var list []Member
	for _, m := range all {
		if finite(value(&m)) {
			list = append(list, m)
		}
	}
	slices.SortStableFunc(list, func(a, b Member) int { return cmp.Compare(value(&a), value(&b)) })
	groups := min(populationGroups, len(list)/leastGroup)
	var x, excess []float64
	for i := range list {
		x, excess = append(x, value(&list[i])), append(excess, list[i].Finding.Excess)
	}
	for lo, k := 0, 1; k <= groups && lo < len(list); k++ {
		hi := max(lo, k*len(list)/groups)
		for hi < len(list) && hi > lo && x[hi] == x[hi-1] {
			hi++
		}
		if hi == lo {
			continue
		}
		g := newGroup(list[lo:hi])
		g.Property, g.Unit, g.Lo, g.Hi, g.Middle = name, unit, x[lo], x[hi-1], middle(x[lo:hi])
		out = append(out, g)
		lo = hi
	}
	if len(out) < 2 {
		return nil
	}
	rho, p := RankCorrelation(x, excess)
	for i := range out {
		out[i].RankCorr, out[i].RankCorrP = rho, p
	}
	return out
}

// populationByClass groups by the words of the catalogue, in their order.
func populationByClass(all []Member) (out []PopulationGroup) {
	by := map[string][]Member{}
	for _, m := range all {
		if m.Class != "" {
			by[m.Class] = append(by[m.Class], m)
		}
	}
	var names []string
	for name := range by {
		names = append(names, name)
	}
	slices.Sort(names)
	if len(names) < 2 {
		return nil
	}
	nan := math.NaN()
	for _, name := range names {
		g := newGroup(by[name])
		g.Property, g.Class, g.Lo, g.Hi, g.Middle, g.RankCorr, g.RankCorrP = "class", name, nan, nan, nan, nan, nan
		out = append(out, g)
	}
	return out
}

// newGroup counts and averages.
func newGroup(list []Member) PopulationGroup {
	g := PopulationGroup{N: len(list)}
	var excess []float64
	for _, m := range list {
		f := m.Finding
		excess = append(excess, f.Excess)
		g.Rich += 1 - orZero(f.LocalFDR)
		if f.Claimed {
			g.Claimed++
		}
		if len(f.RaisedAlarms()) > 0 {
			g.AlarmedShare += 1 / float64(g.N)
		}
		if f.Pattern.Directional() {
			g.DirectedShare += 1 / float64(g.N)
		}
	}
	g.RichLo, g.RichHi = Wilson(int(math.Round(g.Rich)), g.N)
	g.MeanExcess, g.MedianExcess = meanOf(excess), middle(slices.Sorted(slices.Values(excess)))
	g.MeanExcessSE = math.Sqrt(varianceOf(excess) / float64(g.N))
	return g
}

// middle is the median of sorted values.
func middle(x []float64) float64 { return (x[(len(x)-1)/2] + x[len(x)/2]) / 2 }

// RankCorrelation is Spearman's coefficient with mean ranks for ties, and its
// two-sided p by Student's t with n-2 degrees of freedom (Zar 1972, J. Am. Stat.
// Assoc. 67, 578). Fewer than four pairs, or no spread, give NaN.
func RankCorrelation(x, y []float64) (rho, p float64) {
	rx, ry := meanRanks(x), meanRanks(y)
	n := float64(len(x))
	mid := (n + 1) / 2
	sxy, sxx, syy := 0.0, 0.0, 0.0
	for i := range rx {
		sxy += (rx[i] - mid) * (ry[i] - mid)
		sxx += (rx[i] - mid) * (rx[i] - mid)
		syy += (ry[i] - mid) * (ry[i] - mid)
	}
	if n < 4 || !(sxx > 0) || !(syy > 0) {
		return math.NaN(), math.NaN()
	}
	rho = sxy / math.Sqrt(sxx*syy)
	return rho, studentTail(rho*math.Sqrt((n-2)/math.Max(1-rho*rho, 1e-300)), n-2)
}

// meanRanks are ranks from 1, the mean of those that equal values share.
func meanRanks(x []float64) []float64 {
	order := make([]int, len(x))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
	out := make([]float64, len(x))
	for i := 0; i < len(order); {
		j := i
		for j < len(order) && x[order[j]] == x[order[i]] {
			j++
		}
		for _, k := range order[i:j] {
			out[k] = float64(i+j+1) / 2
		}
		i = j
	}
	return out
}

// studentTail is the two-sided p of Student's t.
func studentTail(t, dof float64) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: dof}.Survival(math.Abs(t))
}
