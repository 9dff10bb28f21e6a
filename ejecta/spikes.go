package ejecta

import (
	"math"
	"slices"
)

// A single wild pixel near a rim makes a ray of its own, since the noise model
// knows no such values. It is left out when it stands alone.

const (
	spikeSigmas     = 6.0 // deviations of the map's noise from the middle neighbour
	spikeAlone      = 3.0 // and so many times farther than any neighbour
	spikeNeighbours = 5   // of eight that must be valid to judge
)

// dropSpikes takes single pixels that stand far from all their neighbours out of the
// valid ones. A ray, a spot and a blanket have neighbours like themselves where a
// crater is large enough for a direction.
func (e *Evidence) dropSpikes(site Site, valid []bool) {
	limit := spikeSigmas * math.Sqrt(site.Variance)
	if !(limit > 0) || site.Samples.PixelsPerRadius < MinDirectionalPixels {
		return
	}
	k := spikeSearch{s: site.Samples, v: site.Values, valid: valid, limit: limit}
	far := k.far()
	if len(far) == 0 {
		return
	}
	k.index()
	for _, i := range slices.DeleteFunc(far, func(i int) bool { return !k.alone(i) }) {
		valid[i] = false
		if site.Samples.Rho[i] < e.Layout.Outer {
			e.Spikes++
			e.Pixels--
		}
	}
}

// spikeSearch looks for spikes among the pixels of a site.
type spikeSearch struct {
	s     *Samples
	v     []float32
	valid []bool
	limit float64

	x0, y0, w, h int
	at           []int32 // number of a pixel and 1
}

// far are the pixels that stand far from those beside them in their row.
func (k *spikeSearch) far() (out []int) {
	least := float32(k.limit * (1 - 1/spikeAlone))
	for i, v := range k.v {
		if !k.valid[i] {
			continue
		}
		left, right := k.beside(i, i-1), k.beside(i, i+1)
		if (left || right) && (!left || gap(v, k.v[i-1]) > least) && (!right || gap(v, k.v[i+1]) > least) {
			out = append(out, i)
		}
	}
	return out
}

// beside reports whether j is the valid pixel beside i in its row.
func (k *spikeSearch) beside(i, j int) bool {
	return j >= 0 && j < len(k.v) && k.valid[j] && k.s.Y[j] == k.s.Y[i] && int(k.s.X[j]-k.s.X[i]) == j-i
}

func gap(a, b float32) float32 {
	if a > b {
		return a - b
	}
	return b - a
}

// index notes where each valid pixel is.
func (k *spikeSearch) index() {
	x0, x1, y0, y1 := slices.Min(k.s.X), slices.Max(k.s.X), slices.Min(k.s.Y), slices.Max(k.s.Y)
	k.x0, k.y0, k.w, k.h = int(x0), int(y0), int(x1-x0)+1, int(y1-y0)+1
	k.at = make([]int32, k.w*k.h)
	for i, ok := range k.valid {
		if ok {
			k.at[(int(k.s.Y[i])-k.y0)*k.w+int(k.s.X[i])-k.x0] = int32(i + 1)
		}
	}
}

// neighbours are the values of the valid pixels that touch one.
func (k *spikeSearch) neighbours(i int) (out []float64) {
	x, y := int(k.s.X[i])-k.x0, int(k.s.Y[i])-k.y0
	for row := max(y-1, 0); row <= min(y+1, k.h-1); row++ {
		for col := max(x-1, 0); col <= min(x+1, k.w-1); col++ {
			if n := k.at[row*k.w+col]; n > 0 && int(n-1) != i {
				out = append(out, float64(k.v[n-1]))
			}
		}
	}
	return out
}

// alone reports whether a pixel is a spike.
func (k *spikeSearch) alone(i int) bool {
	near := k.neighbours(i)
	if len(near) < spikeNeighbours {
		return false
	}
	middle := Quantile(near, 0.5)
	d := math.Abs(float64(k.v[i]) - middle)
	return d > k.limit && !slices.ContainsFunc(near, func(v float64) bool { return math.Abs(v-middle)*spikeAlone > d })
}
