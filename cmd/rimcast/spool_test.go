package main

import (
	"os"
	"reflect"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"rimcast/ejecta"
)

// drawnDetail is a detail that gob gives back as it is.
func drawnDetail(t *rapid.T) ejecta.Detail {
	d := ejecta.Detail{Layers: &ejecta.LayerEffect{Edges: rapid.SliceOfN(rapid.Float64(), 1, 4).Draw(t, "edges")}}
	for range rapid.IntRange(1, 40).Draw(t, "rings") {
		d.Radial = append(d.Radial, ejecta.RingValue{Mean: rapid.Float64().Draw(t, "mean"), Pixels: rapid.Int().Draw(t, "pixels")})
		d.Silent = append(d.Silent, ejecta.Alarm{Name: rapid.String().Draw(t, "name")})
	}
	if rapid.Bool().Draw(t, "sums") {
		d.Sums = &ejecta.Sums{Score: rapid.SliceOfN(rapid.Float64(), 1, 40).Draw(t, "score")}
	}
	return d
}

// Records come back in any order, the last of each number.
func TestSpoolGivesBack(t *testing.T) {
	dir := t.TempDir()
	rapid.Check(t, func(rt *rapid.T) {
		s, err := newSpool[ejecta.Detail](dir)
		if err != nil {
			rt.Fatal(err)
		}
		defer s.close()
		want := map[int]ejecta.Detail{}
		for range rapid.IntRange(0, 30).Draw(rt, "puts") {
			i, d := rapid.IntRange(0, 20).Draw(rt, "number"), drawnDetail(rt)
			s.put(i, &d)
			want[i] = d
		}
		for i := range 25 {
			var got ejecta.Detail
			if err := s.get(i, &got); err != nil || !reflect.DeepEqual(got, want[i]) {
				rt.Fatalf("record %d (%v): %+v, want %+v", i, err, got, want[i])
			}
		}
	})
	if left, _ := os.ReadDir(dir); len(left) != 0 {
		t.Errorf("%d files are left", len(left))
	}
}

func TestSpoolFromManyGoroutines(t *testing.T) {
	s, err := newSpool[ejecta.Detail](t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	defer s.close()
	var wg sync.WaitGroup
	for w := range 8 {
		wg.Go(func() {
			for k := range 100 {
				i := k*8 + w
				s.put(i, &ejecta.Detail{Families: []ejecta.FamilyTest{{Z: float64(i)}}})
				var d ejecta.Detail
				if err := s.get(i, &d); err != nil || d.Families[0].Z != float64(i) {
					t.Errorf("record %d: %v %+v", i, err, d)
				}
			}
		})
	}
	wg.Wait()
}

// A fault of a write stays: what was kept before is not whole either.
func TestSpoolTellsOfFaults(t *testing.T) {
	s, err := newSpool[ejecta.Detail](t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	d := ejecta.Detail{Families: []ejecta.FamilyTest{{Z: 1}}}
	s.put(0, &d)
	s.file.Close()
	s.put(1, &d)
	if s.fault() == nil || s.get(0, &d) == nil || s.get(1, &d) == nil {
		t.Error("the fault is not told")
	}
	if _, err := newSpool[ejecta.Detail]("/no/such/place"); err == nil {
		t.Error("a spool nowhere")
	}
}
