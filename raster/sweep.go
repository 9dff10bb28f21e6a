package raster

import (
	"slices"
	"sync"
)

// The sweep decodes the cells of a map in the order of the file, each that a
// job needs once, keeps them while a job waits for them, and does a job when
// its last cell is there. What is kept of a cell is a unit for each level at
// which jobs need it: the pixels, or the means of blocks of them.

// defaultCache is how many bytes of decoded cells are held, when nothing is said.
const defaultCache = 512 << 20

// levels is the number of levels.
const levels = MaxLevel + 1

// sweep is a visit in progress.
type sweep struct {
	grid    *Grid
	tables  *mapTables
	jobs    []Job
	sheets  []*sheet
	sheetOf []*sheet // by cell
	cellsOf jobCells
	cache   int64

	firstSums int32 // job that wants sums of the kernel there is, like all after it

	inOrder []int32 // all cells, as in the file
	bands   int     // see settle
	bandOf  []int8  // by job; -1: reads its own window

	order []int32 // cells to load
	start []int32 // jobs of unit u are users[start[u]:start[u+1]]
	users []int32

	// For tests: what is called for every cell and layer that is read, and for
	// every job that needed a cell that was not planned for.
	onLoad      func(layer int, at Window)
	onUnplanned func(job int32)

	mu      sync.Mutex
	wake    *sync.Cond
	stopped bool
	next    int       // load: cell next/layers of order
	busy    int       // loads in progress
	ready   []int32   // jobs, as a queue
	head    int       // of ready
	windows []int32   // jobs that read their own windows
	missing []int32   // by job: cells not yet read
	toRead  []int32   // by cell: layers not yet read
	refs    []int32   // by unit: jobs that have not read it
	planes  [][]plane // by unit, by layer of the sheet
	pool    map[int][][]float32
	pages   []func() // give the memory of the pool back
}

// unit numbers a cell at a level.
func unit(cell int32, level int) int { return int(cell)*levels + level }

// newSweep plans a visit; within says that variances within blocks are wanted.
func newSweep(s *LayerSet, jobs []Job, workers int, within bool) *sweep {
	v := &sweep{grid: s.Layers[0].Grid(), jobs: jobs, cache: s.Cache, pool: map[int][][]float32{}}
	v.wake, v.tables = sync.NewCond(&v.mu), &mapTables{g: v.grid}
	if v.cache <= 0 {
		v.cache = defaultCache
	}
	var cells int
	v.sheets, cells = newSheets(s)
	for _, a := range v.sheets {
		a.within = within
		for range a.cols * a.rows {
			v.sheetOf = append(v.sheetOf, a)
		}
	}
	v.findCells(workers)
	v.inOrder = make([]int32, cells)
	for c := range v.inOrder {
		v.inOrder[c] = int32(c)
	}
	slices.SortStableFunc(v.inOrder, v.inFile)
	v.settle()
	v.begin(s, 0)
	return v
}

// inFile compares cells by their last row, then by column.
func (v *sweep) inFile(a, b int32) int {
	p, q := v.sheetOf[a].rect(int(a)), v.sheetOf[b].rect(int(b))
	if d := p.Y + p.Height - q.Y - q.Height; d != 0 {
		return d
	}
	return p.X - q.X
}

// takesPart reports whether the cells of all layers hold whole pixels of the
// level of a job.
func (v *sweep) takesPart(job Job) bool {
	if job.Level < 0 || job.Level > MaxLevel {
		return false
	}
	return !slices.ContainsFunc(v.sheets, func(a *sheet) bool { return !a.aligned(job.Level) })
}

// rank is the place of every cell in the order.
func (v *sweep) rank() []int32 {
	rank := make([]int32, len(v.inOrder))
	for i, c := range v.inOrder {
		rank[c] = int32(i)
	}
	return rank
}

// holds returns, for every job, the bytes of its cells times the number of
// cells that are read while it waits for the last; -1 for a job that cannot
// take part.
func (v *sweep) holds() []int64 {
	rank := v.rank()
	out := make([]int64, len(v.jobs))
	for i, job := range v.jobs {
		out[i] = -1
		if v.takesPart(job) {
			out[i] = v.hold(v.cellsOf.of(int32(i)), job.Level, rank)
		}
	}
	return out
}

// hold is the bytes of cells, each times how long it waits for the last.
func (v *sweep) hold(cells []int32, level int, rank []int32) (sum int64) {
	last := int32(0)
	for _, c := range cells {
		last = max(last, rank[c])
	}
	for _, c := range cells {
		sum += v.sheetOf[c].bytes(level) * int64(1+last-rank[c])
	}
	return sum
}

// index gathers the jobs of each unit that belong to a band.
func (v *sweep) index(band int) {
	units := len(v.sheetOf) * levels
	v.start = make([]int32, units+1)
	v.missing, v.toRead = sized(v.missing, len(v.jobs)), make([]int32, len(v.sheetOf))
	clear(v.missing)
	v.each(band, func(i int32, u int) { v.start[u+1]++ })
	for u := range units {
		v.start[u+1] += v.start[u]
	}
	v.users, v.refs = sized(v.users, int(v.start[units])), make([]int32, units)
	v.each(band, func(i int32, u int) {
		v.users[v.start[u]+v.refs[u]] = i
		v.refs[u]++
		v.missing[i]++
		v.toRead[u/levels] = int32(len(v.sheetOf[u/levels].layers))
	})
}

// each calls fn for every job of a band and each of its units.
func (v *sweep) each(band int, fn func(job int32, u int)) {
	for i, job := range v.jobs {
		if int(v.bandOf[i]) != band {
			continue
		}
		for _, c := range v.cellsOf.of(int32(i)) {
			fn(int32(i), unit(c, job.Level))
		}
	}
}

// peak is the most bytes that the sweep holds. Memory goes back to a pool for
// each size of unit, so the peaks of the levels add up.
func (v *sweep) peak() int64 {
	refs, missing := slices.Clone(v.refs), slices.Clone(v.missing)
	var held, most [levels]int64
	for _, c := range v.inOrder {
		for level := range levels {
			if u := unit(c, level); refs[u] > 0 {
				held[level] += v.sheetOf[c].bytes(level)
				most[level] = max(most[level], held[level])
			}
		}
		for level := range levels {
			u := unit(c, level)
			for _, job := range v.users[v.start[u]:v.start[u+1]] {
				if missing[job]--; missing[job] > 0 {
					continue
				}
				for _, d := range v.cellsOf.of(job) {
					w := unit(d, level)
					if refs[w]--; refs[w] == 0 {
						held[level] -= v.sheetOf[d].bytes(level)
					}
				}
			}
		}
	}
	sum := int64(0)
	for _, m := range most {
		sum += m
	}
	return sum
}
