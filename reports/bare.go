package reports

import (
	"iter"

	"rimcast/ejecta"
)

// LeaveBare tells a survey of the craters that were measured on no species, whose
// findings are not in Findings but made when they are asked for; nil is none.
func (s *Survey) LeaveBare(b *ejecta.Bare) { s.bare = b }

// Bare are the craters that were measured on no species; nil is none.
func (s *Survey) Bare() *ejecta.Bare { return s.bare }

// Count is the number of findings, those of bare craters among them.
func (s *Survey) Count() int { return len(s.Findings) + s.bare.Len()*len(s.Species) }

// All yields every finding in the order of the catalogue, with its number; those of
// bare craters are good until the next one. Details are left out where they are
// kept elsewhere.
func (s *Survey) All() iter.Seq2[int, *ejecta.Finding] {
	return s.joined(func(i int) (*ejecta.Finding, error) { return &s.Findings[i], nil })
}

// AllWhole is All with the details; it ends early at a fault, which [Survey.Lost]
// tells.
func (s *Survey) AllWhole() iter.Seq2[int, *ejecta.Finding] {
	return s.joined(s.whole)
}

// joined yields what get makes of the findings, and the bare ones, in order.
func (s *Survey) joined(get func(i int) (*ejecta.Finding, error)) iter.Seq2[int, *ejecta.Finding] {
	return func(yield func(int, *ejecta.Finding) bool) {
		b := bareLines{s: s}
		for i := range s.Findings {
			if !b.before(s.Findings[i].CraterIndex, yield) {
				return
			}
			f, err := get(i)
			if err != nil || !yield(b.number, f) {
				return
			}
			b.number++
		}
		b.before(len(s.Catalogue.Craters), yield)
	}
}

// bareLines yields the findings of bare craters one after the other.
type bareLines struct {
	s       *Survey
	next    int // bare crater
	number  int // of the next finding
	scratch ejecta.Finding
}

// before yields those in front of a crater; false when no more are wanted.
func (b *bareLines) before(crater int, yield func(int, *ejecta.Finding) bool) bool {
	for ; b.next < b.s.bare.Len() && b.s.bare.Crater(b.next) < crater; b.next++ {
		for species := range b.s.Species {
			b.s.bare.Fill(&b.scratch, b.next, species)
			if !yield(b.number, &b.scratch) {
				return false
			}
			b.number++
		}
	}
	return true
}

// bareOf makes the findings of a bare crater; false for any other.
func (s *Survey) bareOf(crater int) (list []ejecta.Finding, ok bool) {
	k, ok := s.bare.Find(crater)
	if !ok {
		return nil, false
	}
	list = make([]ejecta.Finding, len(s.Species))
	for species := range list {
		s.bare.Fill(&list[species], k, species)
	}
	return list, true
}

// FindingsOf returns the findings of a crater, in species order, without details
// that are kept elsewhere.
func (s *Survey) FindingsOf(crater int) []ejecta.Finding { return s.findingsOf(crater) }
