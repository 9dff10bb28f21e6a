package main

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
)

// This file refuses a band that stands for two things, and flags that cannot be
// read bit by bit.

// checkTwice refuses a species that is its own covariate or error map.
func (sv *surveyFile) checkTwice() error {
	for i := range sv.Species {
		s := &sv.Species[i]
		if s.Path == s.Sigma && s.Path != "" {
			return usage(fmt.Sprintf("species %s and its error map are one file, %s", s.Name, s.written), "give the map of its errors as sigma, or leave sigma out")
		}
		if k := slices.IndexFunc(sv.Covariates, s.sameBand); k >= 0 {
			return usage(fmt.Sprintf("covariate %s is the band of species %s, %s", sv.Covariates[k].Name, s.Name, s.written), "a covariate is what could fake the species; it would explain all of itself")
		}
	}
	return nil
}

// sameBand reports whether two layers read the same band of the same file.
func (l *layerSection) sameBand(k layerSection) bool {
	return l.Path != "" && filepath.Clean(l.Path) == filepath.Clean(k.Path) && max(l.Band, 1) == max(k.Band, 1) && l.BandName == k.BandName
}

// maxBit is the highest number of a bit of a mask.
const maxBit = 31

// checkBits refuses bits that no band has.
func (sv *surveyFile) checkBits(n namedLayer) error {
	for _, bit := range n.layer.Bits {
		if bit < 0 || bit > maxBit {
			return sv.wrong(n.label()+": bits", bit, fmt.Sprintf("bits are counted from 0, the lowest, to %d", maxBit))
		}
	}
	return nil
}

// maskSample is what a sample of a mask shows.
type maskSample struct {
	good, all int
	widest    float64 // the largest number without its sign
}

func (s *maskSample) add(layer *layerSection, values []float32) {
	s.all += len(values)
	for _, v := range values {
		if !layer.badPixel(v) {
			s.good++
		}
		if x := math.Abs(float64(v)); x > s.widest {
			s.widest = x
		}
	}
}

// exactFlags is where float32 begins to lose low bits.
const exactFlags = 1 << 24

// checkBits refuses flags whose low bits are not read.
func (s *maskSample) checkBits(n namedLayer) error {
	if len(n.layer.Bits) == 0 || s.widest < exactFlags {
		return nil
	}
	return refuse(fmt.Sprintf("%s: its flags reach %s, and of numbers from 2^24 on the lowest bits are not read", n.label(), number(s.widest)),
		"write the bits that are needed as a band of 8 or 16 bits")
}
