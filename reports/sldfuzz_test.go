package reports

import (
	"encoding/xml"
	"strings"
	"testing"
	"unicode/utf8"
)

// FuzzStyle writes the style of a kind of any name, and reads it back: it is
// well-formed, of one layer with that name and of as many rules as patterns
// where the kind is the rim.
func FuzzStyle(f *testing.F) {
	kinds := []string{"rim", "lobe", "a<b>&\"'", "]]>", "\u202e", "\x00\x1b", "\xff"}
	for _, k := range kinds {
		f.Add(k, true)
		f.Add(k, false)
	}
	f.Fuzz(func(t *testing.T, kind string, lines bool) {
		var text strings.Builder
		if err := WriteStyle(&text, kind, lines); err != nil {
			t.Fatal(err)
		}
		var back struct {
			Layers []struct {
				Name  string     `xml:"Name"`
				Rules []struct{} `xml:"UserStyle>FeatureTypeStyle>Rule"`
			} `xml:"NamedLayer"`
		}
		if err := xml.Unmarshal([]byte(text.String()), &back); err != nil {
			t.Fatalf("%q: %v\n%s", kind, err, text.String())
		}
		want := 1
		if kind == "rim" {
			want = len(allPatterns)
		}
		if len(back.Layers) != 1 || len(back.Layers[0].Rules) != want {
			t.Fatalf("%q: read back %+v", kind, back)
		}
		if plain(kind) && back.Layers[0].Name != kind {
			t.Errorf("%q comes back as %q", kind, back.Layers[0].Name)
		}
	})
}

// plain reports whether XML can hold every character of a text.
func plain(text string) bool {
	return utf8.ValidString(text) && strings.IndexFunc(text, func(r rune) bool { return r < ' ' || r >= 0xfffe && r <= 0xffff }) < 0
}
