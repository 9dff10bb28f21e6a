package ejecta

import "math"

// paintContacts returns a row per cell and a column per contact: the share of
// the cell beyond the line, or the mean height of the spot over it.
func paintContacts(c *Cells, list []contact) []float64 {
	out := make([]float64, c.N*len(list))
	if len(list) == 0 {
		return out
	}
	brushes := make([]brush, len(list))
	for j, k := range list {
		brushes[j] = k.brush()
	}
	for i := range c.N {
		s := c.spread(i)
		row := out[i*len(list) : (i+1)*len(list)]
		for j := range brushes {
			row[j] = brushes[j].over(&s)
		}
	}
	return out
}

// brush is a contact made ready for painting.
type brush struct {
	sin, cos, offset float64
	east, north      float64 // of the middle of a spot
	inverse          float64 // of the square of its size; 0 for a line
}

func (k contact) brush() brush {
	sin, cos := math.Sincos(k.azimuth * math.Pi / 180)
	b := brush{sin: sin, cos: cos, offset: k.offset, east: k.offset * sin, north: k.offset * cos}
	if k.spot() {
		b.inverse = 1 / (k.size * k.size)
	}
	return b
}

// cellSpread is where a cell lies: its middle, its breadth, and four places in it.
type cellSpread struct {
	rho, sin, cos, breadth float64
	east, north            [4]float64
}

func (c *Cells) spread(i int) cellSpread {
	s := cellSpread{rho: c.Rho[i], breadth: c.breadth(i)}
	s.sin, s.cos = math.Sincos(c.Az[i])
	for n := range s.east {
		s.east[n], s.north[n] = c.inside(i, 0.5*float64(n/2)-0.25, 0.5*float64(n%2)-0.25)
	}
	return s
}

// over is the mean height of a contact over a cell.
func (b *brush) over(s *cellSpread) float64 {
	if b.inverse == 0 {
		beyond := s.rho*(s.sin*b.sin+s.cos*b.cos) - b.offset
		return math.Max(0, math.Min(1, 0.5+beyond/s.breadth))
	}
	sum := 0.0
	for n, e := range s.east {
		sum += b.height(e, s.north[n])
	}
	return sum / 4
}

// height is the height of a spot at a place: one inside, falling off quickly
// beyond its size.
func (b *brush) height(east, north float64) float64 {
	east, north = east-b.east, north-b.north
	d := (east*east + north*north) * b.inverse
	return 1 / (1 + d*d)
}
