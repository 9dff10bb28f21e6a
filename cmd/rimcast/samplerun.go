package main

import (
	"bufio"
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/raster"
	"rimcast/reports"
)

// sampler sums the layers of a survey over cells, in the order of the maps, and
// keeps the sums in a scratch file of records of one length, so that the memory
// does not grow with the catalogue.
type sampler struct {
	p       *pipeline
	layout  reports.PlainLayout
	layers  []sampledLayer
	status  [][]uint8 // by layer, by crater: number of the status in plainStatuses
	scratch *os.File
}

// plainStatuses are those of a crater and layer here; a byte for each is kept.
var plainStatuses = []ejecta.Status{
	ejecta.StatusOK, ejecta.StatusTooSmall, ejecta.StatusTooLarge, ejecta.StatusDistorted, ejecta.StatusNotCovered, ejecta.StatusUnreadable,
}

// set notes the status of a crater on a layer.
func (s *sampler) set(layer, crater int, status ejecta.Status) {
	s.status[layer][crater] = uint8(slices.Index(plainStatuses, status))
}

// sampledLayer is a layer that is summed: one of those of a group.
type sampledLayer struct {
	name, unit string
	group      *group
	number     int // within the group
}

// newSampler opens the layers; the scratch file stands beside the output, and
// has no name there.
func newSampler(sv *surveyFile, prog progress, l reports.PlainLayout, out string) (*sampler, error) {
	s := &sampler{p: &pipeline{sv: sv, prog: prog}, layout: l}
	if err := s.open(); err != nil {
		s.close()
		return nil, err
	}
	f, err := os.CreateTemp(filepath.Dir(out), filepath.Base(besideName(out, "scratch-"))+"*")
	if err != nil {
		s.close()
		return nil, outputFault(err)
	}
	s.scratch = f
	return s, outputFault(os.Remove(f.Name()))
}

func (s *sampler) close() {
	s.p.close()
	if s.scratch != nil {
		s.scratch.Close()
	}
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
	s.p.settleSites()
	for range s.layers {
		s.status = append(s.status, make([]uint8, len(s.p.cat.Craters)))
	}
	return nil
}

