package main

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"

	"rimcast/ejecta"
	"rimcast/geom"
)

// partShared is what every shard of a survey finds alike: the settings, the
// catalogue, what was settled about each crater, and the null positions.
type partShared struct {
	Survey  savedSettings
	Body    geom.Body
	Cat     geom.Catalogue
	Sites   []savedSite
	Units   []string // by species
	Maps    mapRecord
	Notes   []string
	Nulls   [][][]float64 // scores by null position and species
	Epochs  []savedNull   // the same null positions for the times of day; none without
	Scales  []savedScale
	Settled ejecta.Settings
}

// savedSettings is a surveyFile with what gob leaves out.
type savedSettings struct {
	File             surveyFile
	Source           string
	Args             []string
	WrittenCatalogue string
	Layers           []savedLayer
}

// savedLayer is what gob leaves out of a layerSection: private names, and
// pointers to zero.
type savedLayer struct {
	Written, WrittenSigma string
	Scale, Offset         []float64 // none or one
	LocalTime, Subsolar   []float64
}

// savedSite is a crater of the pipeline.
type savedSite struct {
	Status ejecta.Status
	Note   string
	Level  int
	Pixels float64
	Outer  float64
	Off    bool
}

// savedScale is a nullScale with its key.
type savedScale struct {
	Species, Level, Class      int
	Lambda, RadiusLo, RadiusHi float64
	P, PE                      []float64
	Doubt                      string
}

// mapRecord is what the manifest says about the maps.
type mapRecord struct {
	Labels, Projections []string
	Notes               []string
}

func saveSettings(sv *surveyFile) savedSettings {
	s := savedSettings{File: *sv, Source: sv.source, Args: sv.args, WrittenCatalogue: sv.Catalogue.written}
	for _, n := range sv.layers() {
		l := n.layer
		s.Layers = append(s.Layers, savedLayer{l.written, l.writtenSigma, pointed(l.Scale), pointed(l.Offset), pointed(l.LocalTime), pointed(l.Subsolar)})
	}
	return s
}

func pointed(p *float64) []float64 {
	if p == nil {
		return nil
	}
	return []float64{*p}
}

func pointer(list []float64) *float64 {
	if len(list) == 0 {
		return nil
	}
	return &list[0]
}

// restore is the surveyFile again.
func (s *savedSettings) restore() (*surveyFile, error) {
	sv := s.File
	sv.source, sv.args, sv.Catalogue.written = s.Source, s.Args, s.WrittenCatalogue
	layers := sv.layers()
	if len(layers) != len(s.Layers) || len(sv.Species) == 0 {
		return nil, errors.New("its settings do not fit its layers")
	}
	for i, n := range layers {
		l, k := n.layer, s.Layers[i]
		l.written, l.writtenSigma = k.Written, k.WrittenSigma
		l.Scale, l.Offset = pointer(k.Scale), pointer(k.Offset)
		l.LocalTime, l.Subsolar = pointer(k.LocalTime), pointer(k.Subsolar)
	}
	return &sv, nil
}

// check refuses shared content that does not fit the header.
func (s *partShared) check(h partHeader) error {
	sv, err := s.Survey.restore()
	switch {
	case err != nil:
		return err
	case len(s.Cat.Craters) != h.Craters || len(s.Sites) != h.Craters:
		return fmt.Errorf("its catalogue has %d craters and not %d", len(s.Cat.Craters), h.Craters)
	case len(sv.Species) != h.Species || len(s.Units) != h.Species:
		return fmt.Errorf("its settings have %d species and not %d", len(sv.Species), h.Species)
	case len(s.Maps.Labels) != len(s.Maps.Projections):
		return errors.New("its record of the maps is not whole")
	}
	return errors.Join(s.Body.Valid(), s.checkCraters(), s.checkNulls(h), s.checkEpochNulls(h))
}

func (s *partShared) checkCraters() error {
	for i := range s.Cat.Craters {
		if c := &s.Cat.Craters[i]; !c.Centre.Valid() || !(c.Radius > 0) || math.IsInf(c.Extent(), 0) {
			return fmt.Errorf("its crater %d has no place or size", i)
		}
	}
	return nil
}

func (s *partShared) checkNulls(h partHeader) error {
	for _, n := range s.Nulls {
		if len(n) != h.Species {
			return errors.New("a null position does not fit the species")
		}
		for _, scores := range n {
			if len(scores) != 0 && len(scores) != 4 {
				return errors.New("a null position has the wrong number of scores")
			}
		}
	}
	for _, k := range s.Scales {
		if k.Species < 0 || k.Species >= h.Species || k.Level < 0 || k.Level > 30 {
			return errors.New("a null scale is of no species or level")
		}
	}
	return nil
}

// settingsSum is the SHA-256 of the settings that can change a result.
func settingsSum(sv *surveyFile) string {
	text, err := json.Marshal(settingsOf(sv))
	if err != nil {
		panic("rimcast: settings that JSON cannot hold: " + err.Error())
	}
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}
