package ejecta

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// QuickP are the p of a quick look: one-sided of an excess, and of a direction.
// NaN is no look.
type QuickP struct{ Excess, Direction float64 }

// NoQuickP is the value of a crater that was not looked at.
func NoQuickP() QuickP { return QuickP{math.NaN(), math.NaN()} }

// least is the smaller of the two.
func (p QuickP) least() float64 {
	if p.Direction < p.Excess {
		return p.Direction
	}
	return p.Excess
}

// QuickPs turns the looks of one species into p. The scale of the statistics is
// that of the craters themselves, by kind (size and pixel level): their median is
// set to the one of noise, unless it lies below, as in the genomic control of
// Devlin & Roeder (1999), Biometrics 55, 997 (from memory). Most craters show
// nothing, and ground that is uneven everywhere makes no crater stand out.
// A nil look stays without p.
func QuickPs(looks []*QuickLook, kind []int) []QuickP {
	scales := map[int]quickScale{}
	out := make([]QuickP, len(looks))
	for i, q := range looks {
		if out[i] = NoQuickP(); q == nil {
			continue
		}
		s, ok := scales[kind[i]]
		if !ok {
			s = scaleOfLooks(looks, kind, kind[i])
			scales[kind[i]] = s
		}
		out[i] = s.p(q)
	}
	return out
}

// quickScale is by what the statistics of a kind exceed those of noise.
type quickScale struct{ blanket, few, all float64 }

// minLooks is the number of looks below which a kind keeps the scale of noise.
const minLooks = 30

func scaleOfLooks(looks []*QuickLook, kind []int, own int) quickScale {
	var blanket, few, all []float64
	for i, q := range looks {
		if q != nil && kind[i] == own {
			blanket, few, all = append(blanket, q.Blanket*q.Blanket), append(few, q.Few), append(all, q.All)
		}
	}
	return quickScale{inflation(blanket, 1), inflation(few, 2*sieveFew), inflation(all, 2*sieveOrders)}
}

// inflation is the median of some statistics over that of a chi-square, at least
// one.
func inflation(x []float64, degrees float64) float64 {
	if len(x) < minLooks {
		return 1
	}
	return math.Max(1, Quantile(x, 0.5)/distuv.ChiSquared{K: degrees}.Quantile(0.5))
}

// p are the tails of a look. Of the two tests of a direction the better counts,
// twice.
func (s quickScale) p(q *QuickLook) QuickP {
	few := distuv.ChiSquared{K: 2 * sieveFew}.Survival(q.Few / s.few)
	all := distuv.ChiSquared{K: 2 * sieveOrders}.Survival(q.All / s.all)
	return QuickP{upperTail(q.Blanket / math.Sqrt(s.blanket)), math.Min(1, 2*math.Min(few, all))}
}

// SieveKeep says which craters are to be measured: of those looked at on every
// species the share with the smallest p, of any species and test, ties in the order
// of the catalogue; and all others, of which the sieve knows nothing. p is by
// crater, then by species.
func SieveKeep(p []QuickP, species int, share float64) []bool {
	n := len(p) / species
	keep := make([]bool, n)
	var order []int
	least := make([]float64, n)
	for i := range n {
		least[i] = 1
		for _, q := range p[i*species : (i+1)*species] {
			keep[i] = keep[i] || math.IsNaN(q.Excess)
			least[i] = math.Min(least[i], q.least())
		}
		if !keep[i] {
			order = append(order, i)
		}
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(least[a], least[b]) })
	for _, i := range order[:int(math.Ceil(share*float64(len(order))))] {
		keep[i] = true
	}
	return keep
}
