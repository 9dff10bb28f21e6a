package main

import (
	"encoding/gob"
	"errors"

	"rimcast/ejecta"
	"rimcast/reports"
)

// A saved survey holds every finding in full. When it is written bare ones are made
// on the way, and when it is read they become bare again.

// encodeFindings writes the findings in pieces, whole but for their sums, which
// have a file of their own.
func encodeFindings(e *gob.Encoder, s *reports.Survey) error {
	piece := make([]ejecta.Finding, 0, min(savedPiece, s.Count()))
	left := s.Count()
	for _, f := range s.AllWhole() {
		piece = append(piece, *f)
		piece[len(piece)-1].Sums = nil
		if left--; len(piece) == savedPiece || left == 0 {
			if err := e.Encode(piece); err != nil {
				return err
			}
			clear(piece)
			piece = piece[:0]
		}
	}
	return s.Lost()
}

// decodeFindings reads n findings.
func decodeFindings(d *gob.Decoder, n int, s *reports.Survey) error {
	if n < 0 || n > maxSaved {
		return errors.New("it promises a wrong number of findings")
	}
	g := gathering{s: s}
	for read := 0; read < n; {
		var piece []ejecta.Finding
		if err := d.Decode(&piece); err != nil {
			return err
		}
		if read += len(piece); len(piece) == 0 || read > n {
			return errors.New("a piece has the wrong length")
		}
		g.take(piece)
	}
	g.end()
	return nil
}

// gathering sorts what was read into findings and bare craters.
type gathering struct {
	s     *reports.Survey
	bare  *ejecta.Bare
	quick []ejecta.QuickP
	last  int              // bare crater
	wait  []ejecta.Finding // of a crater whose others are in the next piece
}

// take sorts a piece.
func (g *gathering) take(piece []ejecta.Finding) {
	list := append(g.wait, piece...)
	g.wait = nil
	for len(list) > 0 {
		n := 1
		for n < len(list) && list[n].CraterIndex == list[0].CraterIndex {
			n++
		}
		if n == len(list) && n < len(g.s.Species) {
			g.wait = append(g.wait, list...)
			return
		}
		g.crater(list[:n])
		list = list[n:]
	}
}

// end sorts what waited for more.
func (g *gathering) end() {
	g.s.Findings = append(g.s.Findings, g.wait...)
	g.s.LeaveBare(g.bare)
}

// crater takes the findings of one crater, or some of them.
func (g *gathering) crater(list []ejecta.Finding) {
	if !g.alike(list) {
		g.s.Findings = append(g.s.Findings, list...)
		return
	}
	if g.bare == nil {
		g.quick = make([]ejecta.QuickP, len(g.s.Catalogue.Craters)*len(g.s.Species))
		for i := range g.quick {
			g.quick[i] = ejecta.NoQuickP()
		}
		g.bare = ejecta.NewBare(list, g.quick)
	}
	g.last = list[0].CraterIndex
	for i := range list {
		if q := list[i].Quick; q != nil {
			g.quick[g.last*len(list)+i] = *q
		}
	}
	g.bare.Add(g.last, list[0].Status, list[0].Note)
}

// alike reports whether findings are those that a bare crater makes.
func (g *gathering) alike(list []ejecta.Finding) bool {
	crater := list[0].CraterIndex
	if len(list) != len(g.s.Species) || crater < 0 || crater >= len(g.s.Catalogue.Craters) || g.bare != nil && crater <= g.last {
		return false
	}
	for i := range list {
		f, sp := &list[i], &g.s.Species[i]
		if !f.IsBare() || f.Status != list[0].Status || f.Note != list[0].Note || f.Species != sp.Name || f.Unit != sp.Unit || !g.labelled(f, i) {
			return false
		}
	}
	return true
}

// labelled reports whether a finding has the names of the bare ones of its species,
// and their sentence.
func (g *gathering) labelled(f *ejecta.Finding, species int) bool {
	said := *f
	said.Describe(0)
	if g.bare == nil {
		return said.Verdict == f.Verdict
	}
	quantity, epoch := g.bare.Label(species)
	return said.Verdict == f.Verdict && quantity == f.Quantity && epoch == f.Epoch
}
