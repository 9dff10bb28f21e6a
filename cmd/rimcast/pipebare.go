package main

import (
	"errors"

	"rimcast/ejecta"
	"rimcast/raster"
)

// Craters that are not measured at all, for their size, their place on the map or a
// sieve, have no room among the findings: why is known of their sites, and their
// quick looks stand apart.

// bareAt reports whether a crater is known not to be measured. Where there are times
// of day every crater has room.
func (p *pipeline) bareAt(i int) bool {
	switch status, _ := p.sites[i].why(); status {
	case ejecta.StatusTooSmall, ejecta.StatusTooLarge, ejecta.StatusDistorted, ejecta.StatusSieved, ejecta.StatusNotCovered:
		return len(p.epochSets) == 0
	}
	return false
}

// outsideNote is what a crater without a pixel is told.
const outsideNote = "outside the map"

// why is why a crater is not measured; ok when it is.
func (c *crater) why() (ejecta.Status, string) {
	if c.off {
		return ejecta.StatusNotCovered, outsideNote
	}
	return c.status, c.note
}

// findOffMap finds the craters that no map shows. Those of a catalogue of a whole
// body may be most where a map is of a region.
func (p *pipeline) findOffMap() error {
	patches := make([]raster.Patch, p.workers())
	return parallel(p.workers(), p.workers(), func(w int) {
		for i := w; i < len(p.sites); i += p.workers() {
			if c := &p.sites[i]; c.status == ejecta.StatusOK {
				c.off = p.offMap(i, &patches[w])
			}
		}
	})
}

// offMap reports whether a crater has no pixel on any grid.
func (p *pipeline) offMap(i int, patch *raster.Patch) bool {
	at, c := p.cat.Craters[i].Centre, p.sites[i]
	for _, g := range p.groups {
		grid := g.set.Layers[0].Grid()
		if x, y, ok := grid.Pixel(at); ok && grid.Inside(x, y) {
			return false
		}
		if grid.Geometry(grid.Body, at, c.outer*p.cat.Craters[i].Extent(), c.level, patch) != nil || patch.Len() > 0 {
			return false
		}
	}
	return true
}

// hasRow reports whether findings and evidence hold the crater of a slot.
func (p *pipeline) hasRow(slot int) bool {
	return p.rows == nil || p.rows[slot/len(p.sv.Species)] >= 0
}

// makeRoom makes room for the measurements of the craters of this run that will
// have some, when it is settled which: a shard of a long catalogue takes its share
// of the memory, and what a sieve leaves out takes none.
func (p *pipeline) makeRoom() {
	rows, own := make([]int32, len(p.cat.Craters)), 0
	for i := range rows {
		rows[i] = -1
		if p.owns(i) && !p.bareAt(i) {
			rows[i] = int32(own)
			own++
		}
	}
	if p.rows = rows; own == len(rows) {
		p.rows = nil
	}
	n := own * len(p.sv.Species)
	p.findings, p.evidence = make([]ejecta.Finding, n), make([]ejecta.SpeciesEvidence, n)
	if len(p.epochSets) > 0 {
		p.epochs = make([]ejecta.EpochFinding, n)
	}
}

// bareFinding makes the finding of a crater without room.
func (p *pipeline) bareFinding(slot int) ejecta.Finding {
	f := p.unmeasured(p.sites[slot/len(p.sv.Species)].why())
	p.labelFinding(&f, slot)
	return f
}

// keepBare takes what an entry of a part tells of a crater without room.
func (p *pipeline) keepBare(e *partEntry) error {
	if status, _ := p.sites[e.Slot/len(p.sv.Species)].why(); e.Finding.Status != status {
		return errors.New("a crater is measured that its sites leave out")
	}
	p.keepQuick(e)
	return nil
}

// keepQuick keeps the quick look of an entry where a run in one piece has it.
func (p *pipeline) keepQuick(e *partEntry) {
	if e.Finding.Quick == nil {
		return
	}
	if p.quick == nil {
		p.quick = make([]ejecta.QuickP, len(p.cat.Craters)*len(p.sv.Species))
		for i := range p.quick {
			p.quick[i] = ejecta.NoQuickP()
		}
	}
	p.quick[e.Slot] = *e.Finding.Quick
}

// bareCraters lists the craters without room, for the catalogue; nil when there are none.
func (p *pipeline) bareCraters() *ejecta.Bare {
	if p.rows == nil {
		return nil
	}
	labels := make([]ejecta.Finding, len(p.sv.Species))
	for species := range labels {
		p.labelFinding(&labels[species], species)
	}
	b := ejecta.NewBare(labels, p.quick)
	for i, row := range p.rows {
		if row < 0 {
			status, note := p.sites[i].why()
			b.Add(i, status, note)
		}
	}
	return b
}

// interned lets equal notes of sites be one text.
type interned map[string]string

// mostInterned bounds the texts that are remembered.
const mostInterned = 4096

func (m interned) text(s string) string {
	if t, ok := m[s]; ok {
		return t
	}
	if len(m) < mostInterned {
		m[s] = s
	}
	return s
}
