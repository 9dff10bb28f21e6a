package main

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"rimcast/geom"
	"rimcast/reports"
)

// check refuses settings that cannot be meant, before anything is read. It
// also fills what depends on the machine.
func (sv *surveyFile) check() error {
	for _, step := range []func() error{
		sv.checkBody, sv.checkCatalogue, sv.checkSpecies, sv.checkLayers,
		sv.checkSampling, sv.checkTests, sv.checkControls, sv.checkOutput, sv.fillMachine,
	} {
		if err := step(); err != nil {
			return err
		}
	}
	return nil
}

// wrong names the key, the value and what is allowed.
func (sv *surveyFile) wrong(key string, value any, allowed string) error {
	if s, ok := value.(string); ok {
		value = geom.Quote(s)
	}
	problem := fmt.Sprintf("%s = %v is not possible", key, value)
	if sv.source != "" {
		problem = sv.source + ": " + problem
	}
	return usage(problem, allowed)
}

// oneOf checks a word; an empty one leaves the default.
func (sv *surveyFile) oneOf(key, value string, words ...string) error {
	if value == "" || slices.Contains(words, value) {
		return nil
	}
	return sv.wrong(key, value, didYouMean(value, words))
}

func (sv *surveyFile) checkBody() error {
	b := sv.Body
	switch {
	case b.RadiusM != 0 && b.SemiMajorM != 0:
		return sv.wrong("body.radius_m", b.RadiusM, "give radius_m for a sphere or semi_major_m with inverse_flattening, not both")
	case b.CRS != "" && (b.RadiusM != 0 || b.SemiMajorM != 0):
		return sv.wrong("body.crs", b.CRS, "give either crs or the radii, not both")
	case !(b.RadiusM >= 0) || math.IsInf(b.RadiusM, 0):
		return sv.wrong("body.radius_m", b.RadiusM, "a radius is a positive number of metres")
	case !(b.SemiMajorM >= 0) || math.IsInf(b.SemiMajorM, 0):
		return sv.wrong("body.semi_major_m", b.SemiMajorM, "a radius is a positive number of metres")
	}
	return nil
}

func (sv *surveyFile) checkCatalogue() error {
	c := sv.Catalogue
	if c.Path == "" {
		return usage("the survey has no catalogue", "give one with --craters craters.geojson, or path under [catalogue]")
	}
	if c.Radius != "" && c.Diameter != "" {
		return sv.wrong("catalogue.diameter", c.Diameter, "give the column of the radius or of the diameter, not both")
	}
	for _, w := range []struct {
		key, value string
		words      []string
	}{
		{"catalogue.format", c.Format, []string{"geojson", "csv"}},
		{"catalogue.radius_unit", c.RadiusUnit, []string{"km", "m"}},
		{"catalogue.dedupe", c.Dedupe, []string{"first", "last"}},
		{"catalogue.lon_direction", c.LonDirection, []string{geom.EastPositive, geom.WestPositive}},
		{"catalogue.latitude", c.Latitude, []string{geom.PlanetocentricLatitude, geom.PlanetographicLatitude}},
		{"rasters.lon_positive", sv.Rasters.LonPositive, []string{geom.EastPositive, geom.WestPositive}},
	} {
		if err := sv.oneOf(w.key, w.value, w.words...); err != nil {
			return err
		}
	}
	return nil
}

func (sv *surveyFile) checkSpecies() error {
	if len(sv.Species) == 0 {
		return usage("the survey has no species", "give a map with --species water=water.tif, or a [[species]] section")
	}
	return nil
}

func (sv *surveyFile) checkLayers() error {
	seen := map[string]bool{}
	for _, n := range sv.layers() {
		l := n.layer
		id := n.section + " " + l.Name + " " + l.Epoch
		switch {
		case l.Name == "" && n.section != "mask":
			return usage("a "+n.section+" has no name", "add name = \"...\" to each [["+n.section+"]] section")
		case l.Path == "":
			return usage(n.label()+" has no path", "add path = \"...\", relative to the survey file")
		case n.section != "mask" && seen[id]:
			return usage("there are two layers called "+n.label(), "names must differ, unless the epochs do")
		case l.Band < 0:
			return sv.wrong(n.label()+": band", l.Band, "bands are counted from 1")
		case l.Band > 0 && l.BandName != "":
			return sv.wrong(n.label()+": band_name", l.BandName, "give band or band_name, not both")
		}
		seen[id] = true
		if err := sv.checkLayerWords(n); err != nil {
			return err
		}
	}
	return sv.checkTwice()
}

