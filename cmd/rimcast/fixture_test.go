package main

import (
	"context"
	"io"
	"math"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// fixtureSurvey is a finished survey of four craters and two species, made up
// by hand: one rich, one bare, one too small, one not covered.
func fixtureSurvey() *reports.Survey {
	nan := math.NaN()
	crater := func(i int, id, name string, lon, lat, radius float64) geom.Crater {
		return geom.Crater{Index: i, ID: id, Name: name, Centre: geom.LonLat{Lon: lon, Lat: lat}, Radius: radius, Age: nan, Freshness: nan}
	}
	s := &reports.Survey{
		Title:   "Fixture",
		Body:    geom.Sphere("Nerith", 720e3),
		Species: []reports.SpeciesInfo{{Name: "water", Unit: "ppm", Layer: "water.tif, band 1"}, {Name: "hydroxyl", Unit: "ppm", Layer: "oh.tif, band 1"}},
		Catalogue: geom.Catalogue{
			Craters: []geom.Crater{
				crater(0, "F1", "Alpha", -38, 12, 25e3),
				crater(1, "F2", "Beta", 64, -18, 30e3),
				crater(2, "F3", "", 10, 0, 900),
				crater(3, "F4", "Beta", 170, 80, 20e3),
			},
			Refused: []geom.Refusal{{Index: 4, ID: "F5", Reason: "latitude 95 is not a latitude"}},
			Notes:   []string{"radius is read from \"radius_km\" in km, as asked"},
			Source:  "craters.geojson",
		},
		Notes: []string{"made by hand for tests"},
		Nulls: []reports.NullSummary{{Species: "water", RadiusLo: 3, RadiusHi: 10, Count: 3, Scale: 1.02, PValues: []float64{0.2, 0.5, 0.9}, ExcessPValues: []float64{0.1, 0.4, 0.7}}},
		Targets: []ejecta.Target{
			{CraterIndex: 0, Rank: 1, Score: 5.5, RankLo: 1, RankHi: 1, PTop10: 1, Verdict: "rich in water along one axis", Why: "strong", Components: []ejecta.Component{{Name: "real", Value: 1}}},
			{CraterIndex: 1, Rank: 2, Score: nan, RankLo: 2, RankHi: 2, Verdict: "nothing found"},
		},
		Contrasts: []ejecta.Contrast{{CraterIndex: 0, SpeciesA: "water", SpeciesB: "hydroxyl", Status: ejecta.StatusOK, Statistic: 14, P: 0.007, Q: 0.01, AmplitudeRatio: 0.2, AxisDifference: nan, AxisDifferenceSE: nan, UpperLimitA: nan, UpperLimitB: 12, Sentence: "the directions differ"}},
		Masked:    []reports.MaskedDisc{{CraterIndex: 0, Neighbour: 1, Radius: 6e4}},
		Cutouts:   []reports.Cutout{{CraterIndex: 0, Species: "water", Unit: "ppm", Size: 2, HalfWidth: 4, Values: []float32{1, 2, float32(nan), 4}, Masked: []bool{false, true, false, false}}},
	}
	for i := range s.Catalogue.Craters {
		for _, sp := range s.Species {
			s.Findings = append(s.Findings, fixtureFinding(i, sp))
		}
	}
	fillManifest(fixtureSettings(), s, []reports.Input{{Role: "catalogue", Path: "craters.geojson", Bytes: 3, SHA256: "ba7816bf"}})
	return s
}

func fixtureFinding(crater int, sp reports.SpeciesInfo) ejecta.Finding {
	nan := math.NaN()
	f := ejecta.Finding{CraterIndex: crater, Species: sp.Name, Unit: sp.Unit, Status: ejecta.StatusOK}
	for _, x := range []*float64{
		&f.Background, &f.BackgroundSE, &f.Excess, &f.ExcessSE, &f.ExcessP, &f.ExcessQ, &f.RimExcess, &f.RimExcessSE, &f.Decay, &f.DecaySE, &f.Extent,
		&f.Asymmetry, &f.AsymmetrySE, &f.AsymmetryP, &f.AsymmetryQ, &f.Axis, &f.AxisSE, &f.Detectable50, &f.Detectable95, &f.UpperLimit95, &f.LocalFDR, &f.NEff,
	} {
		*x = nan
	}
	switch crater {
	case 2:
		f.Status, f.Note = ejecta.StatusTooSmall, "the rim radius is 0.3 pixels"
		return f
	case 3:
		f.Status, f.Note = ejecta.StatusNotCovered, "no valid pixel within reach"
		return f
	}
	f.Pixels, f.PixelsPer, f.Coverage, f.NEff = 5000, 9, 0.97, 210
	f.Background, f.BackgroundSE, f.Excess, f.ExcessSE, f.ExcessP, f.ExcessQ = 190, 1.5, 1, 3, 0.4, 0.6
	f.Pattern, f.Verdict = ejecta.PatternNone, "no blanket seen"
	f.Detectable50, f.Detectable95, f.UpperLimit95 = 20, 31, 12
	if crater == 0 && sp.Name == "water" {
		f.Excess, f.ExcessSE, f.ExcessP, f.ExcessQ = 61, 4, 1e-12, 1e-11
		f.RimExcess, f.RimExcessSE, f.Decay, f.DecaySE, f.Extent = 180, 11, 3.1, 0.2, 4.2
		f.Pattern, f.Asymmetry, f.AsymmetrySE, f.AsymmetryP, f.AsymmetryQ, f.Axis, f.AxisSE = ejecta.PatternBilateral, 0.9, 0.1, 1e-6, 1e-5, 31, 4
		f.Verdict = "a blanket along one axis"
		f.Alarms = []ejecta.Alarm{
			{Name: "neighbour_overlap", Raised: true, Value: 0.2, Limit: 0.1, Detail: "a neighbour's blanket reaches in"},
			{Name: "sun_azimuth", NotRun: "no such layer", Value: nan, Limit: nan},
		}
	}
	f.Radial = fixtureRings(f)
	f.Azimuthal = fixtureSectors(f)
	return f
}

func fixtureRings(f ejecta.Finding) []ejecta.RingValue {
	var rings []ejecta.RingValue
	for _, lo := range []float64{1.1, 1.6, 2.2, 3, 4.5} {
		excess := 0.0
		if f.RimExcess > 0 {
			excess = f.RimExcess * math.Pow(lo+0.25, -3.1)
		}
		rings = append(rings, ejecta.RingValue{RhoLo: lo, RhoHi: lo * 1.4, Mean: f.Background + excess, SE: 4, Excess: excess, Model: f.Background + excess, Pixels: 100, Coverage: 1})
	}
	return rings
}

func fixtureSectors(f ejecta.Finding) []ejecta.SectorValue {
	var sectors []ejecta.SectorValue
	for i := range 12 {
		mean := 0.0
		if f.Pattern == ejecta.PatternBilateral {
			mean = 60 + 60*math.Cos(2*(float64(i)*30+15-f.Axis)*math.Pi/180)
		}
		sectors = append(sectors, ejecta.SectorValue{AzLo: float64(i) * 30, AzHi: float64(i+1) * 30, Mean: mean, SE: 12, Pixels: 40, Coverage: 1})
	}
	return sectors
}

func fixtureSettings() *surveyFile {
	sv := defaultSurvey()
	sv.args = []string{"screen", "survey.toml", "-o", "result"}
	sv.Catalogue.written = "craters.geojson"
	sv.Catalogue.Path = sv.Catalogue.written
	sv.Species = []layerSection{{Name: "water", Path: "water.tif", written: "water.tif"}, {Name: "hydroxyl", Path: "oh.tif", written: "oh.tif"}}
	return sv
}

// writeFixture writes the fixture as a result directory.
func writeFixture(dir string) error {
	d, err := newResultDir(dir, false)
	if err != nil {
		return err
	}
	defer d.discard()
	if err := writeReports(context.Background(), d.partial, fixtureSurvey(), reportOptions(10)); err != nil {
		return err
	}
	return d.commit()
}

// openedSurvey opens the catalogue and the maps of a survey.
func openedSurvey(t testing.TB, survey string) *pipeline {
	t.Helper()
	sv, err := readSurvey(survey, nil)
	if err == nil {
		err = sv.check()
	}
	p := &pipeline{sv: sv, prog: &silentProgress{newMessages(io.Discard)}}
	if err == nil {
		err = p.open()
	}
	if err != nil {
		t.Fatal(err)
	}
	return p
}
