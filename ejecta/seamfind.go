package ejecta

import (
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/blas"
	"gonum.org/v1/gonum/blas/blas64"
)

// A survey without a layer of strips can still show them: as steps that run
// straight through all the ground round a crater, along the rows, the columns or
// the track. They are looked for beside every harmonic of a blanket, which leaves
// mostly the far field to tell them, and get columns of their own when found.

const (
	seamReach  = 0.75 // of the outer range: where seams are looked for
	seamGrain  = 0.4  // crater radii between the lines that are tried
	seamChance = 0.01 // that ground without a seam shows one
	seamDraws  = 800  // of the null
	seamOften  = 0.05 // chance down to which draws tell it
	seamUneven = 3.0  // standard errors that both halves of a seam may differ
	maxSeams   = 3
	sameTrack  = 10.0 // degrees
)

// seamLine is a straight line: beyond it towards an azimuth the level is higher,
// for good or for the width of a strip.
type seamLine struct {
	azimuth, offset float64 // degrees, crater radii from the centre
	width           float64 // crater radii; 0 when the level goes on
}

// foundSeam is a strip or a single step found in the map.
type foundSeam struct {
	seamLine
	height, se float64
	p          float64 // that ground without a seam shows one as plain somewhere
}

// seamSearch looks for the seams round one crater.
type seamSearch struct {
	e        *Evidence
	under    []float64 // columns of what the direction stands beside already
	nuisance []int
	variance float64
	found    []foundSeam
}

// findSeams lists the seams that the map shows round a crater, the plainest
// first.
func (e *Evidence) findSeams(m *Measurement, set Settings, in AlarmInputs) []foundSeam {
	s := &seamSearch{e: e, under: e.under(m), nuisance: e.nuisance(set), variance: e.Variance * in.NullScale}
	tracks := e.seamTracks(in)
	for range maxSeams {
		best := s.plainest(tracks, in.Seed)
		if !(best.p < seamChance) || !s.straight(best) {
			break
		}
		s.found = append(s.found, s.finer(best))
	}
	return s.found
}

// seamTracks are the azimuths, as axes, along which seams are looked for.
func (e *Evidence) seamTracks(in AlarmInputs) []float64 {
	up := e.ground.samples.Rotation * 180 / math.Pi
	out := []float64{up, up + 90}
	for _, known := range out {
		if math.Abs(math.Remainder(in.TrackAzimuth-known, 180)) < sameTrack {
			return out
		}
	}
	if math.IsNaN(in.TrackAzimuth) {
		return out
	}
	return append(out, in.TrackAzimuth)
}

// plainest is the plainest seam along any of the tracks.
func (s *seamSearch) plainest(tracks []float64, seed uint64) foundSeam {
	best := foundSeam{p: 1}
	for _, track := range tracks {
		if f := s.along(track).find(s.variance, seed); f.p < best.p {
			best = f
		}
	}
	best.p = math.Min(1, best.p*float64(len(tracks)))
	return best
}

// along measures parallel lines along a track.
func (s *seamSearch) along(track float64) *seamBank {
	var lines []seamLine
	reach := seamReach * s.e.Layout.Outer
	for d := -reach; d <= reach; d += seamGrain {
		lines = append(lines, seamLine{azimuth: wrapTurn(track+90, 180), offset: d})
	}
	return s.bank(lines)
}

// bank asks the map for lines.
func (s *seamSearch) bank(lines []seamLine) *seamBank {
	b := &seamBank{lines: lines}
	sw, first := s.sweep(s.e.ground.cells.paintSeams(lines))
	b.info, b.score = sw.sub(span(first, first+len(lines)))
	return b
}

// sweep is the Gram matrix with columns added, and everything symmetric, every
// harmonic of a blanket, and boundaries and seams already found taken out; first
// is the first column added.
func (s *seamSearch) sweep(columns []float64) (sw *Gram, first int) {
	e := s.e
	n := e.ground.cells.N
	known := sideBySide(n, s.under, e.ground.cells.paintSeams(linesOf(s.found)))
	g := e.ground.widened(e.Gram, sideBySide(n, known, columns))
	first = e.Gram.P + len(known)/n
	out := append(span(colCos, colCos+2*Orders), s.nuisance...)
	return directionSweep(g, append(out, span(e.Gram.P, first)...)), first
}

// straight reports whether a seam is one through and through: both halves of it
// stand higher, or lower, by as much. A boundary of the ground seldom does.
func (s *seamSearch) straight(f foundSeam) bool {
	c := s.e.ground.cells
	halves := c.paintSeams([]seamLine{f.seamLine, f.seamLine})
	for i := range c.N {
		off := 2 * i
		if math.Sin(c.Az[i]-f.azimuth*math.Pi/180) > 0 {
			off++
		}
		halves[off] = 0
	}
	sw, first := s.sweep(halves)
	height, cov := sw.solve(span(first, first+2))
	if cov == nil {
		return false
	}
	apart := math.Abs(height[0]-height[1]) / math.Sqrt((cov[0]+cov[3]-2*cov[1])*s.variance)
	return height[0]*height[1] > 0 && apart < seamUneven
}

