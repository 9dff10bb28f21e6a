package raster

import "math"

// Offset returns by how many pixels the grid o is shifted against g, to the
// right and downwards. ok is false when the two differ by more than a shift:
// in projection, in the size or turn of a pixel.
func (g *Grid) Offset(o *Grid) (right, down float64, ok bool) {
	if g.Proj.Name() != o.Proj.Name() || g.Body.SemiMajor != o.Body.SemiMajor {
		return 0, 0, false
	}
	size := math.Hypot(g.Geo[1], g.Geo[2])
	for _, i := range []int{1, 2, 4, 5} {
		if math.Abs(g.Geo[i]-o.Geo[i]) > 1e-6*size {
			return 0, 0, false
		}
	}
	right, down = g.pixel(o.xy(0, 0))
	if period := float64(g.period()); period > 0 {
		right = math.Remainder(right, period)
	}
	return right + 0, down + 0, true // no negative zeros
}
