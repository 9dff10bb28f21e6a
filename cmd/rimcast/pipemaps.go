package main

import (
	"fmt"
	"math"
	"strings"

	"rimcast/ejecta"
	"rimcast/raster"
)

// This file looks at the maps as wholes: what in them should make a reader
// distrust every finding.

// Limits of the map alarms.
const (
	clippedLimit = 0.02 // share of zeros in a map without negative values
	smoothLimit  = 0.5  // correlation of successive differences
	spikeLimit   = 0.01 // share of one value in a map of many values
	ppmHigh      = 5000
	ppmLow       = 0.01
	shiftLimit   = 0.1 // pixels; maps that move more than half a pixel are refused
)

// lookAtMaps samples every species for the alarms that concern a map as a
// whole.
func (p *pipeline) lookAtMaps() error {
	p.mapAlarms = make([][]ejecta.Alarm, len(p.sv.Species))
	for _, g := range p.groups {
		for k, species := range g.species {
			s, err := p.sv.sampleOf(&p.sv.Species[species], g.set.Layers[k])
			if err != nil {
				return err
			}
			info := g.set.Layers[k].Info()
			p.mapAlarms[species] = append(mapAlarms(s, info.Unit), p.radiusAlarm(info.RadiusShift))
		}
	}
	return nil
}

func mapAlarms(s *raster.Sample, unit string) []ejecta.Alarm {
	spike, suspect := worstSpike(s)
	return []ejecta.Alarm{
		above("clipped_at_zero", s.ClippedAtZero, clippedLimit, "share", "%.1f %% of the pixels are exactly zero and none is below", 100*s.ClippedAtZero),
		above("spike_values", spike.Share, spikeLimit, "share", "%.1f %% of the pixels equal %g", 100*spike.Share, spike.Value),
		above("special_values_undeclared", suspect.Share, 0, "share", "%.2g %% of the pixels equal %g, far from all others", 100*suspect.Share, suspect.Value),
		above("smoothed_input", s.Smooth, smoothLimit, "correlation", "successive differences are correlated by %.2f", s.Smooth),
		unitAlarm(s, unit),
	}
}

// radiusAlarm says how far a map moves because it was made with another radius
// of the body. A map taken as it is does not move.
func (p *pipeline) radiusAlarm(shift float64) ejecta.Alarm {
	const name = "radius_mismatch"
	if p.sv.Rasters.AssumeBodyCRS {
		return ejecta.Alarm{Name: name, NotRun: "the map was accepted as it is", Value: math.NaN(), Limit: math.NaN()}
	}
	return above(name, shift, shiftLimit, "pixels", "another radius of the body moves the worst place of the map by %.2g pixels", shift)
}

func above(name string, value, limit float64, unit, format string, args ...any) ejecta.Alarm {
	return ejecta.Alarm{Name: name, Raised: value > limit, Value: value, Limit: limit, Unit: unit, Detail: fmt.Sprintf(format, args...)}
}

// worstSpike is the commonest value of a map whose values are many, and the
// commonest suspect one. A map of few levels, such as a picture of bytes, has
// common values by nature.
func worstSpike(s *raster.Sample) (spike, suspect raster.Spike) {
	rarest := math.Inf(1)
	for _, v := range s.Spikes {
		rarest = math.Min(rarest, v.Share)
	}
	for _, v := range s.Spikes {
		if rarest < spikeLimit/10 && v.Share > spike.Share {
			spike = v
		}
		if v.Suspect && v.Share > suspect.Share {
			suspect = v
		}
	}
	return spike, suspect
}

// unitAlarm asks whether the numbers fit the unit; only ppm has a known range.
func unitAlarm(s *raster.Sample, unit string) ejecta.Alarm {
	const name = "unit_implausible"
	if !strings.EqualFold(unit, "ppm") {
		return ejecta.Alarm{Name: name, NotRun: "no range is known for the unit", Value: math.NaN(), Limit: math.NaN()}
	}
	a := above(name, s.Median, ppmHigh, unit, "the median of the map is %.3g ppm", s.Median)
	a.Raised = a.Raised || math.Abs(s.Median) < ppmLow
	return a
}
