package reports

import (
	"encoding/json"
	"encoding/xml"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// sldOrder is what may stand in each element and in which order, for the elements
// in use: the schema of Styled Layer Descriptor 1.0.0, from memory.
var sldOrder = map[string][]string{
	"StyledLayerDescriptor": {"Name", "Title", "Abstract", "NamedLayer", "UserLayer"},
	"NamedLayer":            {"Name", "LayerFeatureConstraints", "NamedStyle", "UserStyle"},
	"UserStyle":             {"Name", "Title", "Abstract", "IsDefault", "FeatureTypeStyle"},
	"FeatureTypeStyle":      {"Name", "Title", "Abstract", "FeatureTypeName", "SemanticTypeIdentifier", "Rule"},
	"Rule":                  {"Name", "Title", "Abstract", "LegendGraphic", "Filter", "ElseFilter", "MinScaleDenominator", "MaxScaleDenominator", "LineSymbolizer", "PolygonSymbolizer"},
	"PolygonSymbolizer":     {"Geometry", "Fill", "Stroke"},
	"LineSymbolizer":        {"Geometry", "Stroke"},
	"Fill":                  {"GraphicFill", "CssParameter"},
	"Stroke":                {"GraphicFill", "GraphicStroke", "CssParameter"},
	"Filter":                {"PropertyIsEqualTo", "Or"},
	"Or":                    {"PropertyIsEqualTo", "PropertyIsNull"},
	"PropertyIsNull":        {"PropertyName"},
	"PropertyIsEqualTo":     {"PropertyName", "Literal"},
	"Name":                  nil, "CssParameter": nil, "PropertyName": nil, "Literal": nil,
}

// Every style has the elements of the schema, in its order and its name spaces.
func TestStylesFollowTheSchema(t *testing.T) {
	for _, f := range styleFiles(fixture(3), Options{}) {
		d := xml.NewDecoder(strings.NewReader(string(filled(t, f.write))))
		var path []string
		last := []int{0}
		for {
			token, err := d.Token()
			if err == io.EOF {
				break
			}
			if err != nil {
				t.Fatal(f.name, err)
			}
			switch e := token.(type) {
			case xml.StartElement:
				last[len(last)-1] = sldPlace(t, f.name, path, e.Name, last[len(last)-1])
				path, last = append(path, e.Name.Local), append(last, 0)
			case xml.EndElement:
				path, last = path[:len(path)-1], last[:len(last)-1]
			}
		}
	}
}

// sldPlace is the place of an element in its parent, not before the one before.
func sldPlace(t *testing.T, file string, path []string, name xml.Name, before int) int {
	t.Helper()
	space := "http://www.opengis.net/sld"
	if slices.Contains([]string{"Filter", "Or", "PropertyIsEqualTo", "PropertyIsNull", "PropertyName", "Literal"}, name.Local) {
		space = "http://www.opengis.net/ogc"
	}
	if name.Space != space {
		t.Errorf("%s: %s is in %q", file, name.Local, name.Space)
	}
	if len(path) == 0 {
		return 0
	}
	at := slices.Index(sldOrder[path[len(path)-1]], name.Local)
	if at < before {
		t.Errorf("%s: %s is not where it may be in %s", file, name.Local, path[len(path)-1])
	}
	return at
}

// readStyleScript reads styles by a library that shares nothing with ours.
const readStyleScript = `
import pkg from "geostyler-sld-parser";
import { readFileSync } from "fs";
const parser = new (pkg.default ?? pkg)(), out = {};
for (const path of process.argv.slice(1)) {
	const r = await parser.readStyle(readFileSync(path, "utf8"));
	if (r.errors?.length || r.unsupportedProperties) throw new Error(path + ": " + JSON.stringify([r.errors, r.unsupportedProperties]));
	out[path.split("/").pop()] = r.output;
}
console.log(JSON.stringify(out));
`

// readStyle is a style as the other reader gives it.
type readStyle struct {
	Name  string
	Rules []struct {
		Name        string
		Filter      []any
		Symbolizers []struct {
			Kind, Color, OutlineColor string
			Width, OutlineWidth       float64
			OutlineDasharray          []float64
		}
	}
}

// Another reader finds the names, filters, colours, widths and dashes of all styles.
func TestStylesByAnotherReader(t *testing.T) {
	node, err := exec.LookPath("node")
	if err != nil {
		t.Skip("no node on this machine: the styles are not tried with another reader")
	}
	tools, dir := npmTools(t, "SLDPARSER", "geostyler-sld-parser"), t.TempDir()
	var paths []string
	for _, f := range styleFiles(fixture(6), Options{}) {
		paths = append(paths, filepath.Join(dir, filepath.Base(f.name)))
		if err := os.WriteFile(paths[len(paths)-1], filled(t, f.write), 0o666); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(node, append([]string{"--input-type=module", "-e", readStyleScript}, paths...)...)
	cmd.Dir = tools
	text, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %s", err, text)
	}
	var got map[string]readStyle
	if err := json.Unmarshal(text, &got); err != nil {
		t.Fatal(err)
	}
	if len(got) != len(paths) || len(paths) < 6 {
		t.Errorf("%d of %d styles", len(got), len(paths))
	}
	for file, s := range got {
		checkStyle(t, file, s)
	}
}

func checkStyle(t *testing.T, file string, s readStyle) {
	t.Helper()
	if s.Name+".sld" != file || len(s.Rules) == 0 {
		t.Errorf("%s is called %q and has %d rules", file, s.Name, len(s.Rules))
	}
	for i, r := range s.Rules {
		if len(r.Symbolizers) != 1 {
			t.Fatalf("%s, %s: %d symbolizers", file, r.Name, len(r.Symbolizers))
		}
		y := r.Symbolizers[0]
		if y.Kind == "Fill" && (y.OutlineWidth == 0 || y.OutlineColor == "") || y.Kind == "Line" && (y.Width == 0 || y.Color == "") {
			t.Errorf("%s, %s: %+v", file, r.Name, y)
		}
		if file != "rim.sld" {
			continue
		}
		pattern := allPatterns[i]
		want := fmt.Sprintf("[== pattern %s]", pattern)
		if pattern == "" {
			want = "[|| [== pattern <nil>] [== pattern <nil>]]"
		}
		if fmt.Sprint(r.Filter) != want || r.Name != patternText(pattern) {
			t.Errorf("%s: filter %v, want %s", r.Name, r.Filter, want)
		}
		if dashes := strings.Trim(fmt.Sprint(y.OutlineDasharray), "[]"); dashes != patternDash(pattern) {
			t.Errorf("%s: dashes %q, want %q", r.Name, dashes, patternDash(pattern))
		}
	}
}
