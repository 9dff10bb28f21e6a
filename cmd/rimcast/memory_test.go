package main

import (
	"bufio"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"os"
	"runtime"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
)

// partCraters and partOut make a part of so many invented craters for merge.
var (
	partCraters = flag.Int("memory.craters", 0, "craters of an invented part")
	partSieved  = flag.Float64("memory.sieved", 0, "share of its craters that a sieve left out")
	partOut     = flag.String("memory.part", "", "file for an invented part, to be merged")
)

// inventedFinding is a finding as a screening leaves it: two dozen rings and
// sectors, thirty alarms, one of them raised at times.
func inventedFinding(rng *rand.Rand) ejecta.Finding {
	f := ejecta.Finding{Status: ejecta.StatusOK, Pattern: ejecta.PatternNone}
	ejecta.BlankNumbers(&f)
	f.ExcessP, f.AsymmetryP = rng.Float64(), rng.Float64()
	f.Excess, f.ExcessSE, f.RimExcess, f.RimExcessSE = rng.NormFloat64(), 1, rng.NormFloat64(), 1
	f.PixelsPer, f.Coverage, f.Detectable50 = 3, 0.9, 5
	for k := range 12 {
		f.Radial = append(f.Radial, ejecta.RingValue{RhoLo: float64(k), RhoHi: float64(k + 1), Mean: rng.Float64(), SE: rng.Float64(), Pixels: rng.IntN(999)})
		f.Azimuthal = append(f.Azimuthal, ejecta.SectorValue{AzLo: 30 * float64(k), AzHi: 30 * float64(k+1), Mean: rng.Float64(), SE: rng.Float64()})
		f.Families = append(f.Families, ejecta.FamilyTest{Name: "gap", Z: rng.Float64(), P: rng.Float64()})
	}
	for k := range 30 {
		f.Alarms = append(f.Alarms, inventedAlarm(k, rng.Float64()))
	}
	return f
}

// inventedAlarm is raised once in twenty times, or lacks its layer.
func inventedAlarm(k int, p float64) ejecta.Alarm {
	a := ejecta.Alarm{Name: fmt.Sprintf("alarm_%d", k), Value: math.NaN(), Limit: 0.05}
	if k%2 == 0 {
		a.NotRun = "no such layer"
		return a
	}
	a.Value, a.Raised, a.Detail = p, k == 1 && p < 0.05, fmt.Sprintf("the chance of it is %g where nothing is the matter", p)
	return a
}

// inventedPipeline has n craters and two species, and no measurement yet.
func inventedPipeline(t testing.TB, n int) *pipeline { return inventedSieve(t, n, 0) }

// inventedSieve is one of which a sieve left out a share.
func inventedSieve(t testing.TB, n int, left float64) *pipeline {
	t.Helper()
	s := &partShared{Survey: saveSettings(fixtureSettings()), Units: []string{"ppm", "ppm"}, Sites: make([]savedSite, n), Body: geom.Sphere("Nerith", 720e3)}
	for i := range n {
		s.Cat.Craters = append(s.Cat.Craters, geom.Crater{Index: i, ID: fmt.Sprintf("B%07d", i), Radius: 2e3,
			Centre: geom.LonLat{Lon: math.Mod(float64(i)*137.508, 360) - 180, Lat: 160*float64(i)/float64(n) - 80}, Freshness: math.NaN(), Age: math.NaN()})
		if math.Mod(float64(i)*0.618034, 1) < left {
			s.Sites[i] = savedSite{Status: ejecta.StatusSieved, Note: "not measured: the sieve found others more promising"}
		}
	}
	p, err := pipelineOf(s, &silentProgress{newMessages(io.Discard)})
	if err != nil {
		t.Fatal(err)
	}
	p.blind = true
	if left > 0 {
		p.quick = inventedLooks(p.slots())
	}
	return p
}

// inventedLooks are quick looks at craters that show nothing.
func inventedLooks(n int) []ejecta.QuickP {
	rng, looks := rand.New(rand.NewPCG(2, 3)), make([]ejecta.QuickP, n)
	for i := range looks {
		looks[i] = ejecta.QuickP{Excess: rng.Float64(), Direction: rng.Float64(), Plain: [2]float64{rng.Float64(), rng.Float64()}}
	}
	return looks
}

// measureInvented fills in one measurement.
func (p *pipeline) measureInvented(slot int) error {
	rng := rand.New(rand.NewPCG(1, uint64(slot)))
	p.putFinding(slot, inventedFinding(rng))
	var err error
	p.evidence[p.at(slot)], err = ejecta.RestoreEvidence(rng.NormFloat64(), 1, []float64{1, 2, 3, 4}, []float64{1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1})
	return err
}

func heapInUse() int64 {
	runtime.GC()
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// measureAll invents every measurement.
func (p *pipeline) measureAll(t *testing.T) {
	t.Helper()
	for slot := range p.slots() {
		if !p.hasRow(slot) {
			continue
		}
		if err := p.measureInvented(slot); err != nil {
			t.Fatal(err)
		}
	}
}

// heldByCrater is what a crater of two species holds in memory after measuring,
// and when the survey is finished.
func heldByCrater(t *testing.T, n int, spooled bool) (measured, finished int64) {
	t.Helper()
	before := heapInUse()
	p := inventedPipeline(t, n)
	if spooled {
		if err := p.sv.openDetails(t.TempDir()); err != nil {
			t.Fatal(err)
		}
		defer p.sv.closeDetails()
		p.details = p.sv.details
	}
	p.measureAll(t)
	measured = (heapInUse() - before) / int64(n)
	if spooled {
		t.Logf("a crater and two species take %d bytes of the scratch file", p.details.end/int64(n))
	}
	p.label()
	s, err := p.finish()
	if err != nil {
		t.Fatal(err)
	}
	finished = (heapInUse() - before) / int64(n)
	runtime.KeepAlive(p)
	runtime.KeepAlive(s)
	return measured, finished
}

// Limits of what a crater of two species holds, bytes.
const (
	heldMeasured = 4500
	heldFinished = 6500
)

// TestHeldByCrater: what a crater holds in memory is bounded, and would not be if
// its details stayed.
func TestHeldByCrater(t *testing.T) {
	measured, finished := heldByCrater(t, 3000, true)
	all, _ := heldByCrater(t, 3000, false)
	t.Logf("a crater and two species hold %d bytes after measuring, %d when finished; with its details %d", measured, finished, all)
	if measured > heldMeasured || finished > heldFinished {
		t.Errorf("%d and %d bytes are held; %d and %d are stated", measured, finished, heldMeasured, heldFinished)
	}
	if all < 2*heldMeasured {
		t.Errorf("with its details a crater holds %d bytes: the limits tell nothing", all)
	}
}

// TestInventedPart writes a part for measuring merge at size, when asked to.
func TestInventedPart(t *testing.T) {
	if *partOut == "" {
		t.Skip("give -memory.part FILE -memory.craters N")
	}
	p := inventedSieve(t, *partCraters, *partSieved)
	p.sv.Output.Top = 0
	f, err := os.Create(*partOut)
	if err != nil {
		t.Fatal(err)
	}
	if err := p.sv.openDetails(t.TempDir()); err != nil {
		t.Fatal(err)
	}
	defer p.sv.closeDetails()
	p.details = p.sv.details
	p.measureAll(t)
	p.label()
	w := bufio.NewWriter(f)
	if err := errors.Join(p.writePart(w, p.sv.header(*partCraters, nil)), w.Flush(), f.Close()); err != nil {
		t.Fatal(err)
	}
}
