package main

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"rimcast/ejecta/testblanket"
)

// scenarios are the built-in recipes of invented surveys.
var scenarios = []struct {
	name, help string
	make       func() testblanket.Scenario
}{
	{"demo", "the survey of rimcast demo: twelve young craters among many old ones", testblanket.Demo},
	{"small", "a quick look: 400 x 200 pixels, four craters", smallScenario},
	{"day", "two species at three times of day: blankets that stay, change, come and go, or turn with the sun", testblanket.Day},
	{"null", "correlated noise and old craters, nothing planted: every finding is false", nullScenario},
}

// smallScenario is a survey for first trials and for the tests of commands.
func smallScenario() testblanket.Scenario {
	s := testblanket.Demo()
	s.Title = "Small survey of Nerith"
	s.Grid = testblanket.GridRecipe{Width: 400, Height: 200}
	s.Covariates, s.Young = nil, 0
	for i := range s.Species {
		s.Species[i].Coupling = 0
		s.Species[i].Noise.Strips, s.Species[i].Noise.Gaps = 0, 0.02
		s.Species[i].Noise.Length = 1.5
	}
	s.Craters = nil
	for _, p := range testblanket.Demo().Craters[:3] {
		p.Pixels = 5
		s.Craters = append(s.Craters, p)
	}
	s.Old = testblanket.Old{Count: 9, MinPixels: 2, MaxPixels: 5, MaxLat: 60}
	return s
}

// nullScenario has the demo's noise and nothing to find.
func nullScenario() testblanket.Scenario {
	s := testblanket.Demo()
	s.Title = "Nothing to find on Nerith"
	s.Craters, s.Young = nil, 0
	s.Covariates = s.Covariates[:1]
	s.Old = testblanket.Old{Count: 200, MaxLat: 72}
	return s
}

func scenarioNames() []string {
	var names []string
	for _, s := range scenarios {
		names = append(names, s.name)
	}
	return names
}

// maxScenario bounds a scenario file.
const maxScenario = 1 << 20

// readScenario returns a built-in scenario, or reads one from a TOML file.
func readScenario(name string) (testblanket.Scenario, error) {
	for _, s := range scenarios {
		if s.name == name {
			return s.make(), nil
		}
	}
	f, err := openInput(name)
	if err != nil {
		if !strings.ContainsAny(name, "./\\") {
			return testblanket.Scenario{}, usage("there is no scenario "+printable(name), didYouMean(name, scenarioNames())+"; or give a TOML file")
		}
		return testblanket.Scenario{}, inputFault(err, "give a built-in scenario ("+strings.Join(scenarioNames(), ", ")+") or a TOML file")
	}
	defer f.Close()
	text, err := io.ReadAll(io.LimitReader(f, maxScenario))
	if err != nil {
		return testblanket.Scenario{}, inputFault(err, "")
	}
	return parseScenario(name, text)
}

// parseScenario decodes and checks the text of a scenario.
func parseScenario(name string, text []byte) (testblanket.Scenario, error) {
	var s testblanket.Scenario
	d := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := d.Decode(&s); err != nil {
		return s, tomlFault(name, err)
	}
	if err := s.Valid(); err != nil {
		return s, usage(fmt.Sprintf("%s: %v", name, err), "")
	}
	return s, nil
}
