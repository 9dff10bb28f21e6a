package ejecta

import "fmt"

// Coefficients are the harmonics to order 2 and their covariance, which are all
// that a contrast needs of a direction; nil when the species has none.
func (s *SpeciesEvidence) Coefficients() (h, cov []float64) { return s.coefficients() }

// RestoreEvidence is the compact evidence with these numbers, as they were
// before it was saved.
func RestoreEvidence(amplitude, se float64, h, cov []float64) (SpeciesEvidence, error) {
	s := SpeciesEvidence{Amplitude: amplitude, SE: se}
	if len(h) == 0 && len(cov) == 0 {
		return s, nil
	}
	if len(h) != 4 || len(cov) != 16 {
		return s, fmt.Errorf("evidence of a direction has 4 coefficients and 16 covariances, not %d and %d", len(h), len(cov))
	}
	s.h, s.cov = h, cov
	return s, nil
}
