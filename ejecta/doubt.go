package ejecta

import (
	"fmt"
	"math"
)

// QRule is how a q value was made.
type QRule string

const (
	QRuleBH        QRule = "bh"             // Benjamini & Hochberg over the survey
	QRuleEmpirical QRule = "empirical_null" // no surer than the craters' own null allows
)

// Limits of a null scale that is believed.
const (
	minScalePlaces = 20
	maxScaleError  = 0.2 // half of the 95 % interval, relative
	maxScale       = 1.25
	minDoubted     = 0.1 // share of a species' tests that brings its q values in doubt
)

// ScaleDoubt says why the null scale that null positions gave cannot be trusted;
// it is empty when it can. values are the statistics whose mean over its
// expectation is the scale.
func ScaleDoubt(values []float64, scale float64) string {
	n := float64(len(values))
	if n < minScalePlaces {
		return fmt.Sprintf("%d null positions tell it; %d are needed", len(values), minScalePlaces)
	}
	if scale > maxScale || scale < 1/maxScale {
		return fmt.Sprintf("it is %.2f, far from 1: the noise model does not hold here", scale)
	}
	mean, square := 0.0, 0.0
	for _, v := range values {
		mean += v / n
		square += v * v / n
	}
	if half := 1.96 * math.Sqrt((square-mean*mean)/(n-1)) / mean; half > maxScaleError {
		return fmt.Sprintf("%.0f null positions tell it to %.0f %% only", n, 100*half)
	}
	return ""
}

// TailRates is, for each p value, the mean local rate of false ones among all
// tests at least as sure: the false share of the catalogue when the line is drawn
// there, with a null that is fitted to the tests themselves, see [LocalFDR].
func TailRates(p []float64) ([]float64, EmpiricalNull) {
	rates, null := LocalFDR(p)
	sum := 0.0
	for k, i := range testOrder(p) {
		sum += rates[i]
		rates[i] = sum / float64(k+1)
	}
	return rates, null
}
