package raster

import (
	"testing"

	"rimcast/geom"
)

// A file that gives both axes gives the flattening to the last digits only: that
// is no news.
func TestFlatteningNote(t *testing.T) {
	for _, c := range []struct {
		file, body float64
		said       bool
	}{
		{169.894447223612, 169.8944472, false}, {169.894447, 169.889, true},
		{0, 0, false}, {0, 169.9, true}, {169.9, 0, true},
	} {
		l := &Layer{}
		l.flatteningNote(&crs{rf: c.file}, geom.Ellipsoid("Mars", 3396190, c.body))
		if said := len(l.info.Notes) > 0; said != c.said {
			t.Errorf("file %g, body %g: notes %q", c.file, c.body, l.info.Notes)
		}
	}
}
