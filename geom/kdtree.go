package geom

// kdTree is a static tree over points in space: an implicit median layout over
// a slice of indices, split along the axis of largest spread, with small leaves
// searched in order. It is built once and is safe for concurrent reading.
type kdTree struct {
	pts   []unit // all points, by catalogue index
	idx   []int32
	split []kdNode // in the order of the recursion, leaves have none
}

type kdNode struct {
	axis  int8
	value float64
	right int32 // position of the right child in split, 0 when it is a leaf
}

const kdLeaf = 12

func newKDTree(pts []unit, idx []int32) *kdTree {
	t := &kdTree{pts: pts, idx: idx}
	t.build(0, len(idx))
	return t
}

func (t *kdTree) build(lo, hi int) {
	if hi-lo <= kdLeaf {
		return
	}
	axis := t.widestAxis(lo, hi)
	mid := (lo + hi) / 2
	t.selectNth(lo, hi, mid, axis)
	at := len(t.split)
	t.split = append(t.split, kdNode{axis: int8(axis), value: t.pts[t.idx[mid]][axis]})
	t.build(lo, mid)
	t.split[at].right = int32(len(t.split))
	t.build(mid, hi)
}

func (t *kdTree) widestAxis(lo, hi int) int {
	low, high := t.pts[t.idx[lo]], t.pts[t.idx[lo]]
	for _, i := range t.idx[lo+1 : hi] {
		for a, v := range t.pts[i] {
			low[a], high[a] = min(low[a], v), max(high[a], v)
		}
	}
	best := 0
	for a := 1; a < 3; a++ {
		if high[a]-low[a] > high[best]-low[best] {
			best = a
		}
	}
	return best
}

// selectNth partitions idx[lo:hi] so that idx[n] is where sorting along the axis
// would put it; smaller ones come before. Three-way, so that equal points do
// not make it quadratic.
func (t *kdTree) selectNth(lo, hi, n, axis int) {
	for hi-lo > 1 {
		pivot := t.medianOf3(lo, (lo+hi)/2, hi-1, axis)
		lt, i, gt := lo, lo, hi
		for i < gt {
			switch v := t.pts[t.idx[i]][axis]; {
			case v < pivot:
				t.idx[lt], t.idx[i] = t.idx[i], t.idx[lt]
				lt++
				i++
			case v > pivot:
				gt--
				t.idx[gt], t.idx[i] = t.idx[i], t.idx[gt]
			default:
				i++
			}
		}
		switch {
		case n < lt:
			hi = lt
		case n >= gt:
			lo = gt
		default:
			return
		}
	}
}

func (t *kdTree) medianOf3(i, j, k, axis int) float64 {
	a, b, c := t.pts[t.idx[i]][axis], t.pts[t.idx[j]][axis], t.pts[t.idx[k]][axis]
	return max(min(a, b), min(max(a, b), c))
}

// within calls visit for each point no farther than dist (a chord) from at,
// until visit returns false. It returns false when it was stopped.
func (t *kdTree) within(at unit, dist float64, visit func(i int32, d2 float64) bool) bool {
	return t.walk(0, 0, len(t.idx), at, dist, dist*dist, visit)
}

func (t *kdTree) walk(node, lo, hi int, at unit, dist, dist2 float64, visit func(int32, float64) bool) bool {
	if hi-lo <= kdLeaf {
		for _, i := range t.idx[lo:hi] {
			if d2 := t.pts[i].chord2(at); d2 <= dist2 && !visit(i, d2) {
				return false
			}
		}
		return true
	}
	n := t.split[node]
	mid := (lo + hi) / 2
	off := at[n.axis] - n.value
	if off <= dist && !t.walk(node+1, lo, mid, at, dist, dist2, visit) {
		return false
	}
	return off < -dist || t.walk(int(n.right), mid, hi, at, dist, dist2, visit)
}

// nearest offers points to visit in an order that shrinks the search: visit
// returns the largest squared chord that is still of interest.
func (t *kdTree) nearest(at unit, limit2 float64, visit func(i int32, d2 float64) float64) float64 {
	return t.descend(0, 0, len(t.idx), at, limit2, visit)
}

func (t *kdTree) descend(node, lo, hi int, at unit, limit2 float64, visit func(int32, float64) float64) float64 {
	if hi-lo <= kdLeaf {
		for _, i := range t.idx[lo:hi] {
			if d2 := t.pts[i].chord2(at); d2 <= limit2 {
				limit2 = visit(i, d2)
			}
		}
		return limit2
	}
	n := t.split[node]
	mid := (lo + hi) / 2
	off := at[n.axis] - n.value
	if off < 0 {
		limit2 = t.descend(node+1, lo, mid, at, limit2, visit)
		if off*off <= limit2 {
			limit2 = t.descend(int(n.right), mid, hi, at, limit2, visit)
		}
		return limit2
	}
	limit2 = t.descend(int(n.right), mid, hi, at, limit2, visit)
	if off*off <= limit2 {
		limit2 = t.descend(node+1, lo, mid, at, limit2, visit)
	}
	return limit2
}

func (u unit) chord2(v unit) float64 {
	x, y, z := u[0]-v[0], u[1]-v[1], u[2]-v[2]
	return float64(x*x) + float64(y*y) + float64(z*z)
}
