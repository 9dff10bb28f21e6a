package main

import (
	"encoding/binary"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"

	"rimcast/ejecta"
	"rimcast/raster"
	"rimcast/reports"
)

// sumsFile is a scratch file with the cells of every crater on every layer, in
// records of one length. It stands beside the output and has no name there.
type sumsFile struct {
	file   *os.File
	slot   int // bytes of the cells of a layer
	record int // bytes of a crater
}

// cellBytes are those of a cell.
const cellBytes = 16

func newSumsFile(out string, cells, layers int) (sumsFile, error) {
	f, err := os.CreateTemp(filepath.Dir(out), filepath.Base(besideName(out, "scratch-"))+"*")
	if err != nil {
		return sumsFile{}, outputFault(err)
	}
	return sumsFile{f, cells * cellBytes, layers * cells * cellBytes}, outputFault(os.Remove(f.Name()))
}

func (f *sumsFile) close() {
	if f.file != nil {
		f.file.Close()
	}
}

// put writes a piece of the record of a crater, from a slot on.
func (f *sumsFile) put(piece []byte, crater, slot int) error {
	_, err := f.file.WriteAt(piece, int64(crater)*int64(f.record)+int64(slot)*int64(f.slot))
	return outputFault(err)
}

// get reads the records of craters from one on; what was never written is zero.
func (f *sumsFile) get(records []byte, crater int) error {
	n, err := f.file.ReadAt(records, int64(crater)*int64(f.record))
	clear(records[n:])
	if n < len(records) && errors.Is(err, io.EOF) {
		return nil
	}
	return outputFault(err)
}

// sumsBuffer writes the sums of craters on a group; each worker has one.
type sumsBuffer struct {
	s      *sampler
	layers []int // of the group, slots rising
	cells  []reports.PlainCell
	piece  []byte
}

func (s *sampler) newBuffers(g *group) []sumsBuffer {
	out := make([]sumsBuffer, s.p.workers())
	for w := range out {
		out[w] = sumsBuffer{s: s, layers: s.layersOf(g), cells: make([]reports.PlainCell, s.layout.Cells())}
	}
	return out
}

// keep writes the sums of a crater into their place.
func (b *sumsBuffer) keep(job raster.Job, sums *raster.CellSums, fault error) error {
	if fault != nil {
		b.s.p.prog.Note("%s: %s", b.s.craters[job.ID].id, faultText(fault))
		b.set(b.layers, job.ID, ejecta.StatusUnreadable)
		return nil
	}
	b.piece = b.piece[:0]
	for i, k := range b.layers {
		if !b.s.fill(b.cells, sums, b.s.layers[k].number) {
			b.set(b.layers[i:i+1], job.ID, ejecta.StatusNotCovered)
		}
		b.piece = appendCells(b.piece, b.cells)
	}
	if len(b.piece) == 0 {
		return nil // a group of masks alone
	}
	return b.s.sums.put(b.piece, job.ID, b.s.layers[b.layers[0]].slot)
}

// set notes the status of a crater on some layers.
func (b *sumsBuffer) set(layers []int, crater int, status ejecta.Status) {
	for _, k := range layers {
		b.s.layers[k].status[crater] = plainStatus(status)
	}
}

func appendCells(piece []byte, cells []reports.PlainCell) []byte {
	for _, c := range cells {
		for _, v := range [...]float32{c.Pixels, c.Coverage, c.Mean, c.SD} {
			piece = binary.LittleEndian.AppendUint32(piece, math.Float32bits(v))
		}
	}
	return piece
}

func readCells(cells []reports.PlainCell, piece []byte) {
	number := func(at int) float32 { return math.Float32frombits(binary.LittleEndian.Uint32(piece[at:])) }
	for i := range cells {
		at := i * cellBytes
		cells[i] = reports.PlainCell{Pixels: number(at), Coverage: number(at + 4), Mean: number(at + 8), SD: number(at + 12)}
	}
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
