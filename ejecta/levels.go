package ejecta

import "math"

// Level is the mean of a covariate in the ground of a crater's background.
type Level struct {
	Name, Kind string
	Mean       float64
}

// FieldLevels are the levels of the covariates that are amounts, in the far
// rings and outside the masked ground; what goes round (times of day, azimuths)
// and strips have none.
func FieldLevels(s *Samples, masked []bool, fields []Field) (out []Level) {
	for _, f := range fields {
		if f.Kind == "local_time" || f.Kind == "strip" {
			continue
		}
		sum, n := 0.0, 0
		for i, v := range f.Values {
			if s.Rho[i] >= backgroundInner && !(masked != nil && masked[i]) && finite(v) {
				sum += v
				n++
			}
		}
		mean := math.NaN()
		if n > 0 {
			mean = sum / float64(n)
		}
		out = append(out, Level{f.Name, f.Kind, mean})
	}
	return out
}
