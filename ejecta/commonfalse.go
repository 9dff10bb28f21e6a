package ejecta

import (
	"fmt"
	"math"
	"sort"
)

// DoubtCommon raises the alarm of common directions over a catalogue: on a map
// whose ground makes directions without craters, a direction counts only if few
// of those as plain are expected to be the ground's,
//
//	false share = share of null positions as plain * craters tested / directions as plain
//
// at most rate. It is the false discovery rate with the null positions in place
// of a noise model (Storey & Tibshirani 2003, from memory). Where null positions
// behave as the noise model says nothing is raised.
func DoubtCommon(findings []Finding, species int, rate float64) {
	DoubtCommonBeside(findings, nil, species, rate)
}

// DoubtCommonBeside is [DoubtCommon] for the findings of a catalogue that has bare
// craters too, of which those count that a sieve left out.
func DoubtCommonBeside(findings []Finding, bare *Bare, species int, rate float64) {
	for s := range species {
		tests := bare.directionTests(s)
		var claims []commonClaim
		for i := s; i < len(findings); i += species {
			f := &findings[i]
			_, p := f.Tests()
			tests += counted(p == p)
			if a := f.common(); a != nil && f.Doubt() == "" && f.Pattern.Directional() {
				claims = append(claims, commonClaim{f, a})
			}
		}
		raiseCommon(claims, tests, rate)
	}
}

// commonClaim is a direction that stands, with its alarm.
type commonClaim struct {
	finding *Finding
	alarm   *Alarm
}

// common is the alarm of common directions where it has a limit.
func (f *Finding) common() *Alarm {
	for i := range f.Alarms {
		if a := &f.Alarms[i]; a.catalogued() {
			return a
		}
	}
	return nil
}

// raiseCommon works through the claims of a species, those that fewest null
// positions equal first.
func raiseCommon(claims []commonClaim, tests int, rate float64) {
	sort.SliceStable(claims, func(i, j int) bool { return claims[i].alarm.Value < claims[j].alarm.Value })
	least, of := math.Inf(1), 0
	for i := len(claims) - 1; i >= 0; i-- {
		a := claims[i].alarm
		if share := a.Value * float64(tests) / float64(i+1); share < least {
			least, of = share, i+1
		}
		if least > rate {
			a.Raised = true
			a.Detail += fmt.Sprintf("; of %d craters tested %d have a direction as plain, some %.0f of them by the ground", tests, of, math.Min(1, least)*float64(of))
		}
	}
}
