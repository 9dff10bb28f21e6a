package main

import (
	"bufio"
	"context"
	"io"

	"rimcast/ejecta"
	"rimcast/reports"
)

// plainCount is what went into a file of sums.
type plainCount struct {
	craters, layers, rows int
	status                map[ejecta.Status]int // craters, by the worst of their layers
}

// write writes the table in the order of the catalogue: parts of it are encoded by
// all workers and joined in turn.
func (s *sampler) write(ctx context.Context, w io.Writer) (plainCount, error) {
	told := plainCount{craters: len(s.craters) + s.refused, layers: len(s.layers), status: map[ejecta.Status]int{}}
	if s.refused > 0 {
		told.status[ejecta.StatusRefused] = s.refused
	}
	buffer := bufio.NewWriterSize(w, 1<<20)
	table := reports.NewPlainTable(buffer, s.layout)
	s.p.prog.Stage("table", len(s.craters))
	atOnce := table.CratersAtOnce(len(s.layers))
	parts := (len(s.craters) + atOnce - 1) / atOnce
	writers := make([]partWriter, min(s.p.workers(), parts))
	for i := range writers {
		writers[i] = s.newPartWriter(table, atOnce)
	}
	err := inTurn(len(writers), parts, func(w, part int) error {
		return writers[w].encode(ctx, part*atOnce, min(len(s.craters), (part+1)*atOnce))
	}, func(w int) error { return writers[w].join(table, &told) })
	if err != nil {
		return told, err
	}
	if err := table.Close(); err != nil {
		return told, outputFault(err)
	}
	return told, outputFault(buffer.Flush())
}

// partWriter encodes some craters of the table.
type partWriter struct {
	s       *sampler
	part    *reports.PlainPart
	records []byte
	cells   []reports.PlainCell
	worst   []ejecta.Status // of the craters
	rows    int
}

func (s *sampler) newPartWriter(t *reports.PlainTable, atOnce int) partWriter {
	return partWriter{s: s, part: t.Part(), records: make([]byte, atOnce*s.sums.record), cells: make([]reports.PlainCell, s.layout.Cells())}
}

// encode encodes craters from one to another.
func (p *partWriter) encode(ctx context.Context, from, to int) error {
	p.worst, p.rows = p.worst[:0], 0
	records := p.records[:(to-from)*p.s.sums.record]
	if err := p.s.sums.get(records, from); err != nil {
		return err
	}
	for i := from; i < to; i++ {
		if err := p.crater(i, records[(i-from)*p.s.sums.record:]); err != nil {
			return outputFault(err)
		}
	}
	if err := p.part.End(); err != nil {
		return outputFault(err)
	}
	return ctx.Err()
}

// crater adds the rows of a crater.
func (p *partWriter) crater(i int, record []byte) error {
	c, worst := &p.s.craters[i], ejecta.StatusOK
	head := reports.PlainCrater{ID: c.id, Radius: c.radius, Neighbours: int(c.near)}
	for k := range p.s.layers {
		l := &p.s.layers[k]
		status := plainStatuses[l.status[i]]
		if status == ejecta.StatusOK {
			readCells(p.cells, record[l.slot*p.s.sums.slot:])
			p.rows += len(p.cells)
		} else {
			p.rows++
			worst = status
		}
		if err := p.part.Add(head, l.name, l.unit, status, p.cells); err != nil {
			return err
		}
	}
	p.worst = append(p.worst, worst)
	return nil
}

// join appends what was encoded to the table and counts it.
func (p *partWriter) join(t *reports.PlainTable, told *plainCount) error {
	for _, status := range p.worst {
		told.status[status]++
	}
	told.rows += p.rows
	p.s.p.prog.Add(len(p.worst))
	return outputFault(t.Join(p.part))
}
