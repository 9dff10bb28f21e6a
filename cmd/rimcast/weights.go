package main

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"rimcast/ejecta"
	"rimcast/reports"
)

// maxWeight is the largest weight of a part of the score, either sign.
const maxWeight = 1e6

// checkWeight refuses a weight of something that is no part of the score, or
// that is not a number of any use; where is the key or flag that gave it.
func checkWeight(where, name string, v float64) error {
	if !slices.Contains(ejecta.ComponentNames(), name) {
		return usage(printable(where+": the score has no part "+name), didYouMean(name, ejecta.ComponentNames()))
	}
	if !(v >= -maxWeight && v <= maxWeight) {
		return usage(fmt.Sprintf("%s: the weight of %s is %g", where, name, v), fmt.Sprintf("give a number between -%g and %g", maxWeight, maxWeight))
	}
	return nil
}

// parseWeights reads component=weight.
func parseWeights(given []string) (ejecta.RankWeights, error) {
	w := ejecta.RankWeights{}
	for _, text := range given {
		name, value, _ := strings.Cut(text, "=")
		v, err := strconv.ParseFloat(value, 64)
		if bad := checkWeight("--weight", name, v); bad != nil {
			return nil, bad
		}
		if err != nil {
			return nil, usage("--weight: the weight of "+name+" is no number: "+printable(value), "such as --weight "+name+"=0.5")
		}
		w[name] = v
	}
	return w, nil
}

// rerank ranks the craters of a saved survey again: with the weights given, and
// for the other parts with those of the survey.
func rerank(s *reports.Survey, given []string) error {
	if len(given) == 0 {
		return nil
	}
	w, err := parseWeights(given)
	if err != nil {
		return err
	}
	all := savedWeights(s.Manifest)
	maps.Copy(all, w)
	s.Targets = rank(s, all, s.Manifest.Seed)
	note := "The ranks were made again by report, with the weights " + strings.Join(given, ", ") + "; the others are those of the survey."
	s.Notes, s.Manifest.Notes = append(s.Notes, note), append(s.Manifest.Notes, note)
	return nil
}

// savedWeights are the weights that a survey was ranked with, where it gave any.
func savedWeights(m reports.Manifest) ejecta.RankWeights {
	w := ejecta.RankWeights{}
	section, _ := m.Settings["ranking"].(map[string]any)
	given, _ := section["weights"].(map[string]any)
	for name, value := range given {
		if n, ok := value.(json.Number); ok {
			if v, err := n.Float64(); err == nil {
				w[name] = v
			}
		}
	}
	return w
}
