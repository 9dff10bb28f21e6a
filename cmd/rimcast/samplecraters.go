package main

import (
	"runtime/debug"
	"slices"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
)

// sampledCrater is what is kept of a crater while the maps are read: a catalogue of
// a million takes more memory than all that is sampled.
type sampledCrater struct {
	id     string
	radius float64 // metres
	near   int32   // other craters that reach into its sectors
	status uint8   // before a pixel is read, as in plainStatuses
	level  uint8
}

// plainStatuses are those of a crater and layer here; a byte for each is kept.
var plainStatuses = []ejecta.Status{
	ejecta.StatusOK, ejecta.StatusTooSmall, ejecta.StatusTooLarge, ejecta.StatusDistorted, ejecta.StatusNotCovered, ejecta.StatusUnreadable,
}

func plainStatus(s ejecta.Status) uint8 { return uint8(slices.Index(plainStatuses, s)) }

// sectorReach is how far the sectors reach, crater radii.
const sectorReach = 2.5

// cratersPerPart is how many craters a worker settles at once.
const cratersPerPart = 1 << 10

// settle settles size and level of every crater and counts its neighbours, then
// lets the catalogue go. It returns the craters to sample.
func (s *sampler) settle() ([]raster.Job, error) {
	s.p.findNeighbours()
	n := len(s.p.cat.Craters)
	s.craters = make([]sampledCrater, n)
	err := parallel(s.p.workers(), (n+cratersPerPart-1)/cratersPerPart, func(part int) {
		var near []geom.Neighbour
		for i := part * cratersPerPart; i < min(n, (part+1)*cratersPerPart); i++ {
			near = s.settleCrater(i, near[:0])
		}
	})
	if err != nil {
		return nil, err
	}
	jobs := s.jobs()
	s.refused = len(s.p.cat.Refused)
	s.p.cat, s.p.near = geom.Catalogue{}, nil
	debug.FreeOSMemory() // the maps take what the catalogue had
	return jobs, nil
}

// settleCrater settles one crater; near is a buffer.
func (s *sampler) settleCrater(i int, near []geom.Neighbour) []geom.Neighbour {
	c := &s.p.cat.Craters[i]
	near = s.p.near.Within(i, sectorReach*c.Radius, 1, near)
	at := s.p.settle(c.Centre, c.Radius)
	s.craters[i] = sampledCrater{c.ID, c.Radius, int32(len(near)), plainStatus(at.status), uint8(at.level)}
	return near
}

// jobs are the craters to sample; each layer has the status of each crater.
func (s *sampler) jobs() []raster.Job {
	for k := range s.layers {
		s.layers[k].status = make([]uint8, len(s.craters))
	}
	jobs := make([]raster.Job, 0, len(s.craters))
	for i, c := range s.craters {
		for k := range s.layers {
			s.layers[k].status[i] = c.status
		}
		if plainStatuses[c.status] == ejecta.StatusOK {
			jobs = append(jobs, raster.Job{ID: i, Centre: s.p.cat.Craters[i].Centre, Reach: s.farthest() * c.radius, Level: int(c.level)})
		}
	}
	return jobs
}
