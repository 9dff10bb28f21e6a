package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"

	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// fillManifest completes the record of a run: everything that is needed to
// repeat it, and nothing that differs between two runs with the same result,
// such as the time, the number of workers or the place of the output.
func fillManifest(sv *surveyFile, s *reports.Survey, inputs []reports.Input) {
	m := &s.Manifest
	m.Tool, m.Version, m.Seed = "rimcast", readVersion().String(), sv.Tests.Seed
	m.Command = cleanCommand(sv.args)
	m.Settings = settingsOf(sv)
	m.Inputs = inputs
	m.CRS = crsOf(sv, s, m.CRS)
	m.Counts = countsOf(s, m.Counts)
	m.Notes = append(append(m.Notes, s.Catalogue.Notes...), layerNotes(sv, s.Body)...)
	if sv.Output.Redact {
		redactManifest(s)
	}
	m.Settings = asRead(m.Settings)
}

// asRead returns settings with the types that they have when they are read
// from a manifest, so that a report looks the same both times.
func asRead(settings map[string]any) map[string]any {
	text, err := json.Marshal(settings)
	if err != nil {
		panic("rimcast: settings that JSON cannot hold: " + err.Error())
	}
	var same map[string]any
	if err := decodeNumbers(text, &same); err != nil {
		panic("rimcast: settings do not survive JSON: " + err.Error())
	}
	return same
}

// decodeNumbers decodes JSON and keeps every digit of its numbers.
func decodeNumbers(text []byte, v any) error {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	return d.Decode(v)
}

// redactManifest removes the names of files, for maps that are not public.
// The check sums stay: they prove what was read without saying where it is.
func redactManifest(s *reports.Survey) {
	m := &s.Manifest
	m.Command = []string{"rimcast", "screen"}
	for i := range m.Inputs {
		m.Inputs[i].Path = ""
	}
	for _, section := range []string{"species", "covariate", "mask"} {
		list, _ := m.Settings[section].([]map[string]any)
		for _, l := range list {
			delete(l, "path")
			delete(l, "sigma")
		}
	}
	if c, ok := m.Settings["catalogue"].(map[string]any); ok {
		delete(c, "path")
	}
	for i := range s.Species {
		s.Species[i].Layer = ""
	}
	s.Catalogue.Source = ""
	m.Notes = nil
}

// unrecorded are the flags that never change a result. Those with a value may
// have it in the next word.
var unrecorded = map[string]bool{ // name -> has a value
	"--workers": true, "--memory": true, "--out": true, "-o": true, "--fail-on": true, "--shard": true,
	"--resume": false, "--force": false, "--json": false, "--quiet": false, "-q": false, "--verbose": false, "-v": false,
}

// cleanCommand returns the command line without the flags that do not change a
// result, without secrets, and without the folders of absolute paths.
func cleanCommand(args []string) []string {
	clean := []string{"rimcast"}
	skip := false
	for _, arg := range args {
		if skip {
			skip = false
			continue
		}
		name, _, joined := strings.Cut(arg, "=")
		if valued, ok := unrecorded[name]; ok {
			skip = valued && !joined
			continue
		}
		clean = append(clean, cleanWord(arg))
	}
	return clean
}

// cleanWord shortens absolute paths, also behind name= and key=.
func cleanWord(arg string) string {
	parts := strings.Split(arg, ",")
	for i, p := range parts {
		head, path := "", p
		if j := strings.LastIndexByte(p, '='); j >= 0 && !isAddress(p) {
			head, path = p[:j+1], p[j+1:]
		}
		if filepath.IsAbs(path) && !isAddress(path) {
			path = filepath.Base(path)
		}
		parts[i] = head + raster.Redact(path)
	}
	return strings.Join(parts, ",")
}

// settingsOf returns the settings by section and key, with defaults filled.
// Layers list only the keys that were given.
func settingsOf(sv *surveyFile) map[string]any {
	all := map[string]any{}
	v := reflect.ValueOf(sv).Elem()
	for _, section := range tags(v.Type()) {
		field, _ := valueOf(sv, section)
		switch {
		case section == "run":
		case field.Kind() == reflect.Slice:
			list := []map[string]any{}
			for i := range field.Len() {
				list = append(list, sectionMap(field.Index(i), true))
			}
			all[section] = list
		case field.Kind() == reflect.Struct:
			all[section] = sectionMap(field, section == "body" || section == "catalogue" || section == "rasters")
		default:
			all[section] = field.Interface()
		}
	}
	fixPaths(sv, all)
	return all
}

