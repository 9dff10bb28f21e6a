package ejecta

import (
	"math"

	"gonum.org/v1/gonum/stat"
)

// Noise is the noise of one species at one pixel level: the two-dimensional
// correlation of the map, averaged over pairs of squares, and the local
// variance.
type Noise struct {
	MaxLag int
	// Anisotropy is C(0, 2L)/C(2L, 0) with L the correlation length: above one
	// the noise runs along the columns.
	Anisotropy float64
	// Length is the lag in pixels where the mean correlation falls to 1/e.
	Length float64
	// Spread is the ratio of the upper to the lower quartile of the local
	// variance, after its sampling scatter: 1 for uniform noise.
	Spread float64

	lags  *lagTables
	mean  float64 // typical variance
	sites []noiseLevel
	pad   int
}

// Correlation returns the correlation of two pixels (dx, dy) apart.
func (n *Noise) Correlation(dx, dy int) float64 { return n.lags.at(dx, dy) }

// newNoise tabulates a correlation given on a pad x pad torus.
func newNoise(c []float64, pad, maxLag int) *Noise {
	n := &Noise{MaxLag: maxLag, pad: pad, mean: 1, Spread: 1}
	n.lags = newLagTables(c, pad, min(maxLag+1<<(maxBlockLevel+1), pad/2-1))
	n.describe()
	return n
}

// describe derives correlation length and anisotropy.
func (n *Noise) describe() {
	n.Length = float64(n.MaxLag)
	for d := 1; d <= n.MaxLag; d++ {
		m := 0.5 * (n.Correlation(d, 0) + n.Correlation(0, d))
		if m < math.Exp(-1) {
			n.Length = float64(d)
			break
		}
	}
	d := min(max(int(2*n.Length), 3), n.MaxLag)
	along, across := n.Correlation(0, d), n.Correlation(d, 0)
	n.Anisotropy = (0.05 + math.Max(along, 0)) / (0.05 + math.Max(across, 0))
}

// setLevels keeps the local variances, shrunk towards their mean by the share
// of their scatter that sampling alone explains.
func (n *Noise) setLevels(sites []noiseLevel) {
	logs := make([]float64, len(sites))
	sampling, total, weight := 0.0, 0.0, 0.0
	perPixel := n.relativeVariance()
	for i, s := range sites {
		logs[i] = math.Log(s.variance)
		sampling += perPixel / s.pixels / float64(len(sites))
		total += s.variance * s.pixels
		weight += s.pixels
	}
	n.mean = total / weight
	mean, keep := believed(logs, sampling)
	for i := range sites {
		sites[i].variance = n.mean
		if keep > 0 {
			sites[i].variance = math.Exp(mean + keep*(logs[i]-mean))
		}
	}
	n.sites = sites
	n.Spread = spreadOf(sites)
}

// believed is the mean of some log variances and the share of their scatter
// that is not sampling; zero when most of it is, for then the noise cannot be
// told from uniform.
func believed(logs []float64, sampling float64) (mean, keep float64) {
	if len(logs) <= 3 {
		return logs[0], 0
	}
	mean, scatter := stat.MeanVariance(logs, nil)
	if keep = 1 - sampling/scatter; !(keep >= 0.5) {
		keep = 0
	}
	return mean, keep
}

func spreadOf(sites []noiseLevel) float64 {
	v := make([]float64, len(sites))
	for i, s := range sites {
		v[i] = s.variance
	}
	return Quantile(v, 0.75) / Quantile(v, 0.25)
}

// relativeVariance is the variance of the logarithm of a sample variance of n
// correlated pixels, times n: 2 sum C^2 for a Gaussian field.
func (n *Noise) relativeVariance() float64 {
	sum := 0.0
	reach := min(int(5*n.Length)+8, n.MaxLag)
	for dy := -reach; dy <= reach; dy++ {
		for dx := -reach; dx <= reach; dx++ {
			c := n.Correlation(dx, dy)
			sum += c * c
		}
	}
	return 2 * sum
}

// Variance returns the pixel variance at a place of the map, in pixels of
// this level: inverse-square-distance mean of the windows' levels.
func (n *Noise) Variance(x, y float64) float64 {
	if len(n.sites) == 0 || n.Spread == 1 {
		return n.mean
	}
	// The wanted places are many and the sites few hundred; the nearest
	// dominate, and a soft core of the window's size keeps the field smooth.
	core := float64(n.pad) * float64(n.pad) / 64
	sum, weight := 0.0, 0.0
	for _, s := range n.sites {
		d := (s.x-x)*(s.x-x) + (s.y-y)*(s.y-y) + core
		w := s.pixels / (d * d)
		sum += w * math.Log(s.variance)
		weight += w
	}
	return math.Exp(sum / weight)
}

// Typical returns the pixel variance of the map as a whole.
func (n *Noise) Typical() float64 { return n.mean }

// Scaled returns a copy of the noise with its variance multiplied by f.
func (n *Noise) Scaled(f float64) *Noise {
	c := *n
	c.mean *= f
	c.sites = append([]noiseLevel(nil), n.sites...)
	for i := range c.sites {
		c.sites[i].variance *= f
	}
	return &c
}
