package main

import (
	"cmp"
	"math"
	"slices"

	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// Seams are drawn, not measured: the edges between pixels of different strips
// round the craters that get a sheet, exactly where the pixels end.

// seams lists the seams round the best targets in every layer of strips.
func (p *pipeline) seams(s *reports.Survey) error {
	if p.blind {
		return nil
	}
	top := s.Targets
	if n := p.sv.Output.Top; n >= 0 {
		top = top[:min(n, len(top))]
	}
	for i := range p.sv.Covariates {
		section := &p.sv.Covariates[i]
		if section.Kind != "strip" || len(top) == 0 {
			continue
		}
		l, err := p.sv.openLayer(section, p.body)
		if err != nil {
			return err
		}
		for _, t := range top {
			s.Seams = append(s.Seams, p.seamsAt(l, section.Name, t.CraterIndex)...)
		}
		l.Close()
	}
	slices.SortStableFunc(s.Seams, func(a, b reports.Seam) int { return cmp.Compare(a.CraterIndex, b.CraterIndex) })
	return nil
}

// maxSeamPixels bounds the ground on which seams are looked for: craters of more
// than a hundred pixels in radius are drawn without.
const maxSeamPixels = 1 << 20

// seamsAt lists the seams of a layer round a crater. Where the strips cannot be
// read the alarms say so; nothing is drawn.
func (p *pipeline) seamsAt(l *raster.Layer, name string, crater int) []reports.Seam {
	c := p.cat.Craters[crater]
	var patch raster.Patch
	set := &raster.LayerSet{Layers: []*raster.Layer{l}}
	if l.Grid().Geometry(p.body, c.Centre, cutoutHalfWidth*c.Radius, 0, &patch) != nil || patch.Len() > maxSeamPixels || set.Fill(&patch) != nil {
		return nil
	}
	f := newSeamFinder(&patch)
	var out []reports.Seam
	for _, pair := range f.pairs() {
		m := reports.Seam{CraterIndex: crater, Layer: name, StripA: pair[0], StripB: pair[1]}
		for _, line := range f.lines(pair) {
			m.Lines = append(m.Lines, placesOf(l.Grid(), line)...)
		}
		out = append(out, m)
	}
	return out
}

// corner is the upper left corner of a pixel, columns unwrapped.
type corner struct{ x, y int }

// edge joins two corners; the first is to the left of or above the second.
type edge struct{ a, b corner }

// seamFinder holds the edges between pixels of two strips, by their numbers.
type seamFinder struct{ edges map[[2]float64][]edge }

func newSeamFinder(patch *raster.Patch) *seamFinder {
	f := &seamFinder{map[[2]float64][]edge{}}
	value := make(map[corner]float64, patch.Len())
	for i, v := range patch.Values[0] {
		if v == v {
			value[corner{patch.Column(i), patch.Row(i)}] = float64(v)
		}
	}
	for i := range patch.Len() { // in the order of the pixels, not of the map
		at := corner{patch.Column(i), patch.Row(i)}
		f.between(value, at, corner{at.x + 1, at.y}, edge{corner{at.x + 1, at.y}, corner{at.x + 1, at.y + 1}})
		f.between(value, at, corner{at.x, at.y + 1}, edge{corner{at.x, at.y + 1}, corner{at.x + 1, at.y + 1}})
	}
	return f
}

// between adds an edge when the pixels on its two sides are of two strips.
func (f *seamFinder) between(value map[corner]float64, a, b corner, e edge) {
	x, ok := value[a]
	y, too := value[b]
	if !ok || !too || x == y {
		return
	}
	pair := [2]float64{math.Min(x, y), math.Max(x, y)}
	f.edges[pair] = append(f.edges[pair], e)
}

// pairs are the strips that meet, in the order of their numbers.
func (f *seamFinder) pairs() [][2]float64 {
	var out [][2]float64
	for pair := range f.edges {
		out = append(out, pair)
	}
	slices.SortFunc(out, func(a, b [2]float64) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(a[1], b[1])) })
	return out
}

// lines joins the edges of a pair end to end.
func (f *seamFinder) lines(pair [2]float64) [][]corner {
	w := walker{edges: f.edges[pair], at: map[corner][]int{}}
	for i, e := range w.edges {
		w.at[e.a], w.at[e.b] = append(w.at[e.a], i), append(w.at[e.b], i)
	}
	w.used = make([]bool, len(w.edges))
	var out [][]corner
	for _, ends := range []bool{true, false} { // open lines from their ends first, then closed ones
		for i, e := range w.edges {
			switch {
			case w.used[i]:
			case !ends, len(w.at[e.a]) == 1:
				out = append(out, w.walk(e.a, i))
			case len(w.at[e.b]) == 1:
				out = append(out, w.walk(e.b, i))
			}
		}
	}
	return out
}

// walker goes along edges, each once.
type walker struct {
	edges []edge
	used  []bool
	at    map[corner][]int
}

// walk follows unused edges from a corner, the first by its number.
func (w *walker) walk(from corner, i int) []corner {
	line := []corner{from}
	for i >= 0 {
		w.used[i] = true
		if w.edges[i].a == from {
			from = w.edges[i].b
		} else {
			from = w.edges[i].a
		}
		line = append(line, from)
		i = w.next(from)
	}
	return line
}

func (w *walker) next(at corner) int {
	for _, i := range w.at[at] {
		if !w.used[i] {
			return i
		}
	}
	return -1
}

// placesOf turns corners into places; a corner that lies nowhere ends a line.
func placesOf(g *raster.Grid, line []corner) (out [][]geom.LonLat) {
	var run []geom.LonLat
	for _, c := range line {
		q, ok := g.LonLat(float64(c.x), float64(c.y))
		if ok {
			run = append(run, q)
			continue
		}
		out, run = append(out, run), nil
	}
	return append(out, run)
}
