package main

import (
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"math"
	"os"
	"strconv"

	"rimcast/ejecta"
	"rimcast/reports"
)

// plantedSteps are the planted amplitudes in units of the median amplitude that
// is found half of the time at the places of a class.
var plantedSteps = []float64{0.4, 0.7, 1, 1.5, 2, 3}

// nominalLevels are the levels at which false claims are counted.
var nominalLevels = []float64{0.5, 0.2, 0.1, 0.05, 0.02, 0.01, 0.005, 0.002, 0.001}

// recoveries is what a sensitivity run found.
type recoveries struct {
	Completeness []recovered
	Calibration  []calibrated
	Limits       []limitRow
	Craters      []craterRecovered
	record       *reports.Survey
}

// recovered counts what was found of one pattern at one amplitude.
type recovered struct {
	Species, Unit       string
	RadiusLo, RadiusHi  float64 // map pixels
	Pattern             ejecta.Pattern
	Amplitude, Analytic float64 // planted; median detectable_50 of the places
	Trials              int
	Excess              int // found
	Direction, Class    int
	Directional         int // places where a direction can be tested
}

// calibrated counts false claims at one level where nothing was planted.
type calibrated struct {
	Species            string
	RadiusLo, RadiusHi float64
	Test               string
	Nominal            float64
	Claims, Trials     int
}

// recoverAll plants at the null positions of every species and size class.
func (p *pipeline) recoverAll(ctx context.Context) (*recoveries, error) {
	r := &recoveries{}
	for _, key := range p.scaleKeys() {
		s := p.scales[key]
		f := float64(int(1) << key.level)
		lo, hi := s.radiusLo*f, s.radiusHi*f
		name := p.sv.Species[key.species].shownName()
		direction, excess, err := p.splitHalves(key)
		if err != nil {
			return nil, err
		}
		r.Calibration = append(r.Calibration, calibrationOf(name, lo, hi, "excess", excess)...)
		r.Calibration = append(r.Calibration, calibrationOf(name, lo, hi, "direction", direction)...)
		p.prog.Stage(plantingStage(name, lo, hi), len(ejecta.PlantedPatterns()))
		for _, pattern := range ejecta.PlantedPatterns() {
			if err := ctx.Err(); err != nil {
				return nil, err
			}
			list, err := p.plant(key, pattern)
			if err != nil {
				return nil, err
			}
			for _, c := range list {
				c.Species, c.Unit, c.RadiusLo, c.RadiusHi = name, p.unitOf(key.species), lo, hi
				r.Completeness = append(r.Completeness, c)
			}
			p.prog.Add(1)
		}
	}
	return r, nil
}

// plantingStage names what is planted, and round craters of which radii in pixels.
func plantingStage(species string, lo, hi float64) string {
	if short(lo) == short(hi) {
		return fmt.Sprintf("planting %s at %s pixels", printable(species), short(lo))
	}
	return fmt.Sprintf("planting %s at %s to %s pixels", printable(species), short(lo), short(hi))
}

func calibrationOf(species string, lo, hi float64, test string, values []float64) (out []calibrated) {
	for _, level := range nominalLevels {
		c := calibrated{species, lo, hi, test, level, 0, len(values)}
		for _, v := range values {
			if v < level {
				c.Claims++
			}
		}
		out = append(out, c)
	}
	return out
}

