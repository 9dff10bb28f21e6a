package main

import (
	"path/filepath"
	"runtime"
	"testing"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
	"rimcast/raster"
)

// Limits of what a crater of two species holds that a sieve left out, bytes: beside
// its entry of the catalogue, its looks and its place among the targets a finding
// has no room.
const (
	heldSieved         = 450
	heldSievedFinished = 700
)

// heldBySieved is what a crater holds in memory, of many that a sieve left out but
// one in a hundred.
func heldBySieved(t *testing.T, n int) (before, finished int64) {
	t.Helper()
	start := heapInUse()
	p := inventedSieve(t, n, 0.99)
	if err := p.sv.openDetails(t.TempDir()); err != nil {
		t.Fatal(err)
	}
	defer p.sv.closeDetails()
	p.details = p.sv.details
	before = (heapInUse() - start) / int64(n)
	p.measureAll(t)
	p.label()
	s, err := p.finish()
	if err != nil {
		t.Fatal(err)
	}
	if s.Count() != 2*n || len(s.Findings) > n/25 || len(s.Targets) != n {
		t.Errorf("%d findings, %d of them in memory, %d targets of %d craters", s.Count(), len(s.Findings), len(s.Targets), n)
	}
	finished = (heapInUse() - start) / int64(n)
	runtime.KeepAlive(p)
	runtime.KeepAlive(s)
	return before, finished
}

// TestHeldBySieved: what a crater holds that a sieve left out is bounded, and far
// from what its findings would take.
func TestHeldBySieved(t *testing.T) {
	before, finished := heldBySieved(t, 30000)
	t.Logf("a crater of two species, one in a hundred measured, holds %d bytes before the measuring, %d when finished", before, finished)
	if before > heldSieved || finished > heldSievedFinished {
		t.Errorf("%d and %d bytes are held; %d and %d are stated", before, finished, heldSieved, heldSievedFinished)
	}
}

// TestSievedInParts: a part of a survey with a sieve is merged to the findings that
// it was made from, and a part whose sites do not fit its findings is refused.
func TestSievedInParts(t *testing.T) {
	const n = 400
	p := inventedSieve(t, n, 0.9)
	p.measureAll(t)
	p.label()
	q := inventedSieve(t, n, 0.9)
	q.quick = nil
	for slot := range p.slots() {
		e, err := p.entry(slot)
		if err == nil {
			err = q.restore(&e)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	q.label()
	a, errA := p.finish()
	b, errB := q.finish()
	if errA != nil || errB != nil {
		t.Fatal(errA, errB)
	}
	if a.Bare().Len() < n/2 || a.Count() != 2*n || b.Bare().Len() != a.Bare().Len() {
		t.Fatalf("%d and %d bare craters", a.Bare().Len(), b.Bare().Len())
	}
	for i, f := range a.All() {
		g := b.FindingsOf(f.CraterIndex)[i%2]
		if f.Verdict != g.Verdict || f.Status != g.Status || (f.Quick == nil) != (g.Quick == nil) || f.Quick != nil && *f.Quick != *g.Quick {
			t.Fatalf("finding %d: %+v and %+v", i, f, g)
		}
	}
	k := a.Bare().Crater(0)
	wrong := partEntry{Slot: 2 * k, Finding: ejecta.Finding{Status: ejecta.StatusOK}}
	if q.restore(&wrong) == nil {
		t.Error("a measurement of a crater that was left out is taken")
	}
}

// TestOffMap: a crater is off the map when no pixel lies within its reach.
func TestOffMap(t *testing.T) {
	dir, region := t.TempDir(), smallScenario()
	region.Grid = testblanket.GridRecipe{Width: 240, Height: 120, West: 10, North: 15, Step: 0.25}
	region.Species, region.Old.Count, region.Craters = region.Species[:1], 2, nil
	_, err := writeInvented(dir, region, 1)
	if err != nil {
		t.Fatal(err)
	}
	p := openedSurvey(t, filepath.Join(dir, "survey.toml"))
	defer p.close()
	if err := p.findOffMap(); err != nil {
		t.Fatal(err)
	}
	for i := range p.sites {
		if p.sites[i].off {
			t.Errorf("crater %d of the map is off it", i)
		}
	}
	for lon, want := range map[float64]bool{-120: true, p.cat.Craters[0].Centre.Lon: false} {
		p.cat.Craters[0].Centre.Lon = lon
		if p.offMap(0, &raster.Patch{}) != want {
			t.Errorf("longitude %g: off the map %v", lon, !want)
		}
	}
}
