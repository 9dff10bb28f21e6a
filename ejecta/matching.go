package ejecta

import (
	"math"
	"slices"
	"sort"
)

// Unit is a crater as matching sees it.
type Unit struct {
	Index int // of the crater
	Young bool
	X     []float64 // covariates; a crater with one missing (NaN) is not matched
}

// Match is a young crater and the old one beside it.
type Match struct {
	Young, Old int     // crater indices
	Distance   float64 // root mean square over the covariates, in standard deviations
}

// Balance is how far apart the young and the old are in one covariate: the
// difference of their means over the standard deviation before matching.
type Balance struct {
	Name          string
	Before, After float64
	Used          bool // false: it does not vary, or is not known
}

// DefaultCaliper is the largest difference of a pair in any covariate, in
// standard deviations.
const DefaultCaliper = 0.5

// matcher holds the units with their covariates in standard deviations.
type matcher struct {
	young, old []Unit
	sd         []float64 // 0: the covariate is left out
	used       int
	caliper    float64
}

// MatchNearest pairs young craters with old ones that are like them: nearest
// first over all pairs within the calipers, each crater once (nearest available
// matching: Rubin 1973, Biometrics 29, 159; within calipers: Rosenbaum & Rubin
// 1985, The American Statistician 39, 33; from memory). Covariates count in
// standard deviations, the root of the mean of the two groups' variances. Ties
// go by the order of the catalogue, so that the same craters give the same
// pairs whatever their order of work. names are those of the covariates.
func MatchNearest(units []Unit, names []string, caliper float64) ([]Match, []Balance) {
	units = slices.Clone(units)
	slices.SortFunc(units, func(a, b Unit) int { return a.Index - b.Index })
	m := newMatcher(units, len(names), caliper)
	pairs := m.take(m.candidates())
	return pairs, m.balances(names, pairs, units)
}

func (m *matcher) balances(names []string, pairs []Match, units []Unit) (out []Balance) {
	for k, name := range names {
		out = append(out, m.balance(k, name, pairs, units))
	}
	return out
}

func newMatcher(units []Unit, covariates int, caliper float64) *matcher {
	m := &matcher{sd: make([]float64, covariates), caliper: caliper}
	for k := range m.sd {
		m.sd[k] = groupSD(units, k)
		if m.sd[k] > 0 {
			m.used++
		}
	}
	for _, u := range units {
		switch {
		case !m.known(u):
		case u.Young:
			m.young = append(m.young, u)
		default:
			m.old = append(m.old, u)
		}
	}
	return m
}

// known reports whether a unit has all covariates that are used.
func (m *matcher) known(u Unit) bool {
	for k, sd := range m.sd {
		if sd > 0 && !finite(u.X[k]) {
			return false
		}
	}
	return true
}

// groupSD is the root of the mean of the variances of young and old; 0 when a
// covariate does not vary or is known of fewer than half of the craters.
func groupSD(units []Unit, k int) float64 {
	var young, old []float64
	for _, u := range units {
		switch {
		case !finite(u.X[k]):
		case u.Young:
			young = append(young, u.X[k])
		default:
			old = append(old, u.X[k])
		}
	}
	if 2*(len(young)+len(old)) < len(units) || len(young) < 2 || len(old) < 2 {
		return 0
	}
	return math.Sqrt((varianceOf(young) + varianceOf(old)) / 2)
}

func meanOf(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func varianceOf(x []float64) float64 {
	mean, sum := meanOf(x), 0.0
	for _, v := range x {
		sum += (v - mean) * (v - mean)
	}
	return sum / float64(len(x)-1)
}

// possible is a pair that may be taken, by place in the lists.
type possible struct {
	young, old int
	distance   float64
}

// mostCandidates bounds the old craters that are kept for a young one: the
// nearest, which are more than the other young ones can take away.
const mostCandidates = 50

// candidates lists the pairs within the calipers, for each young crater the
// nearest. The old ones are looked through by the first covariate in use.
func (m *matcher) candidates() (out []possible) {
	first := slices.IndexFunc(m.sd, func(sd float64) bool { return sd > 0 })
	if first < 0 {
		return nil
	}
	order := make([]int, len(m.old))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return m.old[order[a]].X[first] < m.old[order[b]].X[first] })
	room := m.caliper * m.sd[first]
	for y := range m.young {
		x := m.young[y].X[first]
		from := sort.Search(len(order), func(i int) bool { return m.old[order[i]].X[first] >= x-room })
		var near []possible
		for _, o := range order[from:] {
			if m.old[o].X[first] > x+room {
				break
			}
			if d, ok := m.distance(m.young[y], m.old[o]); ok {
				near = append(near, possible{y, o, d})
			}
		}
		m.sort(near)
		out = append(out, near[:min(len(near), max(mostCandidates, len(m.young)))]...)
	}
	return out
}

// distance is that of a pair; ok is false when a caliper is passed.
func (m *matcher) distance(a, b Unit) (d float64, ok bool) {
	for k, sd := range m.sd {
		if sd > 0 {
			x := (a.X[k] - b.X[k]) / sd
			if math.Abs(x) > m.caliper {
				return 0, false
			}
			d += x * x
		}
	}
	return math.Sqrt(d / float64(m.used)), true
}

// sort puts candidates nearest first, ties by the order of the catalogue.
func (m *matcher) sort(list []possible) {
	sort.Slice(list, func(i, j int) bool {
		a, b := list[i], list[j]
		if a.distance != b.distance {
			return a.distance < b.distance
		}
		if m.young[a.young].Index != m.young[b.young].Index {
			return m.young[a.young].Index < m.young[b.young].Index
		}
		return m.old[a.old].Index < m.old[b.old].Index
	})
}

// take goes through the candidates, nearest first, and uses each crater once.
func (m *matcher) take(list []possible) (pairs []Match) {
	m.sort(list)
	young, old := make([]bool, len(m.young)), make([]bool, len(m.old))
	for _, c := range list {
		if young[c.young] || old[c.old] {
			continue
		}
		young[c.young], old[c.old] = true, true
		pairs = append(pairs, Match{m.young[c.young].Index, m.old[c.old].Index, c.distance})
	}
	slices.SortFunc(pairs, func(a, b Match) int { return a.Young - b.Young })
	return pairs
}

// balance compares the groups in one covariate, before and after.
func (m *matcher) balance(k int, name string, pairs []Match, units []Unit) Balance {
	b := Balance{Name: name, Before: math.NaN(), After: math.NaN(), Used: m.sd[k] > 0}
	if !b.Used {
		return b
	}
	value := map[int]float64{}
	var groups [2][]float64
	for _, u := range units {
		value[u.Index] = u.X[k]
		if g := 0; finite(u.X[k]) {
			if u.Young {
				g = 1
			}
			groups[g] = append(groups[g], u.X[k])
		}
	}
	b.Before = (meanOf(groups[1]) - meanOf(groups[0])) / m.sd[k]
	var diff []float64
	for _, p := range pairs {
		diff = append(diff, value[p.Young]-value[p.Old])
	}
	if len(diff) > 0 {
		b.After = meanOf(diff) / m.sd[k]
	}
	return b
}
