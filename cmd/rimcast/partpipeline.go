package main

import (
	"errors"
	"io"
	"sort"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// This file turns a pipeline that has measured into a part, and parts into a
// pipeline that can finish.

// header is the header of what this run writes.
func (sv *surveyFile) header(craters int, inputs []reports.Input) partHeader {
	return partHeader{
		Format: partFormat, Version: readVersion().String(), Settings: settingsSum(sv), Inputs: inputs,
		Shard: max(1, sv.shard.index), Of: max(1, sv.shard.of), Craters: craters, Species: len(sv.Species), Seed: sv.Tests.Seed,
	}
}

// entry is the measurement at a slot.
func (p *pipeline) entry(slot int) (partEntry, error) {
	if !p.hasRow(slot) {
		return partEntry{Slot: slot, Finding: p.bareFinding(slot)}, nil
	}
	ev := p.evidence[p.at(slot)]
	h, cov := ev.Coefficients()
	f, err := p.wholeFinding(slot)
	return partEntry{slot, f, ev.Amplitude, ev.SE, h, cov, p.epochEntry(slot)}, err
}

func (e *partEntry) evidence() (ejecta.SpeciesEvidence, error) {
	return ejecta.RestoreEvidence(e.Amplitude, e.SE, e.H, e.Cov)
}

// restore puts an entry, checked when it was read, into its slot.
func (p *pipeline) restore(e *partEntry) error {
	if !p.hasRow(e.Slot) {
		return p.keepBare(e)
	}
	p.keepQuick(e)
	ev, err := e.evidence()
	p.putFinding(e.Slot, e.Finding)
	p.evidence[p.at(e.Slot)] = ev
	p.restoreEpoch(e)
	return err
}

// shared gathers what all shards find alike.
func (p *pipeline) shared() *partShared {
	s := &partShared{
		Survey: saveSettings(p.sv), Body: p.body, Cat: p.cat, Notes: p.notes,
		Maps: recordMaps(p.sv, p.body), Scales: p.saveScales(), Settled: p.set, Epochs: p.saveEpochNulls(),
	}
	for i := range p.sv.Species {
		s.Units = append(s.Units, p.unitOf(i))
	}
	for _, c := range p.sites {
		s.Sites = append(s.Sites, savedSite{c.status, c.note, c.level, c.pixels, c.outer, c.off})
	}
	for i := range p.nulls {
		s.Nulls = append(s.Nulls, p.nulls[i].scores())
	}
	return s
}

func (n *nullSite) scores() (out [][]float64) {
	for _, r := range n.result {
		out = append(out, r.scores)
	}
	return out
}

func (p *pipeline) saveScales() (out []savedScale) {
	for k, s := range p.scales {
		out = append(out, savedScale{k.species, k.level, k.class, s.lambda, s.radiusLo, s.radiusHi, s.p, s.pe, s.doubt})
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if a.Species != b.Species {
			return a.Species < b.Species
		}
		return a.Level < b.Level || a.Level == b.Level && a.Class < b.Class
	})
	return out
}

// recordMaps keeps what the manifest says about the maps, so that a merge need
// not open them.
func recordMaps(sv *surveyFile, body geom.Body) mapRecord {
	m := mapRecord{Notes: layerNotes(sv, body)}
	for _, n := range sv.layers() {
		if l, err := sv.openLayer(n.layer, body); err == nil {
			m.Labels, m.Projections = append(m.Labels, n.label()), append(m.Projections, l.Info().Projection)
			l.Close()
		}
	}
	return m
}

// writePart writes a finished part: the craters of this shard.
func (p *pipeline) writePart(w io.Writer, h partHeader) error {
	if _, err := io.WriteString(w, partMagic); err != nil {
		return err
	}
	if err := errors.Join(writeFrame(w, frameHeader, h), writeFrame(w, frameShared, p.shared())); err != nil {
		return err
	}
	slots := p.ownSlots()
	for from := 0; from < len(slots); from += partBatch {
		if err := p.writeEntries(w, slots[from:min(from+partBatch, len(slots))]); err != nil {
			return err
		}
	}
	return writeFrame(w, frameEnd, partEnd{len(slots)})
}

// writeEntries writes a frame of measurements.
func (p *pipeline) writeEntries(w io.Writer, slots []int) error {
	list, err := p.entries(slots)
	if err != nil {
		return err
	}
	return writeFrame(w, frameData, list)
}

func (p *pipeline) entries(slots []int) ([]partEntry, error) {
	list := make([]partEntry, len(slots))
	for i, s := range slots {
		var err error
		if list[i], err = p.entry(s); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// ownSlots lists the measurements that belong to this shard.
func (p *pipeline) ownSlots() (slots []int) {
	n := len(p.sv.Species)
	for slot := range n * len(p.cat.Craters) {
		if p.owns(slot / n) {
			slots = append(slots, slot)
		}
	}
	return slots
}

// pipelineOf is a pipeline with everything measured, without maps.
func pipelineOf(s *partShared, prog progress) (*pipeline, error) {
	sv, err := s.Survey.restore()
	if err != nil {
		return nil, err
	}
	sv.recorded = &s.Maps
	p := &pipeline{sv: sv, prog: prog, body: s.Body, cat: s.Cat, set: s.Settled, notes: s.Notes, units: s.Units}
	p.findNeighbours()
	notes := interned{}
	for _, c := range s.Sites {
		p.sites = append(p.sites, crater{c.Status, notes.text(c.Note), c.Level, c.Pixels, c.Outer, c.Off})
	}
	p.restoreNulls(s)
	p.gatherEpochs()
	p.makeRoom()
	return p, nil
}

func (p *pipeline) restoreNulls(s *partShared) {
	for _, scores := range s.Nulls {
		n := nullSite{result: make([]nullResult, len(scores))}
		for i, x := range scores {
			if len(x) > 0 { // an absent one comes back empty, not nil
				n.result[i].scores = x
			}
		}
		p.nulls = append(p.nulls, n)
	}
	p.restoreEpochNulls(s.Epochs)
	p.scales = map[scaleKey]*nullScale{}
	for _, k := range s.Scales {
		p.scales[scaleKey{k.Species, k.Level, k.Class}] = &nullScale{lambda: k.Lambda, radiusLo: k.RadiusLo, radiusHi: k.RadiusHi, p: k.P, pe: k.PE, doubt: k.Doubt}
	}
}
