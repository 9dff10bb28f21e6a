package main

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// fixturePipeline is a pipeline of two craters and two species that has
// measured, without maps.
func fixturePipeline(t testing.TB) *pipeline {
	t.Helper()
	sv := fixtureSettings()
	zero := 0.0
	sv.Species[1].Offset = &zero
	s := &partShared{
		Survey: saveSettings(sv), Units: []string{"ppm", "ppm"}, Sites: make([]savedSite, 2),
		Cat:   geom.Catalogue{Craters: []geom.Crater{{ID: "a", Radius: 1e3}, {ID: "b", Radius: 1e3}}},
		Body:  geom.Sphere("Nerith", 720e3),
		Nulls: [][][]float64{{{1, 2, 3, 4}, nil}}, Scales: []savedScale{{Species: 1, Lambda: 1.1}},
	}
	p, err := pipelineOf(s, &silentProgress{newMessages(io.Discard)})
	if err != nil {
		t.Fatal(err)
	}
	p.evidence[1], _ = ejecta.RestoreEvidence(3, 1, []float64{1, 2, 3, 4}, make([]float64, 16))
	p.findings[1] = ejecta.Finding{CraterIndex: 0, Species: "hydroxyl", Excess: 5}
	return p
}

func partBytes(t testing.TB, p *pipeline) []byte {
	t.Helper()
	var b bytes.Buffer
	in := []reports.Input{{Role: "catalogue", Path: "craters.geojson", Bytes: 3, SHA256: "abc"}}
	if err := p.writePart(&b, p.sv.header(len(p.cat.Craters), in)); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestPartComesBack(t *testing.T) {
	p := fixturePipeline(t)
	whole := partBytes(t, p)
	q, err := readPart(bytes.NewReader(whole), false)
	if err != nil {
		t.Fatal(err)
	}
	back, err := pipelineOf(q.shared, p.prog)
	if err != nil {
		t.Fatal(err)
	}
	if err := back.fillFrom([]string{"x"}, []*part{q}); err != nil {
		t.Fatal(err)
	}
	if back.sv.Species[1].Offset == nil || back.sv.Species[0].Offset != nil {
		t.Error("an offset of zero and no offset are mixed up")
	}
	if !bytes.Equal(whole, partBytes(t, back)) {
		t.Error("writing it again gives other bytes")
	}
	if settingsSum(p.sv) != settingsSum(back.sv) {
		t.Error("the settings have changed")
	}
}

func TestDamagedParts(t *testing.T) {
	whole := partBytes(t, fixturePipeline(t))
	for n := range whole {
		if _, err := readPart(bytes.NewReader(whole[:n]), false); err == nil {
			t.Fatalf("the first %d of %d bytes pass for the whole", n, len(whole))
		}
	}
	for at := range whole {
		broken := bytes.Clone(whole)
		broken[at] ^= 0x10
		if _, err := readPart(bytes.NewReader(broken), false); err == nil {
			t.Fatalf("a flipped bit in byte %d goes unseen", at)
		}
	}
	if _, err := readPart(bytes.NewReader(append(bytes.Clone(whole), whole[len(partMagic):]...)), false); err == nil {
		t.Error("a second part behind the first goes unseen")
	}
}

// TestTornCheckpoints cuts a checkpoint everywhere: what is whole comes back.
func TestTornCheckpoints(t *testing.T) {
	p := fixturePipeline(t)
	var b bytes.Buffer
	b.WriteString(partMagic)
	err := errors.Join(writeFrame(&b, frameHeader, p.sv.header(2, nil)), p.writeEntries(&b, []int{0}))
	first := b.Len()
	if err = errors.Join(err, p.writeEntries(&b, []int{1, 2})); err != nil {
		t.Fatal(err)
	}
	for n := first; n <= b.Len(); n++ {
		c, err := readPart(bytes.NewReader(b.Bytes()[:n]), true)
		if err != nil {
			t.Fatal(err)
		}
		if want := map[bool]int{false: 1, true: 3}[n == b.Len()]; len(c.entries) != want {
			t.Fatalf("%d of %d bytes: %d entries", n, b.Len(), len(c.entries))
		}
		if want := map[bool]int{false: first, true: b.Len()}[n == b.Len()]; c.size != int64(want) {
			t.Fatalf("%d of %d bytes: whole up to %d", n, b.Len(), c.size)
		}
	}
}

func TestAbsurdHeaders(t *testing.T) {
	good := partHeader{Format: 1, Shard: 1, Of: 2, Craters: 5, Species: 1}
	if err := good.check(); err != nil {
		t.Fatal(err)
	}
	for name, change := range map[string]func(*partHeader){
		"format":       func(h *partHeader) { h.Format = 2 },
		"shard 0":      func(h *partHeader) { h.Shard = 0 },
		"shard beyond": func(h *partHeader) { h.Shard = 3 },
		"too many":     func(h *partHeader) { h.Craters = 1 << 40 },
		"product":      func(h *partHeader) { h.Craters, h.Species = 1<<27, 1<<27 },
		"negative":     func(h *partHeader) { h.Craters = -1 },
		"no species":   func(h *partHeader) { h.Species = 0 },
	} {
		h := good
		if change(&h); h.check() == nil {
			t.Errorf("%s is accepted", name)
		}
	}
}

func FuzzReadPart(f *testing.F) {
	whole := partBytes(f, fixturePipeline(f))
	f.Add(whole, false)
	f.Add(whole[:len(whole)/2], true)
	f.Add([]byte(partMagic+"H\xff\xff\xff\xff"), false)
	f.Fuzz(func(t *testing.T, text []byte, torn bool) {
		p, err := readPart(bytes.NewReader(text), torn)
		if err != nil {
			return
		}
		if p.size > int64(len(text)) || p.header.check() != nil || !torn && p.shared.check(p.header) != nil {
			t.Errorf("accepted: %+v", p.header)
		}
	})
}

// TestManyGaps: a message names some of a million missing shards.
func TestManyGaps(t *testing.T) {
	err := checkGaps(map[int]string{1: "a.part"}, maxShards)
	if err == nil || len(err.Error()) > 400 || !strings.Contains(err.Error(), "1048575 are missing: 2,3,") {
		t.Errorf("%.500v", err)
	}
	if err := checkGaps(map[int]string{1: "a.part", 2: "b.part"}, 2); err != nil {
		t.Error(err)
	}
}

func TestParseShard(t *testing.T) {
	if s, err := parseShard("3/17"); err != nil || s != (shard{3, 17}) {
		t.Errorf("%v %v", s, err)
	}
	for _, text := range []string{"", "3", "0/3", "4/3", "-1/3", "a/3", "1/", "1/99999999", "1/3/5"} {
		if _, err := parseShard(text); err == nil || exitCode(err) != exitUsage {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// TestShardsPartition makes sure that every crater has one shard, and that none
// gets far more than its share.
func TestShardsPartition(t *testing.T) {
	p := &pipeline{sv: defaultSurvey()}
	for i := range 5000 {
		p.cat.Craters = append(p.cat.Craters, geom.Crater{ID: "C" + string(rune('0'+i%10)) + string(rune('a'+i/10%26)) + string(rune('a'+i/260))})
	}
	const of = 17
	seen := make([]int, len(p.cat.Craters))
	for k := 1; k <= of; k++ {
		p.sv.shard = shard{k, of}
		n := 0
		for i := range seen {
			if p.owns(i) {
				seen[i]++
				n++
			}
		}
		if n < 200 || n > 400 { // 294 expected, standard deviation 17
			t.Errorf("shard %d has %d craters", k, n)
		}
	}
	for i, n := range seen {
		if n != 1 {
			t.Fatalf("crater %d has %d shards", i, n)
		}
	}
}

func TestUnwritablePartsKeepTheOld(t *testing.T) {
	survey, dir := tinySurvey(t), t.TempDir()
	first, out := filepath.Join(dir, "1.part"), filepath.Join(dir, strings.Repeat("n", 250))
	args := []string{"screen", survey, "-o", first, "--shard", "1/2", "--nulls", "8", "--force"}
	if code, _, text := runHere(t, args...); code != 0 {
		t.Fatal(text)
	}
	before := slurp(t, first)
	put(t, out, before)
	args[3] = out // no name beside it is short enough for the new part
	if code, _, text := runHere(t, append(args, "--seed", "4")...); code != exitOutput {
		t.Errorf("exit code %d; %s", code, text)
	}
	if slurp(t, out) != before {
		t.Error("the old part has changed")
	}
}

// TestTwoTasksOfOneShard: two runs of one shard at the same time do not share a
// file, and what a killed one left is swept by the next.
func TestTwoTasksOfOneShard(t *testing.T) {
	path := filepath.Join(t.TempDir(), "1[a].part")
	a, errA := newPartFile(path)
	b, errB := newPartFile(path)
	if errA != nil || errB != nil || a.file.Name() == b.file.Name() {
		t.Fatal(errA, errB)
	}
	for _, f := range []*partFile{a, b} {
		if _, err := f.file.WriteString(f.file.Name()); err != nil {
			t.Fatal(err)
		}
	}
	first := a.file.Name()
	if err := a.commit(); err != nil || slurp(t, path) != first {
		t.Errorf("error %v, the part holds %q", err, slurp(t, path))
	}
	left := b.file.Name()
	b.file.Close() // as if it had been killed
	c, err := newPartFile(path)
	if err != nil {
		t.Fatal(err)
	}
	c.discard()
	if _, err := os.Stat(left); err == nil {
		t.Errorf("%s is left", left)
	}
	if got := names(t, filepath.Dir(path)); len(got) != 1 {
		t.Errorf("left: %v", got)
	}
}
