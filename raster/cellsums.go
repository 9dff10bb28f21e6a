package raster

import "math"

// CellSums are the sums of the layers of a set over the cells of one crater. A
// CellSums is reused from crater to crater.
//
// A pixel with a value in every layer goes into the sums that all layers share,
// which have products of layers too; one with some values missing into those of
// its own layers.
type CellSums struct {
	Layout CellLayout
	Level  int // pixels are blocks of 1<<Level map pixels a side

	given  int // layers that are summed
	layers int // of the sums: two layers are three, the second twice, see add
	stride int
	shared []float64 // by cell: all pixels; number, area; sums, squares, products of the layers
	single []float64 // by cell and layer: number, area, sum, square
	fine   []float64 // by cell and layer: area times variance within blocks, map pixels
	dirty  bool      // single holds something
	twice  [3][]float32
}

// Places in the sums of a cell.
const (
	sumAll = iota
	sumNumber
	sumArea
	sumFirst
)

func newCellSums(l CellLayout, layers int) *CellSums {
	c := &CellSums{Layout: l, given: layers, layers: layers}
	if layers == 2 {
		c.layers = 3
	}
	c.stride = sumFirst + 2*c.layers + c.layers*(c.layers-1)/2
	cells := l.Cells() + l.Sectors // the last are those of no ring
	c.shared, c.single = make([]float64, cells*c.stride), make([]float64, cells*c.layers*4)
	if l.Within {
		c.fine = make([]float64, cells*c.layers*2)
	}
	return c
}

func (c *CellSums) reset(level int) {
	c.Level = level
	clear(c.shared)
	clear(c.fine)
	if c.dirty {
		clear(c.single)
	}
	c.dirty = false
}

// Pixels is the number of pixels of a cell, with and without values, on the map
// and beyond its edge.
func (c *CellSums) Pixels(cell int) int { return int(c.shared[cell*c.stride+sumAll]) }

// Moments are sums over pixels with a value: their number, ground area, and area
// times value and squared value. Areas of a map have one unit, square metres
// but for projections that PROJ computes.
type Moments struct {
	Pixels            int
	Area, Sum, Square float64
	// Within is area times the variance of map pixels within each block, and
	// MapPixels the number of map pixels with a value: the sum of squares of map
	// pixels is Square + Within. Both are 0 unless the layout asks for them; at
	// level 0 MapPixels is Pixels.
	Within    float64
	MapPixels float64
}

// Mean is the mean by area; NaN without a pixel.
func (m Moments) Mean() float64 { return m.Sum / m.Area }

// Plus adds the sums of two sets of pixels.
func (m Moments) Plus(o Moments) Moments {
	return Moments{m.Pixels + o.Pixels, m.Area + o.Area, m.Sum + o.Sum, m.Square + o.Square, m.Within + o.Within, m.MapPixels + o.MapPixels}
}

// Variance is the variance of the pixels by area.
func (m Moments) Variance() float64 {
	mean := m.Mean()
	return math.Max(0, m.Square/m.Area-mean*mean)
}

// MapVariance is that of the map pixels, for a layout with Within.
func (m Moments) MapVariance() float64 { return m.Variance() + m.Within/m.Area }

// Moments are the sums of a layer over a cell.
func (c *CellSums) Moments(cell, layer int) Moments {
	s, o := c.shared[cell*c.stride:(cell+1)*c.stride], c.single[(cell*c.layers+layer)*4:]
	m := Moments{Pixels: int(s[sumNumber] + o[0]), Area: s[sumArea] + o[1],
		Sum: s[sumFirst+layer] + o[2], Square: s[sumFirst+c.layers+layer] + o[3]}
	if c.fine != nil {
		f := c.fine[(cell*c.layers+layer)*2:]
		m.Within, m.MapPixels = f[0], f[1]
	}
	if c.Level == 0 && c.fine != nil {
		m.MapPixels = float64(m.Pixels)
	}
	return m
}

