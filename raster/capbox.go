package raster

import (
	"math"

	"rimcast/geom"
)

const (
	capAzimuths = 64
	capRings    = 4
)

// cylinderBoxes returns the rectangles that hold the cap on a map with
// repeating columns: cut where the columns start again, and at the narrower
// last block of a coarse level.
func (g *Grid) cylinderBoxes(b geom.Body, c *cylindrical, centre geom.LonLat, reach float64, p *Patch) []generalBox {
	gf := geom.NewFrame(b, centre)
	lo, hi, half := centre.Lat, centre.Lat, 0.0
	for i := 0; i < 2*capAzimuths; i++ {
		q := gf.LonLat(reach, float64(i)*math.Pi/capAzimuths)
		lo, hi = math.Min(lo, q.Lat), math.Max(hi, q.Lat)
		half = math.Max(half, math.Abs(wrap180(q.Lon-centre.Lon)))
	}
	half *= 1.01
	for _, pole := range []float64{-90, 90} {
		if r, _ := gf.Polar(geom.LonLat{Lon: centre.Lon, Lat: pole}); r <= reach {
			lo, hi, half = math.Min(lo, pole), math.Max(hi, pole), 180
		}
	}
	block := float64(p.Block)
	row := func(lat float64) float64 {
		return (c.y0 + c.ky*(toGraphic(lat, c.rf)-c.lat0) - g.Geo[3]) / g.Geo[5] / block
	}
	r0, r1 := math.Min(row(lo), row(hi)), math.Max(row(lo), row(hi))
	period := (g.period() + p.Block - 1) / p.Block
	n := int(math.Ceil(half/math.Abs(g.Geo[1]/c.kx)/block)) + 3
	x0, x1 := p.col0-n, p.col0+n+1
	if x1-x0 >= period {
		x0 = p.col0 - period/2
		x1 = x0 + period
	}
	if r1 < -2 || r0 > float64(g.Height)/block+2 || !g.columnsMeet(x0, x1-x0, p.Block) {
		return nil
	}
	return g.cutBoxes(span{x0: x0, y0: int(math.Floor(r0 - 1)), x1: x1, y1: int(math.Ceil(r1 + 2))}, period, p.Block)
}

func (g *Grid) cutBoxes(s span, period, block int) (boxes []generalBox) {
	tail := g.period() - (period-1)*block // columns in the last block
	for x := s.x0; x < s.x1; {
		shift := x - floorMod(x, period)
		b := generalBox{span: span{x0: x, y0: s.y0, x1: min(s.x1, shift+period), y1: s.y1}, shift: shift, narrow: 1}
		if tail < block {
			if last := shift + period - 1; x < last {
				b.x1 = min(s.x1, last)
			} else {
				b.narrow = float64(tail) / float64(block)
				b.dx = b.narrow/2 - 0.5
			}
		}
		boxes = append(boxes, b)
		x = b.x1
	}
	return boxes
}

// capBoxes returns the rectangles that hold the cap on any other map. The cap
// is sampled on rings; where the map is cut, the images of neighbouring
// samples lie far apart and belong to different rectangles.
func (g *Grid) capBoxes(b geom.Body, centre geom.LonLat, reach float64, p *Patch) []generalBox {
	s := newCapSample(g, b, centre, reach, p)
	for r := 0; r < capRings; r++ {
		for a := 0; a < capAzimuths; a++ {
			s.link(1+r*capAzimuths+a, 1+r*capAzimuths+(a+1)%capAzimuths)
			if r == 0 {
				s.link(0, 1+a)
			} else {
				s.link(1+(r-1)*capAzimuths+a, 1+r*capAzimuths+a)
			}
		}
	}
	return g.onMap(mergeBoxes(s.boxes()), p.Block)
}

// clipPixels is the size from which a rectangle loses what lies beyond the edge
// of the map, as near the far pole of a stereographic map.
const clipPixels = 1 << 22

// onMap drops rectangles that do not touch the map, and clips very large ones.
func (g *Grid) onMap(boxes []generalBox, block int) (out []generalBox) {
	m := span{x1: (g.Width + block - 1) / block, y1: (g.Height + block - 1) / block}
	for _, b := range boxes {
		if b.x1 <= m.x0 || b.y1 <= m.y0 || b.x0 >= m.x1 || b.y0 >= m.y1 {
			continue
		}
		if float64(b.x1-b.x0)*float64(b.y1-b.y0) > clipPixels {
			b.x0, b.y0, b.x1, b.y1 = max(b.x0, m.x0), max(b.y0, m.y0), min(b.x1, m.x1), min(b.y1, m.y1)
		}
		out = append(out, b)
	}
	return out
}

