package main

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/pflag"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// controlsSection says which craters are young, to be compared with old ones
// that are like them in all else.
type controlsSection struct {
	Young        string  `toml:"young"`
	YoungBelow   float64 `toml:"young_below"`
	YoungAbove   float64 `toml:"young_above"`
	OldAbove     float64 `toml:"old_above"`
	UnknownIsOld bool    `toml:"unknown_is_old"`
	Caliper      float64 `toml:"caliper"`
}

// rule says in words who is young and who is old; empty when nobody asked.
func (c *controlsSection) rule() string {
	var young, old string
	switch {
	case c.Young != "":
		young, old = "of the class "+geom.Quote(c.Young), "of another class"
	case c.YoungBelow != 0:
		young, old = fmt.Sprintf("below the age of %g", c.YoungBelow), fmt.Sprintf("from %g on", math.Max(c.YoungBelow, c.OldAbove))
	case c.YoungAbove != 0:
		young, old = fmt.Sprintf("fresher than %g", c.YoungAbove), "the less fresh"
	default:
		return ""
	}
	if c.UnknownIsOld {
		old += ", and those of which it is not known"
	}
	return "young are the craters " + young + "; old are those " + old
}

func (sv *surveyFile) checkControls() error {
	c := &sv.Controls
	given := 0
	for _, is := range []bool{c.Young != "", c.YoungBelow != 0, c.YoungAbove != 0} {
		if is {
			given++
		}
	}
	switch {
	case given > 1:
		return usage("the survey says in more than one way who is young", "give one of young, young_below and young_above under [controls]")
	case given == 0 && (c.UnknownIsOld || c.OldAbove != 0):
		return usage("the survey says who is old and not who is young", "add young, young_below or young_above under [controls]")
	case !(c.YoungBelow >= 0) || math.IsInf(c.YoungBelow, 0):
		return sv.wrong("controls.young_below", c.YoungBelow, "an age is a positive number")
	case c.OldAbove != 0 && !(c.OldAbove >= c.YoungBelow && c.YoungBelow > 0):
		return sv.wrong("controls.old_above", c.OldAbove, "it goes with young_below and is not below it")
	}
	return sv.within("controls.caliper", c.Caliper, 0.01, 10, "the largest difference of a pair, in standard deviations,")
}

// ageOf tells young (1), old (-1) and neither (0).
func (c *controlsSection) ageOf(k *geom.Crater) int {
	known, young, old := false, false, false
	switch {
	case c.Young != "":
		known = k.Class != ""
		young = strings.EqualFold(k.Class, c.Young)
		old = !young
	case c.YoungBelow != 0:
		known = !math.IsNaN(k.Age)
		young, old = k.Age < c.YoungBelow, k.Age >= math.Max(c.YoungBelow, c.OldAbove)
	default:
		known = !math.IsNaN(k.Freshness)
		young = k.Freshness > c.YoungAbove
		old = !young
	}
	switch {
	case !known && c.UnknownIsOld || known && old:
		return -1
	case known && young:
		return 1
	}
	return 0
}

// controlsOf compares the young craters of a finished survey with old ones like
// them; an empty result when nobody asked.
func controlsOf(s *reports.Survey, c *controlsSection) ejecta.Controls {
	out := ejecta.Controls{Rule: c.rule()}
	if out.Rule == "" {
		return out
	}
	names := covariateNames(s)
	units := c.units(s, names)
	for _, u := range units {
		if u.Young {
			out.Young++
		} else {
			out.Old++
		}
	}
	out.Pairs, out.Balance = ejecta.MatchNearest(units, names, c.Caliper)
	for _, sp := range s.Species {
		find := findingByCrater(s, sp.Name)
		out.Species = append(out.Species, ejecta.NewControlSpecies(sp.Name, sp.Unit, out.Pairs, units, func(i int) *ejecta.Finding { return find[i] }))
	}
	return out
}

func findingByCrater(s *reports.Survey, species string) map[int]*ejecta.Finding {
	m := map[int]*ejecta.Finding{}
	for i := range s.Findings {
		if f := &s.Findings[i]; f.Species == species {
			m[f.CraterIndex] = f
		}
	}
	return m
}

