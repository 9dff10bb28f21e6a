package reports

import (
	"fmt"
	"io"
	"math"
	"testing"

	"rimcast/ejecta"
)

// BenchmarkPlainTable is the time of a row of the table of sums, for craters with
// three layers in ten rings and twelve sectors.
func BenchmarkPlainTable(b *testing.B) {
	l := NewPlainLayout([]float64{0, 1, 1.1, 1.5, 2, 2.5, 3, 4, 5, 6, 8}, 12)
	cells := make([]PlainCell, l.Cells())
	for i := range cells {
		cells[i] = PlainCell{Pixels: float32(100 * i), Coverage: 1, Mean: 200 + float32(math.Sin(float64(i))), SD: 12}
	}
	const craters = 3000
	rows := 0
	for b.Loop() {
		t := NewPlainTable(io.Discard, l)
		part, full := t.Part(), t.CratersAtOnce(3)
		for i := range craters {
			c := PlainCrater{fmt.Sprintf("B%07d", i), 1000 + float64(i), i % 7}
			for _, layer := range []string{"water", "hydroxyl", "temperature"} {
				cells[i%len(cells)].Mean += 0.25
				if err := part.Add(c, layer, "ppm", ejecta.StatusOK, cells); err != nil {
					b.Fatal(err)
				}
			}
			if i%full == full-1 || i == craters-1 {
				if err := part.End(); err != nil {
					b.Fatal(err)
				}
				if err := t.Join(part); err != nil {
					b.Fatal(err)
				}
			}
		}
		if err := t.Close(); err != nil {
			b.Fatal(err)
		}
		rows += 3 * craters * len(cells)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(rows), "ns/row")
}