// Ring adds up the cells of a ring.
func (c *CellSums) Ring(ring, layer int) (m Moments) {
	for s := range c.Layout.Sectors {
		m = m.Plus(c.Moments(ring*c.Layout.Sectors+s, layer))
	}
	return m
}

// Joint are sums over the pixels of a cell with a value in every layer: area,
// area times each of two layers, and times their product.
type Joint struct{ Area, A, B, AB float64 }

// Joint are the joint sums of two layers over a cell.
func (c *CellSums) Joint(cell, a, b int) Joint {
	s := c.shared[cell*c.stride:]
	j := Joint{Area: s[sumArea], A: s[sumFirst+a], B: s[sumFirst+b]}
	if a == b {
		j.AB = s[sumFirst+c.layers+a]
		return j
	}
	j.AB = s[sumFirst+2*c.layers+pair(min(a, b), max(a, b), c.layers)]
	return j
}

// pair numbers the pairs of n layers, first by the lower one.
func pair(a, b, n int) int { return a*(2*n-a-1)/2 + b - a - 1 }

// add adds a row of pixels to the cells: weight times unit is the ground area
// of each; without weights, unit is. Sums of pixels side by side in one cell stay
// in registers, for three layers or less. Without values the pixels are counted.
func (c *CellSums) add(cells []uint16, weight []float64, unit float64, values [][]float32) {
	switch {
	case values == nil:
	case c.given == 2:
		values = append(c.twice[:0], values[0], values[1], values[1])
	default:
		values = values[:c.given]
	}
	switch {
	case c.layers == 0:
	case values == nil:
		for _, cell := range cells {
			c.shared[int(cell)*c.stride+sumAll]++
		}
	case c.layers == 1:
		c.addOne(cells, weight, unit, values[0])
	case c.layers == 3 && weight == nil:
		c.addThreeEven(cells, unit, values)
	case c.layers == 3:
		c.addThree(cells, weight, unit, values)
	default:
		c.addAny(cells, weight, unit, values)
	}
}

func (c *CellSums) addOne(cells []uint16, weight []float64, unit float64, values []float32) {
	weight, values = weight[:len(cells)], values[:len(cells)]
	for i := 0; i < len(cells); {
		cell, from, n := cells[i], i, 0
		var w, s1, s2 float64
		for ; i < len(cells) && cells[i] == cell; i++ {
			x := float64(values[i])
			if x-x != 0 {
				continue
			}
			g := weight[i]
			n++
			w += g
			s1 += g * x
			s2 += g * x * x
		}
		s := (*[5]float64)(c.shared[int(cell)*5:])
		s[sumAll] += float64(i - from)
		s[sumNumber] += float64(n)
		s[sumArea] += unit * w
		s[sumFirst] += unit * s1
		s[sumFirst+1] += unit * s2
	}
}

// addThreeEven is for pixels of one area, which is multiplied with their sums.
func (c *CellSums) addThreeEven(cells []uint16, unit float64, values [][]float32) {
	a, b, d := values[0][:len(cells)], values[1][:len(cells)], values[2][:len(cells)]
	for i := 0; i < len(cells); {
		cell, from, n := cells[i], i, 0
		var a1, b1, d1, a2, b2, d2, ab, ad, bd float64
		for ; i < len(cells) && cells[i] == cell; i++ {
			x, y, z := float64(a[i]), float64(b[i]), float64(d[i])
			if t := x + y + z; t-t != 0 {
				c.addSingle(cell, unit, i, values)
				continue
			}
			n++
			a1 += x
			b1 += y
			d1 += z
			a2 += x * x
			b2 += y * y
			d2 += z * z
			ab += x * y
			ad += x * z
			bd += y * z
		}
		s := (*[12]float64)(c.shared[int(cell)*12:])
		s[sumAll] += float64(i - from)
		s[sumNumber] += float64(n)
		s[2], s[3], s[4], s[5] = s[2]+unit*float64(n), s[3]+unit*a1, s[4]+unit*b1, s[5]+unit*d1
		s[6], s[7], s[8] = s[6]+unit*a2, s[7]+unit*b2, s[8]+unit*d2
		s[9], s[10], s[11] = s[9]+unit*ab, s[10]+unit*ad, s[11]+unit*bd
	}
}

