package raster

import (
	"slices"
	"testing"

	"rimcast/geom"
)

// Pixels that are not asked for may be left out; those that are must be whole and
// as in the whole patch.
func TestRangesOfAWindow(t *testing.T) {
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
			from, to, turn := whole.Row(whole.Len()/3), whole.Row(whole.Len()/2), (g.Width+whole.Block-1)/whole.Block
			for _, w := range []Window{
				{X: 0, Y: from, Width: turn, Height: to - from},
				{X: floorMod(whole.Column(whole.Len()/2), turn) - 3, Y: from, Width: 7, Height: to - from},
				{X: turn - 5, Y: from, Width: 5, Height: to - from},
			} {
				if err := g.Ranges(moon, centre, 300e3, level, &some, w); err != nil {
					t.Fatal(tg.name, err)
				}
				want, got := rangesIn(&whole, w, turn), rangesIn(&some, w, turn)
				if len(want) == 0 && w.X != turn-5 || !slices.Equal(want, got) {
					t.Errorf("%s, level %d: %d pixels of %s, %d wanted", tg.name, level, len(got), w, len(want))
				}
			}
		}
	}
}

// rangesIn lists column, row and range of the pixels in a window, or a turn away
// from it.
func rangesIn(p *Patch, w Window, turn int) (out [][3]float64) {
	for i := range p.Len() {
		x, y := p.Column(i), p.Row(i)
		if y >= w.Y && y < w.Y+w.Height && floorMod(x-w.X, turn) < w.Width {
			out = append(out, [3]float64{float64(x), float64(y), p.R[i]})
		}
	}
	return out
}