// finer moves the sides of a seam by less than a step of the bank to where it is
// plainest.
func (s *seamSearch) finer(f foundSeam) foundSeam {
	sides := []float64{f.offset}
	if f.width > 0 {
		sides = append(sides, f.offset+f.width)
	}
	var lines []seamLine
	for _, at := range sides {
		for d := -3.0; d <= 3; d++ {
			lines = append(lines, seamLine{azimuth: f.azimuth, offset: at + seamGrain/4*d})
		}
	}
	best, ok := s.bank(lines).between(f.width > 0, s.variance)
	if !ok {
		return f
	}
	best.p = f.p
	return best
}

// seamBank are parallel lines with what the map says of them, in units of the
// pixel variance.
type seamBank struct {
	lines []seamLine
	score []float64
	info  []float64
}

// z is the score of the strip between two lines, or beyond the first when the
// second is none (-1), with its information; 0 when the rings leave nothing of it.
func (b *seamBank) z(score []float64, i, j int) (z, info float64) {
	n := len(b.lines)
	s, g, whole := score[i], b.info[i*n+i], b.info[i*n+i]
	if j >= 0 {
		s -= score[j]
		whole += b.info[j*n+j]
		g = whole - 2*b.info[i*n+j]
	}
	if !(g > contactShare*whole) {
		return 0, 0
	}
	return s / math.Sqrt(g), g
}

// plainest is the strip or line with the largest score in size.
func (b *seamBank) plainest(score []float64) (z float64, i, j int) {
	for a := range b.lines {
		for c := a + 1; c <= len(b.lines); c++ {
			to := c
			if c == len(b.lines) {
				to = -1
			}
			if v, _ := b.z(score, a, to); math.Abs(v) > math.Abs(z) {
				z, i, j = v, a, to
			}
		}
	}
	return z, i, j
}

// find is the plainest seam of the bank at a variance.
func (b *seamBank) find(variance float64, seed uint64) foundSeam {
	z, i, j := b.plainest(b.score)
	if z == 0 {
		return foundSeam{p: 1}
	}
	f := b.seam(i, j, variance)
	z = math.Abs(z) / math.Sqrt(variance)
	if f.p = 2 * upperTail(z); f.p < seamChance {
		f.p = b.chance(z, seed)
	}
	return f
}

// between is the plainest strip between a line of the first half of a bank and
// one of the second, or the plainest single step.
func (b *seamBank) between(strip bool, variance float64) (f foundSeam, ok bool) {
	best, n := 0.0, len(b.lines)
	firsts, seconds := span(0, n), []int{-1}
	if strip {
		firsts, seconds = span(0, n/2), span(n/2, n)
	}
	for _, i := range firsts {
		for _, j := range seconds {
			if z, _ := b.z(b.score, i, j); math.Abs(z) > best && b.follow(i, j) {
				best, f, ok = math.Abs(z), b.seam(i, j, variance), true
			}
		}
	}
	return f, ok
}

// follow reports whether two lines follow each other.
func (b *seamBank) follow(i, j int) bool { return j < 0 || b.lines[j].offset > b.lines[i].offset }

// seam is the strip between two lines, or beyond one, with its height.
func (b *seamBank) seam(i, j int, variance float64) foundSeam {
	z, info := b.z(b.score, i, j)
	f := foundSeam{seamLine: b.lines[i], height: z / math.Sqrt(info), se: math.Sqrt(variance / info)}
	if j >= 0 {
		f.width = b.lines[j].offset - b.lines[i].offset
	}
	return f
}

// chance is the probability that ground without a seam shows one as plain
// somewhere in the bank. Drawn scores tell which is met once in twenty; farther
// out it falls as for every family of two parameters (Adler & Taylor 2007, from
// memory):
//
//	p ~ z exp(-z^2/2) ~ z^2 Q(z)
func (b *seamBank) chance(z float64, seed uint64) float64 {
	at := b.oftenMet(seed)
	return math.Min(1, seamOften*z*z*upperTail(z)/(at*at*upperTail(at)))
}

// oftenMet is the score that ground without a seam exceeds with a chance of
// seamOften.
func (b *seamBank) oftenMet(seed uint64) float64 {
	n := len(b.lines)
	l, ok := factorised(b.info, n)
	if !ok {
		return math.NaN()
	}
	rng := rand.New(rand.NewPCG(seed, 0x5ea5))
	top := make([]float64, seamDraws)
	for k := range top {
		z, _, _ := b.plainest(normalOf(l, n, rng))
		top[k] = math.Abs(z)
	}
	return Quantile(top, 1-seamOften)
}

// normalOf is a normal vector of the covariance whose factor is given.
func normalOf(l blas64.Triangular, n int, rng *rand.Rand) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	blas64.Trmv(blas.NoTrans, l, blas64.Vector{N: n, Inc: 1, Data: x})
	return x
}
