package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"strconv"

	"github.com/spf13/pflag"

	"rimcast/ejecta"
	"rimcast/reports"
)

// levelOpts are other levels for the claims of a result; 0 keeps one.
type levelOpts struct{ alpha, fdr float64 }

func (o *levelOpts) register(f *pflag.FlagSet) {
	f.Float64Var(&o.alpha, "alpha", 0, "claim again at another level of one crater; 0 keeps it")
	f.Float64Var(&o.fdr, "fdr", 0, "another accepted share of false findings; 0 keeps it")
}

// retest claims the findings of a saved survey again, and ranks them.
func (o *levelOpts) retest(s *reports.Survey, sums string) error {
	if *o == (levelOpts{}) {
		return nil
	}
	switch {
	case o.alpha != 0 && !(o.alpha >= 1e-12 && o.alpha <= 0.5):
		return usage(fmt.Sprintf("--alpha %g is not possible", o.alpha), "the level lies between 1e-12 and 0.5")
	case o.fdr != 0 && !(o.fdr > 0 && o.fdr < 1):
		return usage(fmt.Sprintf("--fdr %g is not possible", o.fdr), "the share lies above 0 and below 1")
	}
	if o.alpha > 0 {
		if err := claimAgain(s, o.alpha, sums); err != nil {
			return err
		}
	}
	o.record(s)
	s.Targets = rank(s, savedWeights(s.Manifest), s.Manifest.Seed)
	return nil
}

// claimAgain names directions and claims excesses and differences at another
// level. Names of differences follow from those of the directions.
func claimAgain(s *reports.Survey, alpha float64, sums string) error {
	if err := s.ReadSums(sums); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return inputFault(err, "copy the directory again, or screen again")
	}
	was, missing := alphaOf(s), 0
	for i := range s.Findings {
		f := &s.Findings[i]
		switch err := f.Retest(f.Sums, was, alpha); {
		case errors.Is(err, ejecta.ErrNoSums):
			missing++
		case err != nil:
			return inputFault(fmt.Errorf("%s: %w", sums, err), "copy the directory again, or screen again")
		}
	}
	if missing > 0 {
		return refuse(fmt.Sprintf("%d directions become named, or lose their name, at --alpha %g, and the result keeps no sums to do that with", missing, alpha), "screen again with --sums, or choose a level nearer to the present one")
	}
	ejecta.CorrectBeside(s.Findings, s.Bare(), len(s.Species))
	describeContrasts(s, alpha)
	describeDays(s, alpha)
	return nil
}

// describeDays chooses the words of the times of day at another level.
func describeDays(s *reports.Survey, alpha float64) {
	at := map[string][]*ejecta.EpochFinding{}
	key := func(crater int, species string) string { return strconv.Itoa(crater) + " " + species }
	for i := range s.Epochs {
		k := key(s.Epochs[i].CraterIndex, s.Epochs[i].Species)
		at[k] = append(at[k], &s.Epochs[i])
	}
	for i := range s.Persistence {
		p := &s.Persistence[i]
		p.Claim(at[key(p.CraterIndex, p.Species)], alpha)
	}
}

func describeContrasts(s *reports.Survey, alpha float64) {
	at := map[string]*ejecta.Finding{}
	key := func(crater int, species string) string { return strconv.Itoa(crater) + " " + species }
	for i := range s.Findings {
		at[key(s.Findings[i].CraterIndex, s.Findings[i].Species)] = &s.Findings[i]
	}
	for i := range s.Contrasts {
		c := &s.Contrasts[i]
		if a, b := at[key(c.CraterIndex, c.SpeciesA)], at[key(c.CraterIndex, c.SpeciesB)]; a != nil && b != nil {
			c.Describe(a, b, alpha)
		}
	}
}

// record writes the levels into the manifest, and what was done into the notes.
func (o *levelOpts) record(s *reports.Survey) {
	tests, ok := s.Manifest.Settings["tests"].(map[string]any)
	if !ok {
		tests = map[string]any{}
		s.Manifest.Settings["tests"] = tests
	}
	note := "Claims were made again by report"
	for _, level := range []struct {
		key string
		v   float64
	}{{"alpha", o.alpha}, {"fdr", o.fdr}} {
		if level.v > 0 {
			text := strconv.FormatFloat(level.v, 'g', -1, 64)
			tests[level.key] = json.Number(text)
			note += ", " + level.key + " = " + text
		}
	}
	note += "; alarms are those of the first run, and could not run for directions named since."
	s.Notes, s.Manifest.Notes = append(s.Notes, note), append(s.Manifest.Notes, note)
}
