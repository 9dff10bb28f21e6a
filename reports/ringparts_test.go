package reports

import (
	"bytes"
	"fmt"
	"math"
	"reflect"
	"testing"

	"github.com/parquet-go/parquet-go"

	"rimcast/ejecta"
)

// TestPartsAreRows: parts that were encoded apart and joined give, row by row, what
// the rows say, in row groups of one part each.
func TestPartsAreRows(t *testing.T) {
	l := NewPlainLayout([]float64{0, 1.1, 2.5, 8}, 4)
	cells := []PlainCell{{10, 1, 2, 3}, {0, 0, float32(math.NaN()), float32(math.NaN())}, {5, 0.5, -1, 0}, {1, 1, 7, 0}, {2, 1, 8, 1}, {3, 1, 9, 1}, {4, 1, 6, 1}}
	var out bytes.Buffer
	table := NewPlainTable(&out, l)
	parts := []*PlainPart{table.Part(), table.Part()}
	var want []plainRow
	for round := range 6 {
		p := parts[round%2]
		for i := range 900 {
			c := PlainCrater{ID: fmt.Sprint("C", round, "-", i), Radius: 1000 + float64(i), Neighbours: i % 3}
			status := []ejecta.Status{ejecta.StatusOK, ejecta.StatusOK, ejecta.StatusNotCovered}[i%3]
			want = append(want, p.rowsOf(c, "water", "ppm", status, cells)...)
			if err := p.Add(c, "water", "ppm", status, cells); err != nil {
				t.Fatal(err)
			}
		}
		if err := p.End(); err != nil {
			t.Fatal(err)
		}
		if err := table.Join(p); err != nil {
			t.Fatal(err)
		}
	}
	if err := table.Close(); err != nil {
		t.Fatal(err)
	}
	rows, err := parquet.Read[plainRow](bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil || !reflect.DeepEqual(rows, want) {
		t.Fatalf("%d rows, want %d, or they differ: %v", len(rows), len(want), err)
	}
	f, err := parquet.OpenFile(bytes.NewReader(out.Bytes()), int64(out.Len()))
	if err != nil || len(f.RowGroups()) != 6 {
		t.Errorf("%d row groups in place of 6: %v", len(f.RowGroups()), err)
	}
}

// rowsOf are the rows that a crater gets, made one by one.
func (p *PlainPart) rowsOf(c PlainCrater, layer, unit string, status ejecta.Status, cells []PlainCell) (rows []plainRow) {
	head := plainRow{CraterID: c.ID, Layer: layer, Unit: unit, Status: string(status), Neighbours: int32(c.Neighbours)}
	if status != ejecta.StatusOK {
		return []plainRow{head}
	}
	for i := range cells {
		rows = append(rows, p.row(head, c.Radius, i, &cells[i]))
	}
	return rows
}