func (c *CellSums) addThree(cells []uint16, weight []float64, unit float64, values [][]float32) {
	a, b, d := values[0][:len(cells)], values[1][:len(cells)], values[2][:len(cells)]
	weight = weight[:len(cells)]
	for i := 0; i < len(cells); {
		cell, from, n := cells[i], i, 0
		var w, a1, b1, d1, a2, b2, d2, ab, ad, bd float64
		for ; i < len(cells) && cells[i] == cell; i++ {
			x, y, z := float64(a[i]), float64(b[i]), float64(d[i])
			if t := x + y + z; t-t != 0 {
				c.addSingle(cell, weight[i]*unit, i, values)
				continue
			}
			g := weight[i]
			n++
			w += g
			gx, gy, gz := g*x, g*y, g*z
			a1 += gx
			b1 += gy
			d1 += gz
			a2 += gx * x
			b2 += gy * y
			d2 += gz * z
			ab += gx * y
			ad += gx * z
			bd += gy * z
		}
		s := (*[12]float64)(c.shared[int(cell)*12:])
		s[sumAll] += float64(i - from)
		s[sumNumber] += float64(n)
		s[2], s[3], s[4], s[5] = s[2]+unit*w, s[3]+unit*a1, s[4]+unit*b1, s[5]+unit*d1
		s[6], s[7], s[8] = s[6]+unit*a2, s[7]+unit*b2, s[8]+unit*d2
		s[9], s[10], s[11] = s[9]+unit*ab, s[10]+unit*ad, s[11]+unit*bd
	}
}

// addAny is for any number of layers.
func (c *CellSums) addAny(cells []uint16, weight []float64, unit float64, values [][]float32) {
	for i, cell := range cells {
		s := c.shared[int(cell)*c.stride : (int(cell)+1)*c.stride]
		s[sumAll]++
		g := weight[i] * unit
		if !allThere(values, i) {
			c.addSingle(cell, g, i, values)
			continue
		}
		s[sumNumber]++
		s[sumArea] += g
		at := sumFirst + 2*c.layers
		for a, v := range values {
			gx := g * float64(v[i])
			s[sumFirst+a] += gx
			s[sumFirst+c.layers+a] += gx * float64(v[i])
			for _, o := range values[a+1:] {
				s[at] += gx * float64(o[i])
				at++
			}
		}
	}
}

func allThere(values [][]float32, i int) bool {
	for _, v := range values {
		if v[i]-v[i] != 0 {
			return false
		}
	}
	return true
}

// addSingle adds a pixel to the layers that have it.
func (c *CellSums) addSingle(cell uint16, area float64, i int, values [][]float32) {
	c.dirty = true
	for l, v := range values {
		if x := float64(v[i]); x-x == 0 {
			s := (*[4]float64)(c.single[(int(cell)*c.layers+l)*4:])
			s[0]++
			s[1] += area
			s[2] += area * x
			s[3] += area * x * x
		}
	}
}

// addWithin adds what the blocks of a row hide.
func (c *CellSums) addWithin(cells []uint16, weight []float64, unit float64, row *rowValues) {
	for l, values := range row.values[:c.given] {
		vary, count := row.vary[l][:len(cells)], row.count[l][:len(cells)]
		for i, v := range values[:len(cells)] {
			if v-v == 0 {
				s := c.fine[(int(cells[i])*c.layers+l)*2:]
				s[0] += unit * weight[i] * float64(vary[i])
				s[1] += float64(count[i])
			}
		}
	}
}