func (sv *surveyFile) checkLayerWords(n namedLayer) error {
	l, label := n.layer, n.label()
	if n.section == "mask" && len(l.Keep)+len(l.Drop)+len(l.Bits) == 0 {
		return usage(label+" does not say which values are good", "add keep = [0], or drop, or bits, to the [[mask]] section")
	}
	if n.section != "mask" && len(l.Keep)+len(l.Drop)+len(l.Bits) > 0 {
		return usage(label+" has keep, drop or bits", "these belong to a [[mask]] section")
	}
	if l.Scale != nil && (*l.Scale == 0 || math.IsNaN(*l.Scale)) {
		return sv.wrong(label+": scale", *l.Scale, "a factor is a number other than 0")
	}
	if l.Offset != nil && math.IsNaN(*l.Offset) {
		return sv.wrong(label+": offset", *l.Offset, "an offset is a number")
	}
	if err := sv.oneOf(label+": lon_positive", l.LonPositive, geom.EastPositive, geom.WestPositive); err != nil {
		return err
	}
	if err := sv.oneOf(label+": sigma_is", l.SigmaIs, "sigma", "variance"); err != nil {
		return err
	}
	if err := sv.oneOf(label+": azimuth", l.Azimuth, fromNorth, fromEast); err != nil {
		return err
	}
	if err := cmp.Or(sv.checkBits(n), sv.checkEpoch(n)); err != nil {
		return err
	}
	if n.section == "covariate" {
		return sv.oneOf(label+": kind", l.Kind, covariateKinds...)
	}
	return nil
}

// within checks lo <= value <= hi; NaN is never within.
func (sv *surveyFile) within(key string, value, lo, hi float64, meaning string) error {
	if value >= lo && value <= hi {
		return nil
	}
	return sv.wrong(key, value, fmt.Sprintf("%s lies between %g and %g", meaning, lo, hi))
}

func (sv *surveyFile) checkSampling() error {
	s := sv.Sampling
	for _, err := range []error{
		sv.within("sampling.outer", s.Outer, 4, 50, "the outer range, in crater radii,"),
		sv.within("sampling.rings", float64(s.Rings), 0, 200, "the number of rings"),
		sv.within("sampling.sectors", float64(s.Sectors), 0, 360, "the number of sectors"),
		sv.within("sampling.neighbour_radii", s.NeighbourRadii, 0, 20, "the masked range of neighbours, in their radii,"),
		sv.within("sampling.min_pixels", s.MinPixels, 1.5, 1000, "the smallest rim radius, in pixels,"),
		sv.within("sampling.min_coverage", s.MinCoverage, 0, 1, "the coverage"),
		sv.within("sampling.level_radius", s.LevelRadius, 8, 1e6, "the largest rim radius read at full resolution, in pixels,"),
	} {
		if err != nil {
			return err
		}
	}
	if s.Inner != 0 && !(s.Inner >= 0.5 && s.Inner <= 2) {
		return sv.wrong("sampling.inner", s.Inner, "the tests begin between 0.5 and 2 crater radii, since the excess ends at 2.5; 0 chooses by pixel size")
	}
	if s.Rings == 1 {
		return sv.wrong("sampling.rings", s.Rings, "one ring leaves no background; 0 chooses by crater size")
	}
	if s.Sectors != 0 && s.Sectors < 8 {
		return sv.wrong("sampling.sectors", s.Sectors, "fewer than 8 sectors cannot tell directions apart; 0 chooses by crater size")
	}
	return nil
}

func (sv *surveyFile) checkTests() error {
	t := sv.Tests
	for _, err := range []error{
		sv.within("tests.alpha", t.Alpha, 1e-12, 0.5, "the level"),
		sv.within("tests.fdr", t.FDR, 1e-12, 1, "the false discovery rate"),
		sv.within("tests.nulls", float64(t.Nulls), 0, 1e6, "the number of null places"),
		sv.within("tests.sieve", t.Sieve, 1e-6, 1, "the share of the craters that are measured"),
		sv.within("tests.centre_sigma", t.CentreSigma, 0, 1, "the error of a centre, in crater radii,"),
	} {
		if err != nil {
			return err
		}
	}
	for _, name := range sortedKeys(sv.Ranking.Weights) {
		if err := checkWeight("ranking.weights."+name, name, sv.Ranking.Weights[name]); err != nil {
			return err
		}
	}
	return nil
}

func (sv *surveyFile) checkOutput() error {
	if err := sv.within("output.top", float64(sv.Output.Top), -1, 1e6, "the number of sheets (-1 is all)"); err != nil {
		return err
	}
	if err := checkVector(strings.Split(sv.Output.Vector, ",")); err != nil {
		return err
	}
	return sv.checkGate()
}

// gates are the conditions of --fail-on.
var gates = []string{"partial", "no-finding", "alarm"}

func (sv *surveyFile) checkGate() error {
	name, detail, _ := strings.Cut(sv.Output.FailOn, ":")
	if detail != "" && name != "alarm" {
		return sv.wrong("output.fail_on", sv.Output.FailOn, "only alarm takes a name after the colon")
	}
	if alarms := reports.Terms("alarm"); detail != "" && !slices.Contains(alarms, detail) {
		return sv.wrong("output.fail_on", sv.Output.FailOn, didYouMean(detail, alarms))
	}
	return sv.oneOf("output.fail_on", name, gates...)
}

func (sv *surveyFile) fillMachine() error {
	if err := sv.within("run.workers", float64(sv.Run.Workers), 1, 4096, "the number of workers"); err != nil {
		return err
	}
	if sv.Run.MemoryText == "" {
		sv.Run.Memory = usableMemory() / 2
		return nil
	}
	bytes, err := parseBytes(sv.Run.MemoryText)
	if err != nil {
		return usage("run.memory: "+err.Error(), "")
	}
	if bytes < minMemory {
		return sv.wrong("run.memory", sv.Run.MemoryText, "GDAL and a map tile alone need 200MB")
	}
	sv.Run.Memory = bytes
	return nil
}