// plant plants one pattern at all places of a key, each at a direction of its
// own, with all amplitudes.
func (p *pipeline) plant(key scaleKey, pattern ejecta.Pattern) ([]recovered, error) {
	places := p.nullsOf(key)
	scale := p.scales[key].lambda
	half := p.medianLimit(key, places, scale)
	if math.IsNaN(half) {
		return nil, nil // no place can hold a blanket: nothing is planted
	}
	out := make([]recovered, len(plantedSteps))
	found := make([][]ejecta.Recovery, len(places))
	err := parallel(p.workers(), len(places), func(k int) {
		i := places[k]
		e := p.nulls[i].result[key.species].evidence
		for _, step := range plantedSteps {
			azimuth := math.Mod(137.508*float64(k), 360) // the golden angle spreads them
			found[k] = append(found[k], e.Recover(pattern, step*half, azimuth, p.set, scale, p.sv.Tests.Seed+uint64(i)))
		}
	})
	for a := range out {
		out[a] = recovered{Pattern: pattern, Amplitude: plantedSteps[a] * half, Analytic: half, Trials: len(places)}
		for k := range places {
			out[a].count(found[k][a], p.nulls[places[k]].result[key.species].evidence.Status == ejecta.StatusOK)
		}
	}
	return out, err
}

func (c *recovered) count(r ejecta.Recovery, directional bool) {
	for n, yes := range map[*int]bool{&c.Excess: r.Excess, &c.Direction: r.Direction, &c.Class: r.Class && directional, &c.Directional: directional} {
		if yes {
			*n++
		}
	}
}

// medianLimit is the median detectable_50 of some places.
func (p *pipeline) medianLimit(key scaleKey, places []int, scale float64) float64 {
	var limits []float64
	for _, i := range places {
		m := p.nulls[i].result[key.species].evidence.Measure(p.set, scale, 1)
		if v := m.Finding.Detectable50; v > 0 {
			limits = append(limits, v)
		}
	}
	if len(limits) == 0 {
		return math.NaN()
	}
	return ejecta.Median(limits)
}

// groups are the rows of one species, class and pattern each.
func (r *recoveries) groups() (out [][]recovered) {
	n := len(plantedSteps)
	for i := 0; i+n <= len(r.Completeness); i += n {
		out = append(out, r.Completeness[i:i+n])
	}
	return out
}

// halfAt is the smallest planted amplitude that was found in half of the
// trials.
func halfAt(g []recovered, found func(recovered) (k, n int)) string {
	for _, c := range g {
		if k, n := found(c); n > 0 && 2*k >= n {
			return fmt.Sprintf("%.3g %s", c.Amplitude, c.Unit)
		}
	}
	return "-"
}

func (r *recoveries) completenessRows() [][]string {
	rows := [][]string{{"species", "unit", "radius_lo_pixels", "radius_hi_pixels", "pattern", "amplitude", "detectable_50", "trials",
		"excess_found", "excess_found_lo95", "excess_found_hi95", "directional_trials", "direction_found", "direction_found_lo95", "direction_found_hi95", "pattern_right"}}
	for _, c := range r.Completeness {
		row := []string{c.Species, c.Unit, digits(c.RadiusLo), digits(c.RadiusHi), string(c.Pattern), digits(c.Amplitude), digits(c.Analytic), strconv.Itoa(c.Trials)}
		rows = append(rows, append(row, c.foundCells()...))
	}
	return rows
}

func (r *recoveries) calibrationRows() [][]string {
	rows := [][]string{{"species", "radius_lo_pixels", "radius_hi_pixels", "test", "nominal", "trials", "observed", "observed_lo95", "observed_hi95"}}
	for _, c := range r.Calibration {
		row := []string{c.Species, digits(c.RadiusLo), digits(c.RadiusHi), c.Test, digits(c.Nominal), strconv.Itoa(c.Trials)}
		rows = append(rows, append(row, shareCells(c.Claims, c.Trials)...))
	}
	return rows
}

// shareCells are a share and its 95 % interval; empty without a trial.
func shareCells(k, n int) []string {
	if n == 0 {
		return []string{"", "", ""}
	}
	lo, hi := ejecta.Wilson(k, n)
	return []string{digits(float64(k) / float64(n)), digits(lo), digits(hi)}
}

func digits(v float64) string {
	if math.IsNaN(v) {
		return ""
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}

func writeRows(path string, rows [][]string) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(csv.NewWriter(f).WriteAll(rows), f.Close())
}
