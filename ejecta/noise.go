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

	table [maxBlockLevel + 1][maxBlockLevel + 1]lagTable
	mean  float64 // typical variance
	sites []noiseLevel
	pad   int
}

// lagTable holds the mean correlation between two squares by the difference
// of their corners, on a grid of the smaller side.
type lagTable struct {
	halfX, halfY int // lags -half..half, in steps
	stride       uint
	c            []float32
}

func (t *lagTable) at(dx, dy int32) float32 {
	x, y := int(dx)>>t.stride, int(dy)>>t.stride
	x, y = min(max(x, -t.halfX), t.halfX), min(max(y, -t.halfY), t.halfY)
	return t.c[(y+t.halfY)*(2*t.halfX+1)+x+t.halfX]
}

// Correlation returns the correlation of two pixels (dx, dy) apart.
func (n *Noise) Correlation(dx, dy int) float64 {
	return float64(n.table[0][0].at(int32(dx), int32(dy)))
}

// newNoise tabulates a correlation given on a pad x pad torus.
func newNoise(c []float64, pad, maxLag int) *Noise {
	n := &Noise{MaxLag: maxLag, pad: pad, mean: 1, Spread: 1}
	half := maxLag + 1<<(maxBlockLevel+1)
	half = min(half, pad/2-1)
	side := 2*half + 1
	full := make([]float64, side*side)
	for y := -half; y <= half; y++ {
		for x := -half; x <= half; x++ {
			full[(y+half)*side+x+half] = c[(y+pad)%pad*pad+(x+pad)%pad]
		}
	}
	row := full
	for l := 0; l <= maxBlockLevel; l++ {
		cur := row
		for m := l; m <= maxBlockLevel; m++ {
			n.table[l][m] = sampleTable(cur, half, uint(l))
			if m < maxBlockLevel {
				cur = widen(cur, side, 1<<m, +1)
			}
		}
		if l < maxBlockLevel {
			row = widen(widen(row, side, 1<<l, +1), side, 1<<l, -1)
		}
	}
	n.describe()
	return n
}

// widen doubles the side of the second (sign +1) or first (sign -1) square of
// a table: the mean over two shifts along each axis.
func widen(c []float64, side, shift, sign int) []float64 {
	out := make([]float64, len(c))
	tmp := make([]float64, len(c))
	for y := range side {
		for x := range side {
			xs := min(max(x+sign*shift, 0), side-1)
			tmp[y*side+x] = 0.5 * (c[y*side+x] + c[y*side+xs])
		}
	}
	for y := range side {
		ys := min(max(y+sign*shift, 0), side-1)
		for x := range side {
			out[y*side+x] = 0.5 * (tmp[y*side+x] + tmp[ys*side+x])
		}
	}
	return out
}

// stretch is how much farther than measured the tables go along the columns:
// on an equirectangular map a crater at high latitude spans many columns. The
// last measured lag stands for those beyond.
const stretch = 2

func sampleTable(c []float64, half int, stride uint) lagTable {
	h := half >> stride
	side := 2*half + 1
	t := lagTable{halfX: stretch * h, halfY: h, stride: stride}
	t.c = make([]float32, 0, (2*t.halfX+1)*(2*h+1))
	for y := -h; y <= h; y++ {
		row := c[(y<<stride+half)*side:]
		for x := -t.halfX; x <= t.halfX; x++ {
			t.c = append(t.c, float32(row[min(max(x, -h), h)<<stride+half]))
		}
	}
	return t
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
