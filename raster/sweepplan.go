package raster

import (
	"math"
	"slices"
	"sync"
)

// reachSpans returns rectangles of level pixels, columns unwrapped, that hold
// the patch of a job: all of it but for faults, which cost time and no more.
// A job whose geometry will be refused has none.
func (g *Grid) reachSpans(job Job, p *Patch) []span {
	if !(job.Reach > 0) || !(math.Abs(job.Centre.Lat) <= 90) || !finite(job.Centre.Lon) || job.Level < 0 || job.Level > MaxLevel {
		return nil
	}
	b := g.Body
	reach := math.Min(job.Reach, 4*b.SemiMajor)
	p.reset(job.Level)
	g.centre(b, job.Centre, p)
	switch q := g.fastPath(b, job.Centre, reach).(type) {
	case *cylindrical:
		return g.cylinderSpans(q, job, reach/b.SemiMajor, p)
	case *stereographic:
		return g.stereoSpans(q, job, reach, p)
	}
	return g.generalSpans(job, reach, p)
}

func (g *Grid) cylinderSpans(c *cylindrical, job Job, angle float64, p *Patch) []span {
	dlon := math.Abs(g.Geo[1]/c.kx) * float64(p.Block)
	half := g.columnReach(job.Centre, angle) / dlon
	x0, x1 := int(math.Floor(-half))-2, int(math.Ceil(half))+3
	period := g.period()
	if p.CX == p.CX && period%p.Block == 0 {
		x0, x1 = int(math.Floor(p.CX-half)), int(math.Ceil(p.CX+half))+1
	}
	turn := (period + p.Block - 1) / p.Block
	if x1-x0 >= turn {
		x0, x1 = -(turn / 2), turn-turn/2
	}
	r0, r1 := g.rowReach(c, job.Centre.Lat, angle, p.Block)
	p.boxes = append(p.boxes, span{x0: p.col0 + x0, y0: r0, x1: p.col0 + x1, y1: r1 + 1})
	return p.boxes
}

func (g *Grid) stereoSpans(q *stereographic, job Job, reach float64, p *Patch) []span {
	l := g.level(p.Level)
	k := newStereoKernel(g.Body, q, job.Centre, reach, p)
	cx, cy, rad := k.circle(job.Centre, reach/g.Body.SemiMajor)
	x, y := l.pixel(q.x0+q.scale*cx, q.y0+q.scale*cy)
	rx, ry := math.Abs(q.scale*rad/l.Geo[1]), math.Abs(q.scale*rad/l.Geo[5])
	p.boxes = append(p.boxes, span{x0: int(math.Floor(x - rx)), y0: int(math.Floor(y - ry)), x1: int(math.Ceil(x + rx)), y1: int(math.Ceil(y + ry))})
	return p.boxes
}

func (g *Grid) generalSpans(job Job, reach float64, p *Patch) []span {
	for _, b := range g.generalBoxes(g.Body, job.Centre, reach, p) {
		p.boxes = append(p.boxes, b.span)
	}
	return p.boxes
}

// jobCells is the cells of many jobs.
type jobCells struct {
	parts [][]int32 // cells, job after job
	ends  [][]int32
}

const jobsPerPart = 1 << 10

func (c *jobCells) of(job int32) []int32 {
	part, at := job/jobsPerPart, job%jobsPerPart
	from := int32(0)
	if at > 0 {
		from = c.ends[part][at-1]
	}
	return c.parts[part][from:c.ends[part][at]]
}

// findCells looks up the cells of all jobs.
func (v *sweep) findCells(workers int) {
	n := (len(v.jobs) + jobsPerPart - 1) / jobsPerPart
	v.cellsOf = jobCells{make([][]int32, n), make([][]int32, n)}
	var wg sync.WaitGroup
	for w := range workers {
		wg.Go(func() {
			var p Patch
			for part := w; part < n; part += workers {
				for i := part * jobsPerPart; i < min(len(v.jobs), (part+1)*jobsPerPart); i++ {
					v.addJobCells(part, v.jobs[i], &p)
				}
			}
		})
	}
	wg.Wait()
}

func (v *sweep) addJobCells(part int, job Job, p *Patch) {
	cells := v.cellsOf.parts[part]
	if job.box != nil {
		cells = v.addBoxCells(cells, job.box)
	} else {
		cells = v.addReachCells(cells, job, p)
	}
	v.cellsOf.parts[part], v.cellsOf.ends[part] = cells, append(v.cellsOf.ends[part], int32(len(cells)))
}

// addReachCells appends the cells under the pixels round a crater.
func (v *sweep) addReachCells(cells []int32, job Job, p *Patch) []int32 {
	from := len(cells)
	for _, s := range v.grid.reachSpans(job, p) {
		if float64(s.x1-s.x0)*float64(s.y1-s.y0) > 2*MaxPatch {
			cells = cells[:from] // will be refused
			break
		}
		for _, a := range v.sheets {
			cells = unlike(a.addCells(cells, s, job.Level), from)
		}
	}
	if len(cells)-from >= manyCells {
		slices.Sort(cells[from:])
	}
	return cells
}

// unlike drops numbers from an index on that have come before.
func unlike(cells []int32, from int) []int32 {
	n := from
	for _, c := range cells[from:] {
		if !slices.Contains(cells[from:n], c) {
			cells[n] = c
			n++
		}
	}
	return cells[:n]
}
