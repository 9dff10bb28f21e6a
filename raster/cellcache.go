package raster

import "sync"

// Layers on other grids than that of a visit are read by windows, and the windows of
// neighbouring craters lie in the same blocks. So workers share the cells that they
// decoded, as they are cut for a sweep, and those that were not wanted for longest
// make room for others. A sweep visits craters by rows of its map, so that cells
// are wanted again soon or never.

// cellCache holds decoded cells of one layer.
type cellCache struct {
	sheet *sheet
	most  int // cells

	onRead func(cell int) // for tests

	mu    sync.Mutex
	cells map[int]*heldCell
	clock int64    // counts cells that were wanted
	users int      // handles not yet closed
	pages []func() // give the memory back
}

// heldCell is a cell that was read, or is being read.
type heldCell struct {
	read   sync.Once
	failed bool
	values []float32
	busy   int   // workers that need the values
	wanted int64 // clock when it was wanted last
}

// leastHeld is the number of cells from which on a cache is of use.
const leastHeld = 4

// Clones returns the same layer with file handles for n workers, which are all to
// be closed. Together they hold at most some bytes of decoded blocks, and a cell
// for each worker: what one of them has read of a block, the others need not.
// Values are those of a [Layer.Clone].
func (l *Layer) Clones(n int, bytes int64) (list []*Layer, err error) {
	var c *cellCache
	if l.memory == nil {
		c = newCellCache(l, bytes)
	}
	for range n {
		k, err := l.Clone()
		if err != nil {
			for _, o := range list {
				o.Close()
			}
			return nil, err
		}
		k.share(c)
		list = append(list, k)
	}
	return list, nil
}

// newCellCache is nil when hardly a cell would find room.
func newCellCache(l *Layer, bytes int64) *cellCache {
	c := &cellCache{sheet: newSheet(l), cells: map[int]*heldCell{}}
	c.most = int(bytes / (4 * int64(c.sheet.size(0))))
	if c.most < leastHeld {
		return nil
	}
	return c
}

// share lets a layer read by way of a cache.
func (l *Layer) share(c *cellCache) {
	if c != nil {
		l.shared = c
		c.users++
	}
}

// leave gives the memory back when the last handle is closed.
func (c *cellCache) leave() {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.users--; c.users > 0 {
		return
	}
	for _, give := range c.pages {
		give()
	}
	c.cells, c.pages = nil, nil
}

// readShared reads a window that lies on the map; false when a cell cannot be read
// as a whole, which does not mean that the window cannot.
func (l *Layer) readShared(want Window, dst []float32, stride int) bool {
	a := l.shared.sheet
	for row := want.Y / a.h; row*a.h < want.Y+want.Height; row++ {
		for col := want.X / a.w; col*a.w < want.X+want.Width; col++ {
			if !l.copyCell(row*a.cols+col, want, dst, stride) {
				return false
			}
		}
	}
	return true
}

// copyCell copies what a cell has of a window. Whoever wants it first reads it; the
// others wait.
func (l *Layer) copyCell(cell int, want Window, dst []float32, stride int) bool {
	c, r := l.shared, l.shared.sheet.rect(cell)
	h := c.take(cell)
	defer c.release(h)
	h.read.Do(func() { l.readHeld(cell, r, h) })
	if h.failed {
		return false
	}
	x0, x1 := max(want.X, r.X), min(want.X+want.Width, r.X+r.Width)
	for y := max(want.Y, r.Y); y < min(want.Y+want.Height, r.Y+r.Height); y++ {
		from := (y-r.Y)*r.Width - r.X
		copy(dst[(y-want.Y)*stride+x0-want.X:], h.values[from+x0:from+x1])
	}
	return true
}

// readHeld reads a cell.
func (l *Layer) readHeld(cell int, r Window, h *heldCell) {
	if l.shared.onRead != nil {
		l.shared.onRead(cell)
	}
	h.failed = l.readFile(r.X, r.Y, r.Width, r.Height, h.values, r.Width) != nil
}

// take finds a cell, or makes room for it.
func (c *cellCache) take(cell int) *heldCell {
	c.mu.Lock()
	defer c.mu.Unlock()
	h := c.cells[cell]
	if h == nil {
		h = &heldCell{failed: true, values: c.room()}
		c.cells[cell] = h
	}
	c.clock++
	h.wanted, h.busy = c.clock, h.busy+1
	return h
}

// release says that a worker has what it wanted of a cell.
func (c *cellCache) release(h *heldCell) {
	c.mu.Lock()
	defer c.mu.Unlock()
	h.busy--
}

// room is memory for a cell: that of another one when there are as many as may be.
func (c *cellCache) room() []float32 {
	if len(c.cells) >= c.most {
		if cell, h := c.oldest(); h != nil {
			delete(c.cells, cell)
			return h.values
		}
	}
	values, give := newPages(c.sheet.size(0))
	c.pages = append(c.pages, give)
	return values
}

// oldest is the cell that nobody has wanted for longest, of those that nobody needs
// now; nil for none.
func (c *cellCache) oldest() (cell int, oldest *heldCell) {
	for n, h := range c.cells {
		if h.busy == 0 && (oldest == nil || h.wanted < oldest.wanted) {
			cell, oldest = n, h
		}
	}
	return cell, oldest
}