// Covariates of every crater; those of the layers follow.
var plainCovariates = []string{"size (logarithm)", "latitude (without its sign)", "coverage"}

// covariateNames lists what craters are matched on.
func covariateNames(s *reports.Survey) []string {
	names := append([]string(nil), plainCovariates...)
	for i := range s.Findings {
		if levels := s.Findings[i].Levels; len(levels) > 0 {
			for _, l := range levels {
				names = append(names, l.Name)
			}
			return names
		}
	}
	return names
}

// units are the craters that are young or old and measured.
func (c *controlsSection) units(s *reports.Survey, names []string) (out []ejecta.Unit) {
	list := s.Findings
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n].CraterIndex == list[0].CraterIndex {
			n++
		}
		crater := &s.Catalogue.Craters[list[0].CraterIndex]
		if age := c.ageOf(crater); age != 0 {
			if x := covariatesOf(crater, list[:n], len(names)); x != nil {
				out = append(out, ejecta.Unit{Index: list[0].CraterIndex, Young: age > 0, X: x})
			}
		}
		list = list[n:]
	}
	return out
}

// covariatesOf are the covariates of a crater from its findings; nil when it was
// measured on none.
func covariatesOf(c *geom.Crater, findings []ejecta.Finding, n int) []float64 {
	x := make([]float64, n)
	measured := 0
	for i := range x {
		x[i] = math.NaN()
	}
	x[0], x[1], x[2] = math.Log(c.Radius), math.Abs(c.Centre.Lat), 0
	for i := range findings {
		f := &findings[i]
		if !f.Status.Measured() {
			continue
		}
		measured++
		x[2] += f.Coverage
		for k, l := range f.Levels {
			if at := len(plainCovariates) + k; at < n {
				x[at] = l.Mean
			}
		}
	}
	if measured == 0 {
		return nil
	}
	x[2] /= float64(measured)
	return x
}

// controlLines are what the controls say, for the terminal; none when nobody
// asked.
func controlLines(c *ejecta.Controls) (lines []string) {
	if c.Rule == "" {
		return nil
	}
	lines = append(lines, fmt.Sprintf("controls: %s; %d young, %d old, %d pairs", c.Rule, c.Young, c.Old, len(c.Pairs)))
	for _, s := range c.Species {
		lines = append(lines, "  "+printable(s.Sentence))
	}
	return lines
}

// registerControls adds the flags by which a saved result is asked about its
// young craters.
func (c *controlsSection) registerControls(fs *pflag.FlagSet) {
	fs.StringVar(&c.Young, "young", "", "compare the craters of this class with old ones like them")
	fs.Float64Var(&c.YoungBelow, "young-below", 0, "compare the craters below this age with old ones like them")
	fs.Float64Var(&c.YoungAbove, "young-above", 0, "compare the craters fresher than this with old ones like them")
	fs.BoolVar(&c.UnknownIsOld, "unknown-is-old", false, "take craters without an age, freshness or class as old")
	fs.Float64Var(&c.Caliper, "caliper", ejecta.DefaultCaliper, "largest difference of a pair in any covariate, in standard deviations")
}

// compareAgain fills the controls of a saved result when they were asked for.
func (c *controlsSection) compareAgain(s *reports.Survey) error {
	if err := (&surveyFile{Controls: *c}).checkControls(); err != nil {
		return err
	}
	if c.rule() != "" {
		s.Controls = controlsOf(s, c)
	}
	return nil
}

// checkPairs refuses controls that name craters that are not there.
func checkPairs(c *ejecta.Controls, craters int) error {
	in := func(m ejecta.Match) bool { return m.Young >= 0 && m.Young < craters && m.Old >= 0 && m.Old < craters }
	for _, s := range c.Species {
		for _, d := range s.Differences {
			if !in(d.Match) {
				return errors.New("a pair names a crater that is not there")
			}
		}
	}
	for _, m := range c.Pairs {
		if !in(m) {
			return errors.New("a pair names a crater that is not there")
		}
	}
	return nil
}
