package ejecta

import "math"

// decayBelief is how far exponents of blankets are believed to lie from the
// customary one, one standard deviation: between 2 and 4, most of them (common
// practice).
const decayBelief = 0.8

// believed is the place of the mean exponent when what is believed of exponents
// counts beside the curve, and the error that the exponent leaves in the amplitude
// there, as a share of it and no more than all.
func (c decayCurve) believed(peak float64) (at int, spread float64) {
	w, mean := c.weights(peak)
	at = c.nearest(mean)
	here := c.s[at] / c.g[at]
	if !(here > 0) {
		return at, 1
	}
	for i := range w {
		if a := c.s[i] / c.g[i]; a > 0 {
			l := math.Log(a / here)
			spread += w[i] * l * l
		}
	}
	return at, math.Min(1, math.Sqrt(spread))
}

// weights are the probabilities of the exponents, and their mean.
func (c decayCurve) weights(peak float64) (w []float64, mean float64) {
	w, total := make([]float64, len(c.b)), 0.0
	for i, b := range c.b {
		d := (b - directionalDecay) / decayBelief
		w[i] = math.Exp((c.gain(i) - peak - d*d) / 2)
		total += w[i]
	}
	for i, b := range c.b {
		w[i] /= total
		mean += w[i] * b
	}
	return w, mean
}

// nearest is the place of the exponent nearest to one.
func (c decayCurve) nearest(b float64) (at int) {
	for i, v := range c.b {
		if math.Abs(v-b) < math.Abs(c.b[at]-b) {
			at = i
		}
	}
	return at
}