// capSample is the cap sampled at its centre and on rings.
type capSample struct {
	g      *Grid
	frame  *geom.Frame
	polar  [][2]float64
	x, y   []float64 // pixels of the level
	ok     []bool
	parent []int
	step   []float64 // longest step to a linked neighbour
	usual  float64   // pixels between neighbouring samples at the centre
	block  float64
}

func newCapSample(g *Grid, b geom.Body, centre geom.LonLat, reach float64, p *Patch) *capSample {
	const n = 1 + capRings*capAzimuths
	s := &capSample{g: g, frame: geom.NewFrame(b, centre), polar: make([][2]float64, n), x: make([]float64, n),
		y: make([]float64, n), ok: make([]bool, n), parent: make([]int, n), step: make([]float64, n), block: float64(p.Block)}
	for i := range s.polar {
		if i > 0 {
			s.polar[i] = [2]float64{reach * float64(1+(i-1)/capAzimuths) / capRings, float64((i-1)%capAzimuths) * 2 * math.Pi / capAzimuths}
		}
		q := s.frame.LonLat(s.polar[i][0], s.polar[i][1])
		s.x[i], s.y[i], s.parent[i] = q.Lon, q.Lat, i
	}
	forwardAll(g.Proj, s.x, s.y, s.ok)
	for i := range s.x {
		s.x[i], s.y[i] = g.pixel(s.x[i], s.y[i])
		s.x[i] /= s.block
		s.y[i] /= s.block
		s.ok[i] = s.ok[i] && math.Abs(s.x[i]) < maxPeriod && math.Abs(s.y[i]) < maxPeriod
	}
	s.usual = reach / capRings / p.PixelSize
	if !finite(s.usual) {
		s.usual = 0
	}
	return s
}

func (s *capSample) root(i int) int {
	for s.parent[i] != i {
		s.parent[i] = s.parent[s.parent[i]]
		i = s.parent[i]
	}
	return i
}

// link joins two neighbouring samples unless the map is cut between them: then
// the image of the place halfway is near one of them and far from the other.
func (s *capSample) link(i, j int) {
	if !s.ok[i] || !s.ok[j] {
		return
	}
	d := math.Hypot(s.x[i]-s.x[j], s.y[i]-s.y[j])
	if d > 3*s.usual+2 {
		a, b := s.frame.LonLat(s.polar[i][0], s.polar[i][1]), s.frame.LonLat(s.polar[j][0], s.polar[j][1])
		r, az := geom.NewFrame(s.frame.Body(), a).Polar(b)
		mid := geom.NewFrame(s.frame.Body(), a).LonLat(r/2, az)
		mx, my, ok := s.g.Proj.Forward(mid)
		if !ok {
			return
		}
		mx, my = s.g.pixel(mx, my)
		mx, my = mx/s.block, my/s.block
		if math.Max(math.Hypot(mx-s.x[i], my-s.y[i]), math.Hypot(mx-s.x[j], my-s.y[j])) > 0.9*d {
			return
		}
	}
	s.step[i], s.step[j] = math.Max(s.step[i], d), math.Max(s.step[j], d)
	s.parent[s.root(i)] = s.root(j)
}

// boxes returns one rectangle for each connected part of the cap, widened by
// the distance between samples.
func (s *capSample) boxes() (boxes []generalBox) {
	index := make(map[int]int)
	for i := range s.x {
		if !s.ok[i] {
			continue
		}
		m := math.Max(s.step[i], math.Min(s.usual, 1e6)) + 2
		b := span{x0: int(math.Floor(s.x[i] - m)), y0: int(math.Floor(s.y[i] - m)), x1: int(math.Ceil(s.x[i] + m)), y1: int(math.Ceil(s.y[i] + m))}
		r := s.root(i)
		n, seen := index[r]
		if !seen {
			index[r] = len(boxes)
			boxes = append(boxes, generalBox{span: b, narrow: 1})
			continue
		}
		boxes[n].span = union(boxes[n].span, b)
	}
	return boxes
}

func union(a, b span) span {
	return span{x0: min(a.x0, b.x0), y0: min(a.y0, b.y0), x1: max(a.x1, b.x1), y1: max(a.y1, b.y1)}
}

// mergeBoxes joins rectangles that overlap, so that no pixel comes twice.
func mergeBoxes(boxes []generalBox) []generalBox {
	for i := 0; i < len(boxes); i++ {
		for j := i + 1; j < len(boxes); j++ {
			a, b := boxes[i].span, boxes[j].span
			if a.x0 < b.x1 && b.x0 < a.x1 && a.y0 < b.y1 && b.y0 < a.y1 {
				boxes[i].span = union(a, b)
				boxes = append(boxes[:j], boxes[j+1:]...)
				i = -1
				break
			}
		}
	}
	return boxes
}
