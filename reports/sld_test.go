package reports

import (
	"io"
	"regexp"
	"testing"
)

// Rims of different patterns differ by their dashes too, and every style is
// well-formed XML.
func TestRimStylesDifferWithoutColour(t *testing.T) {
	text := string(filled(t, func(w io.Writer) error { return WriteStyle(w, "rim", false) }))
	svgText(t, "rim.sld", text)
	dashes := map[string]bool{}
	for _, m := range regexp.MustCompile(`stroke-dasharray">([^<]*)<`).FindAllStringSubmatch(text, -1) {
		dashes[m[1]] = true
	}
	if len(dashes) != 4 {
		t.Errorf("%d kinds of dashes, want one for each pattern with a direction", len(dashes))
	}
	for _, layer := range Layers(fixture(3), Options{}) {
		svgText(t, layer.Kind, string(filled(t, func(w io.Writer) error { return WriteStyle(w, layer.Kind, layer.Lines) })))
	}
}
