package ejecta

import "math"

// Estimate is a number with the variance of its error.
type Estimate struct{ Value, Variance float64 }

// RandomEffects is the mean of estimates whose true values differ, its standard
// error, and the scatter tau of the true values, by the moments of DerSimonian &
// Laird (1986), Controlled Clinical Trials 7, 177:
//
//	w = 1/v, Q = sum w (x - mean)^2, tau^2 = max(0, (Q - (k - 1)) / (sum w - sum w^2 / sum w))
//
// All are NaN without estimates.
func RandomEffects(list []Estimate) (mean, se, tau float64) {
	mean, w, w2 := weightedEstimate(list, 0)
	q := 0.0
	for _, x := range list {
		q += (x.Value - mean) * (x.Value - mean) / x.Variance
	}
	tau2 := 0.0
	if len(list) > 1 {
		tau2 = math.Max(0, (q-float64(len(list)-1))/(w-w2/w))
	}
	mean, w, _ = weightedEstimate(list, tau2)
	if w == 0 {
		return math.NaN(), math.NaN(), math.NaN()
	}
	return mean, 1 / math.Sqrt(w), math.Sqrt(tau2)
}

// weightedEstimate is the mean with weights 1/(v + tau2), and the sums of weights
// and of their squares.
func weightedEstimate(list []Estimate, tau2 float64) (mean, w, w2 float64) {
	for _, x := range list {
		k := 1 / (x.Variance + tau2)
		mean += k * x.Value
		w += k
		w2 += k * k
	}
	return mean / w, w, w2
}
