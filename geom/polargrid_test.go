package geom_test

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"rimcast/geom"
)

// TestCellBoundaries: an inner edge belongs to its ring, an outer edge to the
// next one, the last edge to none; likewise for sectors, which close at north.
func TestCellBoundaries(t *testing.T) {
	g := geom.PolarGrid{Edges: []float64{1, 1.5, 2.5}, Sectors: 4}
	below := func(x float64) float64 { return math.Nextafter(x, -1) }
	for _, c := range []struct {
		rho, az float64
		cell    int
		ok      bool
	}{
		{1, 0, 0, true},
		{below(1), 0, 0, false},
		{1.5, 0, 4, true},
		{below(1.5), 0, 0, true},
		{below(2.5), 0, 4, true},
		{2.5, 0, 0, false},
		{1, math.Pi / 2, 1, true},
		{1, below(math.Pi / 2), 0, true},
		{1, 2 * math.Pi, 0, true},
		{1, below(2 * math.Pi), 3, true},
		{1, -1e-300, 0, true}, // rounds to a whole turn
		{1, -0.1, 3, true},
		{1, 7*math.Pi + 0.1, 2, true},
		{math.NaN(), 0, 0, false},
		{1, math.NaN(), 0, false},
		{1, math.Inf(1), 0, false},
		{math.Inf(1), 0, 0, false},
	} {
		if cell, ok := g.Cell(c.rho, c.az); cell != c.cell || ok != c.ok {
			t.Errorf("Cell(%v, %v) = %d, %t, want %d, %t", c.rho, c.az, cell, ok, c.cell, c.ok)
		}
	}
}

// TestCellPartition: a place is in the one cell whose edges enclose it.
func TestCellPartition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := geom.PolarGrid{
			Edges:   geom.EqualEdges(rapid.Float64Range(0, 3).Draw(t, "inner"), rapid.Float64Range(3.1, 9).Draw(t, "outer"), rapid.IntRange(1, 40).Draw(t, "rings")),
			Sectors: rapid.IntRange(1, 360).Draw(t, "sectors"),
		}
		if err := g.Valid(); err != nil {
			t.Fatal(err)
		}
		edge := rapid.SampledFrom(g.Edges).Draw(t, "edge")
		rho := rapid.OneOf(rapid.Float64Range(0, 10), rapid.Just(edge)).Draw(t, "rho")
		az := rapid.OneOf(rapid.Float64Range(0, 2*math.Pi*(1-1e-15)),
			rapid.Just(g.SectorEdge(rapid.IntRange(0, g.Sectors-1).Draw(t, "sector")))).Draw(t, "azimuth")
		found := -1
		for k := range g.Rings() {
			for s := range g.Sectors {
				if rho >= g.Edges[k] && rho < g.Edges[k+1] && az >= g.SectorEdge(s) && (s == g.Sectors-1 || az < g.SectorEdge(s+1)) {
					if found >= 0 {
						t.Fatal("two cells")
					}
					found = k*g.Sectors + s
				}
			}
		}
		cell, ok := g.Cell(rho, az)
		if ok != (found >= 0) || ok && cell != found {
			t.Fatalf("Cell = %d, %t, want %d", cell, ok, found)
		}
	})
}

// TestRingMid: the middle is the mean range over the area, here by summing thin
// rings; the areas add up to the annulus.
func TestRingMid(t *testing.T) {
	g := geom.PolarGrid{Edges: geom.EqualEdges(0, 8, 5), Sectors: 12}
	area := 0.0
	for k := range g.Rings() {
		lo, hi := g.Edges[k], g.Edges[k+1]
		var sum, w float64
		const n = 20000
		for i := range n {
			r := lo + (hi-lo)*(float64(i)+0.5)/n
			sum, w = sum+r*r, w+r
		}
		if got := g.RingMid(k); math.Abs(got-sum/w) > 1e-8 { // midpoint rule: (hi-lo)^2/(24 n^2)
			t.Errorf("ring %d: %v, want %v", k, got, sum/w)
		}
		area += g.RingArea(k)
	}
	if math.Abs(area-64*math.Pi) > 1e-12 {
		t.Errorf("areas sum to %v", area)
	}
}

func TestPolarGridValid(t *testing.T) {
	for name, g := range map[string]geom.PolarGrid{
		"zero":       {},
		"no sector":  {Edges: []float64{1, 2}},
		"one edge":   {Edges: []float64{1}, Sectors: 4},
		"descending": {Edges: []float64{1, 3, 2}, Sectors: 4},
		"equal":      {Edges: []float64{1, 1}, Sectors: 4},
		"negative":   {Edges: []float64{-1, 1}, Sectors: 4},
		"nan":        {Edges: []float64{math.NaN(), 1}, Sectors: 4},
		"infinite":   {Edges: []float64{1, math.Inf(1)}, Sectors: 4},
	} {
		if g.Valid() == nil {
			t.Errorf("%s: no error", name)
		}
	}
	var zero geom.PolarGrid
	if _, ok := zero.Cell(1, 1); ok || zero.Rings() != 0 || zero.Cells() != 0 {
		t.Error("the zero grid has cells")
	}
}

func ExamplePolarGrid_Cell() {
	g := geom.PolarGrid{Edges: []float64{1, 1.5, 2.5}, Sectors: 8}
	cell, ok := g.Cell(2, math.Pi/2) // two radii east of the centre
	fmt.Println(cell/g.Sectors, cell%g.Sectors, ok)
	fmt.Printf("%.3f\n", g.RingMid(1))
	// Output:
	// 1 2 true
	// 2.042
}

func BenchmarkPolarGridCell(b *testing.B) {
	g := geom.PolarGrid{Edges: geom.EqualEdges(1, 8, 28), Sectors: 72}
	rho := 1.0
	for b.Loop() {
		if rho += 1e-3; rho > 8 {
			rho = 1
		}
		g.Cell(rho, rho-3)
	}
}
