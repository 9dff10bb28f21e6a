package main

import (
	"cmp"
	"crypto/sha256"
	"fmt"
	"strings"

	"rimcast/reports"
)

// This file refuses parts that do not belong together.

// sameOrigin returns a refusal when two parts were made from different inputs,
// settings or programs.
func sameOrigin(nameA string, a *partHeader, nameB string, b *partHeader) error {
	if a.Version != b.Version {
		return refuse(fmt.Sprintf("%s was made by rimcast %s, %s by %s", nameA, a.Version, nameB, b.Version), "use one version for all of a survey")
	}
	if err := sameInputs(nameA, a.Inputs, nameB, b.Inputs); err != nil {
		return err
	}
	if a.Settings != b.Settings || a.Seed != b.Seed {
		return refuse(fmt.Sprintf("%s and %s have different settings", nameA, nameB), "screen with the same survey file and flags")
	}
	if a.Of != b.Of || nameB == "this run" && a.Shard != b.Shard {
		return refuse(fmt.Sprintf("%s is shard %d of %d, %s shard %d of %d", nameA, a.Shard, a.Of, nameB, b.Shard, b.Of), "the parts of a survey share one number of shards")
	}
	if a.Craters != b.Craters || a.Species != b.Species {
		return refuse(fmt.Sprintf("%s has %d craters and %d species, %s has %d and %d", nameA, a.Craters, a.Species, nameB, b.Craters, b.Species), "")
	}
	return nil
}

// sameInputs compares the files that were read, and names the first that
// differs with both sums.
func sameInputs(nameA string, a []reports.Input, nameB string, b []reports.Input) error {
	if len(a) != len(b) {
		return refuse(fmt.Sprintf("%s read %d files, %s read %d", nameA, len(a), nameB, len(b)), "screen with the same survey file and flags")
	}
	for i := range a {
		if a[i] == b[i] {
			continue
		}
		if a[i].Path != b[i].Path || a[i].Role != b[i].Role {
			return refuse(fmt.Sprintf("%s read %s as %s, %s read %s as %s", nameA, a[i].Path, a[i].Role, nameB, b[i].Path, b[i].Role), "screen with the same survey file and flags")
		}
		return refuse(fmt.Sprintf("%s, %s, is not one file: %s has %d bytes with SHA-256 %s, %s has %d bytes with SHA-256 %s",
			a[i].Role, a[i].Path, nameA, a[i].Bytes, a[i].SHA256, nameB, b[i].Bytes, b[i].SHA256),
			"screen all shards again with one version of the file")
	}
	return nil
}

// checkParts refuses parts that do not make one whole.
func checkParts(names []string, parts []*part) error {
	byIndex := map[int]string{}
	for i, p := range parts {
		if err := sameOrigin(names[0], &parts[0].header, names[i], &p.header); err != nil {
			return err
		}
		if other, twice := byIndex[p.header.Shard]; twice {
			return refuse(fmt.Sprintf("%s and %s are both shard %d of %d", other, names[i], p.header.Shard, p.header.Of), "give each part once")
		}
		byIndex[p.header.Shard] = names[i]
		if p.alike != parts[0].alike {
			return refuse(fmt.Sprintf("%s and %s measured the null positions differently", names[0], names[i]), "screen all shards with one build of rimcast on one kind of machine")
		}
	}
	return checkGaps(byIndex, parts[0].header.Of)
}

// alike is a sum of what the shards measured alike, to the last bit.
func (s *partShared) alike() [32]byte {
	x, err := pack(s.measured())
	if err != nil {
		panic("rimcast: null positions that gob cannot hold: " + err.Error())
	}
	return sha256.Sum256(x)
}

// measuredAlike is the numbers that every shard must find.
type measuredAlike struct {
	Nulls  [][][]float64
	Scales []savedScale
}

func (s *partShared) measured() measuredAlike { return measuredAlike{s.Nulls, s.Scales} }

// maxMissingShown bounds the missing shards in a message.
const maxMissingShown = 40

// checkGaps lists the shards that are missing.
func checkGaps(have map[int]string, of int) error {
	var missing []string
	for i := 1; i <= of; i++ {
		if _, ok := have[i]; !ok {
			missing = append(missing, fmt.Sprint(i))
		}
	}
	if len(missing) == 0 {
		return nil
	}
	n := len(missing)
	if n > maxMissingShown {
		missing = append(missing[:maxMissingShown], "...")
	}
	return refuse(fmt.Sprintf("of %d shards %d are missing: %s", of, n, strings.Join(missing, ",")), "screen these shards, and give all parts")
}

// filling keeps account of the measurements that a merge has restored.
type filling struct {
	p    *pipeline
	have []bool
}

// fillFrom restores every measurement, each exactly once. Of the parts that were
// begun only, the rest is read here, a frame at a time.
func (p *pipeline) fillFrom(names []string, parts []*part) error {
	f := filling{p, make([]bool, p.slots())}
	for i, q := range parts {
		each := func(e *partEntry) error { return f.take(names[i], e) }
		err := q.handOn(each)
		if err == nil && !q.ended {
			err = q.readOn(names[i], each)
		}
		if err != nil {
			return err
		}
	}
	return f.whole()
}

func (f *filling) take(name string, e *partEntry) error {
	if f.have[e.Slot] {
		return refuse(fmt.Sprintf("%s measures crater %s a second time", name, f.p.craterOfSlot(e.Slot)), "give the parts of one survey, each once")
	}
	f.have[e.Slot] = true
	return cmp.Or(f.p.restore(e), outputFault(f.p.details.fault()))
}

func (f *filling) whole() error {
	for slot, ok := range f.have {
		if !ok {
			return refuse("no part measures crater "+f.p.craterOfSlot(slot), "screen the shards again")
		}
	}
	return nil
}

// craterOfSlot is the id of the crater of a measurement.
func (p *pipeline) craterOfSlot(slot int) string {
	return p.cat.Craters[slot/len(p.sv.Species)].ID
}
