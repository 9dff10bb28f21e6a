package ejecta

import (
	"math"
	"math/rand/v2"
	"sort"
)

// Winner's curse: the largest of many scores is large by its noise too. Given
// what the catalogue says of the true scores mu, each z ~ N(mu, 1) is drawn back
// by Tweedie's formula
//
//	E(mu | z) = z + d/dz log f(z)
//
// (Robbins 1956; Efron 2011, J. Am. Stat. Assoc. 106, 1602), where f is the
// density of the scores of the catalogue. f is that of the distribution of mu
// that makes the scores most likely, on a grid, by the EM steps of Laird (1978,
// J. Am. Stat. Assoc. 73, 805); Koenker & Mizera (2014, J. Am. Stat. Assoc. 109,
// 674) recommend it for this use.

// Prior is the distribution of true scores in a catalogue.
type Prior struct {
	mu, w []float64
	rows  map[int]*posterior // by bin of z
}

// posterior is the distribution of mu given z in one bin, as equally likely
// values.
type posterior [posteriorSize]float32

const (
	priorLow, priorHigh = -4.0, 12.0 // beyond them scores stay as they are
	priorStep           = 0.2
	priorSteps          = 400 // of EM; fewer leave the distribution smoother
	scoreBin            = 0.05
	minPrior            = 20 // scores below which nothing is drawn back

	posteriorSize = 256
)

// FitPrior fits the distribution of true scores; nil when there are too few.
// NaN scores are left out.
func FitPrior(z []float64) *Prior {
	counts, n := map[int]float64{}, 0
	for _, v := range z {
		if !math.IsNaN(v) {
			n++
			if v < priorHigh {
				counts[binOf(math.Max(v, priorLow))]++
			}
		}
	}
	if n < minPrior || len(counts) == 0 {
		return nil
	}
	p := &Prior{rows: map[int]*posterior{}}
	steps := int((priorHigh - priorLow) / priorStep)
	for k := range steps + 1 {
		p.mu = append(p.mu, priorLow+priorStep*float64(k))
		p.w = append(p.w, 1/float64(steps+1))
	}
	p.climb(counts)
	return p
}

func binOf(z float64) int { return int(math.Floor(z / scoreBin)) }

func binMiddle(b int) float64 { return (float64(b) + 0.5) * scoreBin }

// climb does the EM steps on binned scores, in the order of the bins.
func (p *Prior) climb(counts map[int]float64) {
	bins := make([]int, 0, len(counts))
	total := 0.0
	for b, c := range counts {
		bins = append(bins, b)
		total += c
	}
	sort.Ints(bins)
	density := make([][]float64, len(bins))
	for i, b := range bins {
		density[i] = p.densities(binMiddle(b))
	}
	next := make([]float64, len(p.w))
	for range priorSteps {
		clear(next)
		for i, b := range bins {
			part := counts[b] / dot(p.w, density[i])
			for k, d := range density[i] {
				next[k] += part * p.w[k] * d
			}
		}
		for k := range next {
			p.w[k] = next[k] / total
		}
	}
}

// densities are those of a score z under each true score, up to a factor.
func (p *Prior) densities(z float64) []float64 {
	out := make([]float64, len(p.mu))
	for k, mu := range p.mu {
		out[k] = math.Exp(-(z - mu) * (z - mu) / 2)
	}
	return out
}

// Mean is the expected true score given an observed one. Scores beyond the grid
// stay as they are, and so do all under a nil prior.
func (p *Prior) Mean(z float64) float64 {
	if p == nil || !(z > priorLow && z < priorHigh) {
		return z
	}
	sum, f := 0.0, 0.0
	for k, d := range p.densities(z) {
		sum += p.w[k] * d * p.mu[k]
		f += p.w[k] * d
	}
	return sum / f
}

// at is the distribution of the true score for the bin of z; nil beyond the
// grid.
func (p *Prior) at(z float64) *posterior {
	if p == nil || !(z > priorLow && z < priorHigh) {
		return nil
	}
	b := binOf(z)
	if row := p.rows[b]; row != nil {
		return row
	}
	row := newPosterior(p.mu, p.w, p.densities(binMiddle(b)))
	p.rows[b] = row
	return row
}

// newPosterior takes the quantiles of the products of weights and densities.
func newPosterior(mu, w, density []float64) *posterior {
	row, total := &posterior{}, dot(w, density)
	k, sum := 0, w[0]*density[0]
	for i := range row {
		for (float64(i)+0.5)/posteriorSize*total > sum && k+1 < len(mu) {
			k++
			sum += w[k] * density[k]
		}
		row[i] = float32(mu[k])
	}
	return row
}

// again draws the score of a repeated measurement: a true score given the
// observed one, and new noise. Without a prior the observed one counts as true.
func again(q *posterior, z float64, rng *rand.Rand) float64 {
	if q != nil {
		z = float64(q[rng.Uint64()%posteriorSize])
	}
	return z + rng.NormFloat64()
}

// ExcessShrunk is the excess drawn back by what the catalogue says of true
// scores; NaN where that is not known.
func (f *Finding) ExcessShrunk() float64 {
	z := ScoreOf(f.ExcessP)
	if !(z > 0) {
		return math.NaN()
	}
	return f.Excess * f.TrueScore / z
}
