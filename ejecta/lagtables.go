package ejecta

import "sync"

// lagTables are the mean correlations between two squares of pixels, by their
// levels and the difference of their corners. A table is made when it is first
// wanted, as wide as it is wanted then: squares of a pixel stand near the rim
// only, and all tables out to the farthest lag would need 50 MB for one noise
// model. What a table holds at a lag does not depend on who wanted it.
type lagTables struct {
	half, side int       // lags -half..half
	c          []float64 // correlation of pixels, side x side

	lock  sync.Mutex
	table [maxBlockLevel + 1][maxBlockLevel + 1]*lagTable // by the smaller, the larger level
}

// lagTable holds the mean correlation between two squares on a grid of the
// smaller side. Lags that were not measured have the value of the last that was.
type lagTable struct {
	halfX, halfY int // lags -half..half, in steps
	c            []float32
}

func newLagTables(c []float64, pad, half int) *lagTables {
	t := &lagTables{half: half, side: 2*half + 1}
	t.c = make([]float64, t.side*t.side)
	for y := -half; y <= half; y++ {
		for x := -half; x <= half; x++ {
			t.c[(y+half)*t.side+x+half] = c[(y+pad)%pad*pad+(x+pad)%pad]
		}
	}
	return t
}

// at is the correlation of two pixels, to the precision of the tables.
func (t *lagTables) at(dx, dy int) float64 {
	x, y := clamp(dx, t.half), clamp(dy, t.half)
	return float64(float32(t.c[(y+t.half)*t.side+x+t.half]))
}

func clamp(x, most int) int { return min(max(x, -most), most) }

// roomStep is what the width of tables is rounded up to, pixels.
const roomStep = 32

// between returns the table for squares of two levels, l <= m, that holds at
// least the given lags.
func (t *lagTables) between(l, m uint8, wide, high int) *lagTable {
	t.lock.Lock()
	defer t.lock.Unlock()
	old := t.table[l][m]
	if old != nil && old.halfX<<l >= wide && old.halfY<<l >= high {
		return old
	}
	if old != nil { // not a little wider each time
		wide, high = max(wide, old.halfX<<l*5/4), max(high, old.halfY<<l*5/4)
	}
	t.table[l][m] = t.make(l, m, (wide+roomStep)/roomStep*roomStep, (high+roomStep)/roomStep*roomStep)
	return t.table[l][m]
}

// make tabulates the lags up to the given ones.
func (t *lagTables) make(l, m uint8, wide, high int) *lagTable {
	h := t.half >> l // what was measured, in steps
	out := &lagTable{halfX: wide >> l, halfY: high >> l}
	box := t.near(min(out.halfX, h)<<l+1<<l+1<<m, min(out.halfY, h)<<l+1<<l+1<<m)
	box.widenTo(l, m)
	out.c = make([]float32, 0, (2*out.halfX+1)*(2*out.halfY+1))
	for y := -out.halfY; y <= out.halfY; y++ {
		row := box.row(clamp(y, h) << l)
		for x := -out.halfX; x <= out.halfX; x++ {
			out.c = append(out.c, float32(row[clamp(x, h)<<l+box.halfX]))
		}
	}
	return out
}

// lagBox is a table of correlations in the making, lags -half..half.
type lagBox struct {
	halfX, halfY int
	c, spare     []float64
}

// near copies the correlations up to the given lags, as far as they go.
func (t *lagTables) near(wide, high int) *lagBox {
	b := &lagBox{halfX: min(wide, t.half), halfY: min(high, t.half)}
	for y := -b.halfY; y <= b.halfY; y++ {
		at := (y+t.half)*t.side + t.half
		b.c = append(b.c, t.c[at-b.halfX:at+b.halfX+1]...)
	}
	b.spare = make([]float64, len(b.c))
	return b
}

func (b *lagBox) row(y int) []float64 {
	side := 2*b.halfX + 1
	return b.c[(y+b.halfY)*side : (y+b.halfY+1)*side]
}

// widenTo turns correlations of pixels into those of squares. At the ends of the
// box, as far in as the squares reach, they are wrong unless the correlations end
// there too.
func (b *lagBox) widenTo(l, m uint8) {
	for k := range l {
		b.widen(1 << k)
		b.widen(-1 << k)
	}
	for k := l; k < m; k++ {
		b.widen(1 << k)
	}
}

// widen doubles the side of the second (shift > 0) or first (shift < 0) square:
// the mean over two shifts along each axis.
func (b *lagBox) widen(shift int) {
	side, rows := 2*b.halfX+1, 2*b.halfY+1
	for y := range rows {
		from, to := b.c[y*side:(y+1)*side], b.spare[y*side:(y+1)*side]
		for x, v := range from {
			to[x] = 0.5 * (v + from[min(max(x+shift, 0), side-1)])
		}
	}
	for y := range rows {
		ys := min(max(y+shift, 0), rows-1)
		near, far, to := b.spare[y*side:(y+1)*side], b.spare[ys*side:(ys+1)*side], b.c[y*side:(y+1)*side]
		for x, v := range near {
			to[x] = 0.5 * (v + far[x])
		}
	}
}
