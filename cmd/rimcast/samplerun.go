package main

import (
	"context"
	"fmt"

	"rimcast/raster"
	"rimcast/reports"
)

// sampler sums the layers of a survey over cells, in the order of the maps, and
// keeps the sums in a scratch file of records of one length, so that the memory
// does not grow with the catalogue but for what [sampledCrater] holds.
type sampler struct {
	p       *pipeline
	layout  reports.PlainLayout
	layers  []sampledLayer
	craters []sampledCrater
	refused int
	sums    sumsFile
}

// sampledLayer is a layer that is summed: one of those of a group.
type sampledLayer struct {
	name, unit string
	group      *group
	number     int     // within the group
	slot       int     // of its cells in the record of a crater; those of a group lie together
	status     []uint8 // by crater: number of the status in plainStatuses
}

// newSampler opens the layers; the scratch file stands beside the output, and
// has no name there.
func newSampler(sv *surveyFile, prog progress, l reports.PlainLayout, out string) (*sampler, error) {
	s := &sampler{p: &pipeline{sv: sv, prog: prog}, layout: l}
	if err := s.open(); err != nil {
		s.close()
		return nil, err
	}
	var err error
	if s.sums, err = newSumsFile(out, s.layout.Cells(), len(s.layers)); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *sampler) close() {
	s.p.close()
	s.sums.close()
}

// open reads the catalogue and opens what is sampled, by grid, then the masks
// behind it.
func (s *sampler) open() error {
	if err := s.p.openCatalogue(); err != nil {
		return err
	}
	if err := s.p.openSpecies(); err != nil {
		return err
	}
	for _, g := range s.p.groups {
		for k, species := range g.species {
			s.add(g, k, s.p.sv.Species[species].shownName())
		}
	}
	for i := range s.p.sv.Covariates {
		if err := s.openCovariate(&s.p.sv.Covariates[i]); err != nil {
			return err
		}
	}
	for i := range s.p.sv.Masks {
		if err := s.openMask(&s.p.sv.Masks[i]); err != nil {
			return err
		}
	}
	s.placeLayers()
	return nil
}

func (s *sampler) add(g *group, number int, name string) {
	unit := g.set.Layers[number].Info().Unit
	s.layers = append(s.layers, sampledLayer{name: name, unit: unit, group: g, number: number})
}

// placeLayers gives the layers their slots.
func (s *sampler) placeLayers() {
	slot := 0
	for _, g := range s.p.groups {
		for _, k := range s.layersOf(g) {
			s.layers[k].slot = slot
			slot++
		}
	}
}

// layersOf numbers the layers of a group that are summed.
func (s *sampler) layersOf(g *group) (list []int) {
	for k := range s.layers {
		if s.layers[k].group == g {
			list = append(list, k)
		}
	}
	return list
}

// openCovariate adds a covariate that is an amount: a mean says nothing of
// directions, times of day and numbers of strips.
func (s *sampler) openCovariate(section *layerSection) error {
	switch section.Kind {
	case "local_time", "sun_azimuth", "track_azimuth", "strip":
		return nil
	}
	l, err := s.p.sv.openLayer(section, s.p.body)
	if err != nil {
		return err
	}
	g := s.p.groupOf(l)
	if g == nil {
		g = &group{set: &raster.LayerSet{Cache: s.p.sv.Run.Memory / 4}}
		s.p.groups = append(s.p.groups, g)
	}
	g.set.Layers = append(g.set.Layers, l)
	s.add(g, len(g.set.Layers)-1, section.Name)
	return nil
}

// openMask adds a mask behind the layers of its grid, which all have to have.
func (s *sampler) openMask(section *layerSection) error {
	for _, g := range s.p.groups {
		l, err := s.p.sv.openLayer(section, s.p.body)
		if err != nil {
			return err
		}
		if !g.set.Layers[0].Grid().Same(l.Grid()) {
			l.Close()
			return refuse(fmt.Sprintf("the mask %s lies on another grid than %s", section.written, g.set.Layers[0].Info().Path),
				"bring the mask to that grid (gdalwarp -r near), or use rimcast screen, which reads masks on any grid")
		}
		g.maskLayers = append(g.maskLayers, section)
		g.set.Layers = append(g.set.Layers, l)
	}
	return nil
}

// sampleCache is the most bytes of a map that are held: more makes sampling hardly
// faster.
const sampleCache = 384 << 20

// visit samples every crater on every group.
func (s *sampler) visit(ctx context.Context) error {
	jobs, err := s.settle()
	if err != nil {
		return err
	}
	s.p.prog.Stage("craters", len(jobs)*len(s.p.groups))
	for _, g := range s.p.groups {
		g.set.Cache = min(g.set.Cache, sampleCache)
		buffers := s.newBuffers(g)
		err := raster.VisitCells(ctx, g.set, jobs, s.cellLayout(g), s.p.workers(), func(w int, job raster.Job, sums *raster.CellSums, fault error) (failed error) {
			defer s.p.prog.Add(1)
			defer caught(&failed)
			return buffers[w].keep(job, sums, fault)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// cellLayout is the layout in shares of the reach, with the masks of a group.
func (s *sampler) cellLayout(g *group) raster.CellLayout {
	l := raster.CellLayout{Sectors: max(s.layout.Sectors, 1), Within: true}
	for _, m := range g.maskLayers {
		l.Gates = append(l.Gates, m.badPixel)
	}
	for _, e := range s.layout.Edges {
		l.Edges = append(l.Edges, e/s.farthest())
	}
	return l
}

// farthest is the end of the last ring, crater radii.
func (s *sampler) farthest() float64 { return s.layout.Edges[s.layout.Rings()] }