// sectionMap returns the keys of a section; sparse leaves zero values out.
func sectionMap(v reflect.Value, sparse bool) map[string]any {
	m := map[string]any{}
	for _, key := range tags(v.Type()) {
		f, _ := fieldByTag(v.Type(), key)
		x := v.FieldByIndex(f.Index)
		if sparse && x.IsZero() {
			continue
		}
		if list, ok := x.Interface().([]float64); ok {
			m[key] = numberTexts(list)
			continue
		}
		m[key] = x.Interface()
	}
	return m
}

// numberTexts writes numbers as text, since NaN is a fair value for nodata and
// JSON has none.
func numberTexts(list []float64) []string {
	out := make([]string, len(list))
	for i, x := range list {
		out[i] = fmt.Sprint(x)
	}
	return out
}

// fixPaths puts the paths for the manifest in place of those to open, and
// takes out what depends on the place of the output.
func fixPaths(sv *surveyFile, all map[string]any) {
	if c := all["catalogue"].(map[string]any); c["path"] != nil {
		c["path"] = shownPath(sv.Catalogue.written)
	}
	for section, layers := range map[string][]layerSection{"species": sv.Species, "covariate": sv.Covariates, "mask": sv.Masks} {
		for i, m := range all[section].([]map[string]any) {
			m["path"] = shownPath(layers[i].written)
			if layers[i].Sigma != "" {
				m["sigma"] = shownPath(layers[i].writtenSigma)
			}
		}
	}
	out := all["output"].(map[string]any)
	delete(out, "dir")
	delete(out, "fail_on")
}

// crsOf records the body and the projection of each map by their parameters.
// What the pipeline has recorded stays.
func crsOf(sv *surveyFile, s *reports.Survey, have map[string]string) map[string]string {
	m := map[string]string{
		"body":                 s.Body.Name,
		"code":                 s.BodyCode,
		"semi_major_m":         fmt.Sprintf("%.10g", s.Body.SemiMajor),
		"inverse_flattening":   fmt.Sprintf("%.10g", s.Body.InverseFlattening),
		"body_source":          s.Body.Source,
		"longitude_direction":  geom.EastPositive,
		"latitude_type":        geom.PlanetocentricLatitude,
		"catalogue_longitudes": sv.Catalogue.LonDirection,
		"catalogue_latitudes":  sv.Catalogue.Latitude,
	}
	maps := sv.recorded
	if maps == nil {
		seen := recordMaps(sv, s.Body)
		maps = &seen
	}
	for i, label := range maps.Labels {
		m[label] = maps.Projections[i]
	}
	for key, value := range have {
		m[key] = value
	}
	for _, key := range sortedKeys(m) {
		if m[key] == "" {
			delete(m, key)
		}
	}
	return m
}

// layerNotes are the guesses made about the layers, without what GDAL said: its
// words change with its version and may hold the folders of this machine.
func layerNotes(sv *surveyFile, body geom.Body) (notes []string) {
	if sv.recorded != nil {
		return sv.recorded.Notes
	}
	for _, n := range sv.layers() {
		l, err := sv.openLayer(n.layer, body)
		if err != nil {
			continue
		}
		info := l.Info()
		if info.LonDomain != "" && info.LonDomain != "regional" {
			notes = append(notes, n.label()+": longitudes "+info.LonDomain)
		}
		for _, text := range info.Notes {
			if !strings.HasPrefix(text, "GDAL: ") {
				notes = append(notes, n.label()+": "+text)
			}
		}
		l.Close()
	}
	return notes
}

// countsOf counts craters and findings by what became of them.
func countsOf(s *reports.Survey, have map[string]int) map[string]int {
	m := map[string]int{
		"craters":   len(s.Catalogue.Craters),
		"refused":   len(s.Catalogue.Refused),
		"species":   len(s.Species),
		"findings":  s.Count(),
		"contrasts": len(s.Contrasts),
		"targets":   len(s.Targets),
	}
	for status, n := range s.Bare().Counts() {
		m["status_"+string(status)] += n
	}
	for i := range s.Findings {
		f := &s.Findings[i]
		m["status_"+string(f.Status)]++
		if f.Pattern != "" {
			m["pattern_"+string(f.Pattern)]++
		}
		for _, a := range f.RaisedAlarms() {
			m["alarm_"+a]++
		}
	}
	for key, value := range have {
		m[key] = value
	}
	return m
}

// readManifest reads the record of an earlier run.
func readManifest(path string) (reports.Manifest, error) {
	var m reports.Manifest
	text, err := os.ReadFile(path)
	if err != nil {
		return m, err
	}
	if err := decodeNumbers(text, &m); err != nil {
		return m, fmt.Errorf("%s is cut off or damaged: %w", path, err)
	}
	if m.Tool != "rimcast" {
		return m, errors.New(path + ": is not a manifest of rimcast")
	}
	return m, nil
}
