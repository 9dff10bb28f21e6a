package main

import (
	"path/filepath"

	"rimcast/reports"
)

// writeFigures draws the tables of a sensitivity run.
func (r *recoveries) writeFigures(dir string) error {
	for _, f := range reports.SensitivityFigures(r.plantings(), r.falseClaims()) {
		if err := reports.WriteFigure(filepath.Join(dir, "figures"), f, figureFormats); err != nil {
			return err
		}
	}
	return nil
}

func (r *recoveries) plantings() []reports.Planting {
	out := make([]reports.Planting, len(r.Completeness))
	for i, c := range r.Completeness {
		out[i] = reports.Planting{Species: c.Species, Unit: c.Unit, RadiusLo: c.RadiusLo, RadiusHi: c.RadiusHi, Pattern: c.Pattern,
			Amplitude: c.Amplitude, Trials: c.Trials, Excess: c.Excess, Directed: c.Directional, Direction: c.Direction}
	}
	return out
}

func (r *recoveries) falseClaims() []reports.FalseClaims {
	out := make([]reports.FalseClaims, len(r.Calibration))
	for i, c := range r.Calibration {
		out[i] = reports.FalseClaims{Species: c.Species, RadiusLo: c.RadiusLo, RadiusHi: c.RadiusHi, Test: c.Test, Nominal: c.Nominal, Claims: c.Claims, Trials: c.Trials}
	}
	return out
}
