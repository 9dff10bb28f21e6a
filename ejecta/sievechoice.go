package ejecta

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// QuickP are the p of a quick look: one-sided of an excess, and of a direction, by
// the scale of the craters themselves, and Plain the same two by the noise model
// alone, which show whether that holds. NaN is no test.
type QuickP struct {
	Excess, Direction float64
	Plain             [2]float64
}

// NoQuickP is the value of a crater that was not looked at.
func NoQuickP() QuickP {
	nan := math.NaN()
	return QuickP{nan, nan, [2]float64{nan, nan}}
}

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
			s = scaleOfLooks(looks, func(k int) bool { return kind[k] == kind[i] }, scaleOfLooks(looks, func(int) bool { return true }, quickScale{1, 1, 1}))
			scales[kind[i]] = s
		}
		out[i] = s.p(q)
		plain := quickScale{1, 1, 1}.p(q)
		out[i].Plain = [2]float64{plain.Excess, plain.Direction}
	}
	return out
}

// quickScale is by what the statistics of a kind exceed those of noise.
type quickScale struct{ blanket, few, all float64 }

// minLooks is the number of looks below which a kind has no scale of its own, but
// that of all craters of the species.
const minLooks = 30

func scaleOfLooks(looks []*QuickLook, has func(int) bool, without quickScale) quickScale {
	var blanket, few, all []float64
	for i, q := range looks {
		if q != nil && has(i) {
			blanket = append(blanket, q.Blanket*q.Blanket)
			if q.All == q.All {
				few, all = append(few, q.Few), append(all, q.All)
			}
		}
	}
	return quickScale{inflation(blanket, 1, without.blanket), inflation(few, 2*sieveFew, without.few), inflation(all, 2*sieveOrders, without.all)}
}

// inflation is the median of some statistics over that of a chi-square, at least
// one; too few have that of others.
func inflation(x []float64, degrees, without float64) float64 {
	if len(x) < minLooks {
		return without
	}
	return math.Max(1, Quantile(x, 0.5)/distuv.ChiSquared{K: degrees}.Quantile(0.5))
}

// p are the tails of a look. Of the two tests of a direction the better counts,
// twice.
func (s quickScale) p(q *QuickLook) QuickP {
	few := distuv.ChiSquared{K: 2 * sieveFew}.Survival(q.Few / s.few)
	all := distuv.ChiSquared{K: 2 * sieveOrders}.Survival(q.All / s.all)
	return QuickP{Excess: upperTail(q.Blanket / math.Sqrt(s.blanket)), Direction: math.Min(1, 2*math.Min(few, all))}
}

// SieveKeep says which craters are to be measured: of those looked at the share
// with the smallest p, of any species and test, ties in the order of the catalogue;
// and all that were looked at on no species, of which the sieve knows nothing. p is
// by crater, then by species.
func SieveKeep(p []QuickP, species int, share float64) []bool {
	n := len(p) / species
	keep := make([]bool, n)
	var order []int
	least := make([]float64, n)
	for i := range n {
		least[i], keep[i] = 1, true
		for _, q := range p[i*species : (i+1)*species] {
			if q.Excess == q.Excess {
				least[i], keep[i] = math.Min(least[i], q.least()), false
			}
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
