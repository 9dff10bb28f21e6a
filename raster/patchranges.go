package raster

import "rimcast/geom"

// Ranges is Geometry for X, Y and R alone: Az, Sin, Cos and Area hold nothing of
// use. Pixels outside a window of the level may be left out, but those a turn away
// from it are not.
func (g *Grid) Ranges(b geom.Body, centre geom.LonLat, reach float64, level int, p *Patch, within Window) error {
	p.ranges, p.asked = true, within
	return g.geometry(b, centre, reach, level, p)
}

// wanted cuts rows first..last down to those that are asked for.
func (p *Patch) wanted(first, last int) (int, int) {
	if !p.ranges {
		return first, last
	}
	return max(first, p.asked.Y), min(last, p.asked.Y+p.asked.Height-1)
}

// pieces calls fn for the parts of the absolute columns lo..hi that are asked for,
// in their order. Columns repeat after a turn.
func (p *Patch) pieces(lo, hi, turn int, fn func(lo, hi int)) {
	if !p.ranges || p.asked.Width >= turn {
		fn(lo, hi)
		return
	}
	for k := -1; k <= 1; k++ {
		from := p.asked.X + k*turn
		if a, b := max(lo, from), min(hi, from+p.asked.Width-1); a <= b {
			fn(a, b)
		}
	}
}