func (s *sampler) add(g *group, number int, name string) {
	unit := g.set.Layers[number].Info().Unit
	s.layers = append(s.layers, sampledLayer{name, unit, g, number})
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

// visit samples every crater on every group.
func (s *sampler) visit(ctx context.Context) error {
	farthest := s.layout.Edges[s.layout.Rings()]
	var jobs []raster.Job
	for i, c := range s.p.sites {
		for layer := range s.layers {
			s.set(layer, i, c.status)
		}
		if crater := &s.p.cat.Craters[i]; c.status == ejecta.StatusOK {
			jobs = append(jobs, raster.Job{ID: i, Centre: crater.Centre, Reach: farthest * crater.Radius, Level: c.level})
		}
	}
	s.p.sites = nil // a million of them count
	s.p.prog.Stage("craters", len(jobs)*len(s.p.groups))
	for _, g := range s.p.groups {
		layout := raster.CellLayout{Sectors: max(s.layout.Sectors, 1), Within: true}
		for _, m := range g.maskLayers {
			layout.Gates = append(layout.Gates, m.badPixel)
		}
		for _, e := range s.layout.Edges {
			layout.Edges = append(layout.Edges, e/farthest)
		}
		if err := raster.VisitCells(ctx, g.set, jobs, layout, s.p.workers(), func(_ int, job raster.Job, sums *raster.CellSums, fault error) (failed error) {
			defer s.p.prog.Add(1)
			defer caught(&failed)
			return s.keep(g, job, sums, fault)
		}); err != nil {
			return err
		}
	}
	return nil
}

// keep writes the sums of a crater into its place in the scratch file.
func (s *sampler) keep(g *group, job raster.Job, sums *raster.CellSums, fault error) error {
	cells := make([]reports.PlainCell, s.layout.Cells())
	for k := range s.layers {
		l := &s.layers[k]
		switch {
		case l.group != g:
			continue
		case fault != nil:
			s.set(k, job.ID, ejecta.StatusUnreadable)
			s.p.prog.Note("%s: %s", s.p.cat.Craters[job.ID].ID, faultText(fault))
			continue
		case !s.fill(cells, sums, l.number):
			s.set(k, job.ID, ejecta.StatusNotCovered)
			continue
		}
		record, err := binary.Append(nil, binary.LittleEndian, cells)
		if err != nil {
			return err
		}
		if _, err := s.scratch.WriteAt(record, s.place(k, job.ID)); err != nil {
			return outputFault(err)
		}
	}
	return nil
}

// place is where the cells of a layer and crater begin.
func (s *sampler) place(layer, crater int) int64 {
	return int64(crater*len(s.layers)+layer) * int64(s.layout.Cells()*binary.Size(reports.PlainCell{}))
}

// fill makes the cells of a layer from the sums; false without a valid pixel.
func (s *sampler) fill(cells []reports.PlainCell, sums *raster.CellSums, layer int) bool {
	l, any := &s.layout, false
	n := sums.Layout.Sectors
	total := func(k0, k1, s0, s1 int) reports.PlainCell {
		var m raster.Moments
		pixels := 0
		for k := k0; k < k1; k++ {
			for j := s0; j < s1; j++ {
				m = m.Plus(sums.Moments(k*n+j, layer))
				pixels += sums.Pixels(k*n + j)
			}
		}
		any = any || m.Pixels > 0
		return plainCell(m, pixels<<(2*sums.Level))
	}
	for k := range l.Rings() {
		cells[k] = total(k, k+1, 0, n)
	}
	for j := range l.Sectors {
		cells[l.Rings()+j] = total(l.First, l.Last+1, j, j+1)
	}
	return any
}

// plainCell turns sums into a cell; pixels are all of the map within it.
func plainCell(m raster.Moments, pixels int) reports.PlainCell {
	c := reports.PlainCell{Pixels: float32(m.MapPixels), Mean: float32(m.Mean()), SD: float32(math.Sqrt(m.MapVariance()))}
	if pixels > 0 {
		c.Coverage = float32(math.Min(1, m.MapPixels/float64(pixels)))
	}
	return c
}

// plainCount is what went into a file of sums.
type plainCount struct {
	craters, layers, rows int
	status                map[ejecta.Status]int // craters, by the worst of their layers
}

// write writes the table in the order of the catalogue.
func (s *sampler) write(w io.Writer) (plainCount, error) {
	told := plainCount{craters: len(s.p.cat.Craters) + len(s.p.cat.Refused), layers: len(s.layers), status: map[ejecta.Status]int{}}
	if n := len(s.p.cat.Refused); n > 0 {
		told.status[ejecta.StatusRefused] = n
	}
	buffer := bufio.NewWriterSize(w, 1<<20)
	table := reports.NewPlainTable(buffer, s.layout)
	s.p.prog.Stage("table", len(s.p.cat.Craters))
	record := make([]byte, s.place(1, 0))
	cells := make([]reports.PlainCell, s.layout.Cells())
	var near []geom.Neighbour
	for i := range s.p.cat.Craters {
		c, worst := &s.p.cat.Craters[i], ejecta.StatusOK
		near = s.p.near.Within(i, sectorReach*c.Radius, 1, near[:0])
		for k, l := range s.layers {
			status := plainStatuses[s.status[k][i]]
			if status == ejecta.StatusOK {
				if err := s.read(record, cells, k, i); err != nil {
					return told, err
				}
				told.rows += len(cells)
			} else {
				told.rows++
				worst = status
			}
			if err := table.Add(c, l.name, l.unit, status, len(near), cells); err != nil {
				return told, outputFault(err)
			}
		}
		told.status[worst]++
		s.p.prog.Add(1)
	}
	if err := table.Close(); err != nil {
		return told, outputFault(err)
	}
	return told, outputFault(buffer.Flush())
}

// sectorReach is how far the sectors reach, crater radii.
const sectorReach = 2.5

// read takes the cells of a layer and crater from the scratch file.
func (s *sampler) read(record []byte, cells []reports.PlainCell, layer, crater int) error {
	if _, err := s.scratch.ReadAt(record, s.place(layer, crater)); err != nil {
		return outputFault(err)
	}
	_, err := binary.Decode(record, binary.LittleEndian, cells)
	return err
}
