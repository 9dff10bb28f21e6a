package geom

import (
	"cmp"
	"math"
	"slices"
)

// NearPair is two entries of a catalogue that are probably one crater: closer
// than 0.2 radii, and sizes within 20 %.
type NearPair struct {
	A, B     int     // positions in Catalogue.Craters, A < B
	Distance float64 // between the centres, metres
}

const (
	nearDistance = 0.2
	nearSize     = 0.2
	maxLookedAt  = 256 // per crater: a heap of equal entries must not square the time
)

// nearPairs lists the probable duplicates in catalogue order. Of a heap of more
// than 256 entries in one place not every pair is listed.
func nearPairs(b Body, craters []Crater) []NearPair {
	if len(craters) < 2 {
		return nil
	}
	n := newNeighbours(b, craters, func(c *Crater) float64 { return c.Radius })
	var pairs []NearPair
	for i := range craters {
		pairs = n.nearPairsOf(i, pairs)
	}
	slices.SortFunc(pairs, func(p, q NearPair) int { return cmp.Or(cmp.Compare(p.A, q.A), cmp.Compare(p.B, q.B)) })
	return pairs
}

func (n *Neighbours) nearPairsOf(i int, pairs []NearPair) []NearPair {
	c := &n.craters[i]
	at, looked := n.position(c.Centre), 0
	reach := nearDistance * c.Radius / (1 - nearSize)
	for _, class := range n.classes {
		// A class spans a factor of two below its largest member.
		if class.maxRadius < (1-nearSize)*c.Radius || class.maxRadius/2 > c.Radius/(1-nearSize) {
			continue
		}
		class.tree.within(at, n.chord(reach), func(j int32, _ float64) bool {
			looked++
			if int(j) <= i || !sameSize(c.Radius, n.craters[j].Radius) {
				return looked < maxLookedAt
			}
			d, _ := n.body.Inverse(c.Centre, n.craters[j].Centre)
			if d < nearDistance*max(c.Radius, n.craters[j].Radius) {
				pairs = append(pairs, NearPair{i, int(j), d})
			}
			return looked < maxLookedAt
		})
	}
	return pairs
}

func sameSize(a, b float64) bool { return math.Abs(a-b) <= nearSize*max(a, b) }
