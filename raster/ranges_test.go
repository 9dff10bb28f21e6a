package raster

import (
	"slices"
	"testing"

	"rimcast/geom"
)

// Rows that are not asked for may be left out; those that are must be whole and
// as in the whole patch.
func TestRangesOfSomeRows(t *testing.T) {
	for _, tg := range testGrids(t) {
		g, centre := &tg.g, geom.LonLat{Lon: 178, Lat: 20}
		for level := range 3 {
			var whole, some Patch
			if err := g.Geometry(moon, centre, 300e3, level, &whole); err != nil {
				t.Fatal(tg.name, err)
			}
			if whole.Len() == 0 {
				continue
			}
			from, to := whole.Row(whole.Len()/3), whole.Row(whole.Len()/2)
			if err := g.Ranges(moon, centre, 300e3, level, &some, from, to); err != nil {
				t.Fatal(tg.name, err)
			}
			want, got := rangesIn(&whole, from, to), rangesIn(&some, from, to)
			if len(want) == 0 || !slices.Equal(want, got) {
				t.Errorf("%s, level %d: %d pixels of rows %d..%d, %d wanted", tg.name, level, len(got), from, to-1, len(want))
			}
		}
	}
}

// rangesIn lists column, row and range of the pixels in some rows.
func rangesIn(p *Patch, from, to int) (out [][3]float64) {
	for i := range p.Len() {
		if y := p.Row(i); y >= from && y < to {
			out = append(out, [3]float64{float64(p.X[i]), float64(y), p.R[i]})
		}
	}
	return out
}
