package raster

import (
	"cmp"
	"errors"
	"math"
	"slices"
)

// Sample is what a look at a few windows of a layer shows. Shares are of the
// pixels looked at. Min, Max, Median and Spikes are values as the layer gives
// them; Stored turns one back into the value in the file.
type Sample struct {
	Windows, Pixels int
	Valid           float64 // share of pixels with a value
	Min, Max        float64
	Median          float64
	Quartiles       [2]float64
	Constant        bool    // all valid pixels are equal
	ClippedAtZero   float64 // share equal to 0 while no value is below 0
	NonPositive     float64 // share of values that are zero or negative
	Spikes          []Spike // the commonest single values, at most 8

	// Lag1X and Lag1Y are the autocorrelations of neighbouring columns and
	// rows, means of the windows taken out.
	Lag1X, Lag1Y float64
	// Smooth is the autocorrelation of successive differences along rows: -0.5
	// for independent pixels, towards +1 for a map that was interpolated or
	// smoothed before.
	Smooth float64
	// Uneven is the ratio of the upper to the lower quartile, over pieces of the
	// windows, of the mean square difference of neighbouring rows, which lie as far
	// apart all over most maps; NaN from too few pieces.
	Uneven  float64
	Damaged []error // windows that could not be read

	scale, off float64
}

// Spike is one value that many pixels share.
type Spike struct {
	Value   float64
	Stored  float64 // as in the file, before scale and offset
	Share   float64 // of the valid pixels
	Suspect bool    // far outside the other values: an undeclared nodata value
	Isolate float64 // gap to the values further in, in their interquartile ranges; 0 inside
}

const (
	sampleSide    = 128
	sampleWindows = 64
)

// Survey looks at no more than windows windows (0 = 64) of at most 128 x 128
// pixels, spread evenly over the map in an order that depends on nothing else.
// Windows that cannot be read are listed in Damaged. It returns an error only
// when none can be read.
func (l *Layer) Survey(windows int) (*Sample, error) {
	if windows <= 0 {
		windows = sampleWindows
	}
	s := &Sample{scale: l.scale, off: l.off, Min: math.NaN(), Max: math.NaN(), Median: math.NaN(), Lag1X: math.NaN(), Lag1Y: math.NaN(), Smooth: math.NaN(), Uneven: math.NaN()}
	var t surveyor
	w, h := min(sampleSide, l.grid.Width), min(sampleSide, l.grid.Height)
	buf := make([]float32, w*h)
	for _, at := range spread(l.grid.Width-w+1, l.grid.Height-h+1, windows) {
		if err := l.Read(at[0], at[1], w, h, buf); err != nil {
			s.Damaged = append(s.Damaged, err)
			if isWeb(l.spec.Path) {
				if len(s.Damaged) == maxRemoteFaults {
					break
				}
				continue
			}
			l.surveyPieces(s, &t, Window{at[0], at[1], w, h}, buf)
			continue
		}
		s.Windows++
		s.Pixels += len(buf)
		t.window(buf, w, h)
	}
	if s.Windows == 0 {
		return nil, nothingReadable(s.Damaged[0])
	}
	t.finish(s)
	for i := range s.Spikes {
		s.Spikes[i].Stored = s.stored(s.Spikes[i].Value)
	}
	return s, nil
}

// nothingReadable is the error of a map of which no sampled window can be read:
// the fault is not at one place.
func nothingReadable(err error) error {
	var e *Error
	if !errors.As(err, &e) {
		return err
	}
	all := *e
	all.Remedy = "none of the places looked at can be read; " + checkTheCopy
	return &all
}

// maxRemoteFaults ends the look at a map on a server that fails: every fault
// there has been tried several times, with pauses.
const maxRemoteFaults = 4

// surveyPieces looks at the parts of a window that can still be read.
func (l *Layer) surveyPieces(s *Sample, t *surveyor, win Window, buf []float32) {
	for y := win.Y; y < win.Y+win.Height; y += sampleSide / 4 {
		for x := win.X; x < win.X+win.Width; x += sampleSide / 4 {
			w, h := min(sampleSide/4, win.X+win.Width-x), min(sampleSide/4, win.Y+win.Height-y)
			if l.Read(x, y, w, h, buf) == nil {
				s.Windows++
				s.Pixels += w * h
				t.window(buf[:w*h], w, h)
			}
		}
	}
}

// spread returns up to n places in 0..w, 0..h: a lattice of the golden ratio,
// whose first n points are even for any n.
func spread(w, h, n int) (at [][2]int) {
	const g1, g2 = 0.7548776662466927, 0.5698402909980532
	seen := make(map[[2]int]bool)
	for i := 0; i < n; i++ {
		_, fx := math.Modf(0.5 + g1*float64(i))
		_, fy := math.Modf(0.5 + g2*float64(i))
		p := [2]int{int(fx * float64(w)), int(fy * float64(h))}
		if !seen[p] {
			seen[p] = true
			at = append(at, p)
		}
	}
	return at
}

// surveyor gathers values and products of neighbours.
type surveyor struct {
	values                []float32
	xx, xxN, yy, yyN      float64
	var0, varN            float64
	diff, diffN, dVar, dN float64
	rough                 []float64 // of each piece of a window
}

func (t *surveyor) window(buf []float32, w, h int) {
	mean, n := 0.0, 0
	for _, v := range buf {
		if v == v {
			t.values = append(t.values, v)
			mean += float64(v)
			n++
		}
	}
	if n == 0 {
		return
	}
	mean /= float64(n)
	t.pieces(buf, w, h)
	for i, v := range buf {
		if v != v {
			continue
		}
		a := float64(v) - mean
		t.var0 += a * a
		t.varN++
		x := i % w
		if x+1 < w && buf[i+1] == buf[i+1] {
			t.xx += a * (float64(buf[i+1]) - mean)
			t.xxN++
			t.differences(buf, i, x, w)
		}
		if i+w < w*h && buf[i+w] == buf[i+w] {
			t.yy += a * (float64(buf[i+w]) - mean)
			t.yyN++
		}
	}
}

// pieceSide is the side of the pieces whose roughness is compared, pixels.
const pieceSide = 32

// pieces measures the roughness of each whole piece of a window.
func (t *surveyor) pieces(buf []float32, w, h int) {
	for y := 0; y+pieceSide <= h; y += pieceSide {
		for x := 0; x+pieceSide <= w; x += pieceSide {
			if r, ok := roughness(buf[y*w+x:], w); ok {
				t.rough = append(t.rough, r)
			}
		}
	}
}

// roughness is the mean square difference of neighbouring rows of the piece at
// the beginning of a buffer of rows; false where half of it has no values.
func roughness(buf []float32, w int) (float64, bool) {
	sum, n := 0.0, 0
	for y := range pieceSide - 1 {
		for i := y * w; i < y*w+pieceSide; i++ {
			if d := float64(buf[i+w]) - float64(buf[i]); d == d {
				sum, n = sum+d*d, n+1
			}
		}
	}
	return sum / float64(n), 2*n >= pieceSide*(pieceSide-1)
}

// minPieces is how many pieces tell whether a map is uneven.
const minPieces = 16

// uneven compares the pieces. Pieces that are flat, as in a map without values
// there, take no part.
func (t *surveyor) uneven() float64 {
	rough := slices.DeleteFunc(t.rough, func(r float64) bool { return r == 0 })
	if len(rough) < minPieces {
		return math.NaN()
	}
	slices.Sort(rough)
	return rough[len(rough)*3/4] / rough[len(rough)/4]
}

func (t *surveyor) differences(buf []float32, i, x, w int) {
	d := float64(buf[i+1]) - float64(buf[i])
	t.dVar += d * d
	t.dN++
	if x+2 < w && buf[i+2] == buf[i+2] {
		t.diff += d * (float64(buf[i+2]) - float64(buf[i+1]))
		t.diffN++
	}
}

func (t *surveyor) finish(s *Sample) {
	n := len(t.values)
	s.Valid = float64(n) / float64(s.Pixels)
	if n == 0 {
		return
	}
	slices.Sort(t.values)
	positive, _ := slices.BinarySearch(t.values, math.SmallestNonzeroFloat32)
	s.NonPositive = float64(positive) / float64(n)
	s.Min, s.Max, s.Median = float64(t.values[0]), float64(t.values[n-1]), float64(t.values[n/2])
	s.Quartiles = [2]float64{float64(t.values[n/4]), float64(t.values[n*3/4])}
	s.Constant = s.Min == s.Max
	if t.var0 > 0 {
		s.Lag1X = t.xx / t.xxN / (t.var0 / t.varN)
		s.Lag1Y = t.yy / t.yyN / (t.var0 / t.varN)
	}
	if t.dVar > 0 {
		s.Smooth = t.diff / t.diffN / (t.dVar / t.dN)
	}
	s.Uneven = t.uneven()
	s.spikes(t.values)
}

// usualNoData are values that producers write for missing.
var usualNoData = map[float64]bool{-9999: true, -999: true, -99999: true, -32768: true, -32767: true, 65535: true,
	32767: true, -1e30: true, 1e30: true, -99: true, 9999: true, 99999: true, -128: true, 1e20: true, -1e20: true}

// spikes finds the values that many pixels share, and among them those that lie
// apart at either end: one after the other, since a map may hold several
// special values.
func (s *Sample) spikes(v []float32) {
	groups := groupEqual(v)
	for _, g := range groups {
		if share := float64(g.to-g.from) / float64(len(v)); share >= 5e-4 && g.to-g.from >= 3 {
			s.Spikes = append(s.Spikes, Spike{Value: float64(v[g.from]), Share: share})
		}
	}
	s.suspects(v, groups)
	if k := s.at(0); k != nil && s.Min == 0 && !s.Constant {
		s.ClippedAtZero = k.Share
	}
	slices.SortStableFunc(s.Spikes, func(a, b Spike) int {
		if a.Suspect != b.Suspect {
			if a.Suspect {
				return -1
			}
			return 1
		}
		return cmp.Compare(b.Share, a.Share)
	})
	s.Spikes = s.Spikes[:min(len(s.Spikes), 8)]
}

type group struct{ from, to int }

// groupEqual returns the runs of equal values of a sorted list.
func groupEqual(v []float32) (groups []group) {
	for i := 0; i < len(v); {
		j := i
		for j < len(v) && v[j] == v[i] {
			j++
		}
		groups = append(groups, group{i, j})
		i = j
	}
	return groups
}

// at returns the spike with a value.
func (s *Sample) at(value float64) *Spike {
	for i := range s.Spikes {
		if s.Spikes[i].Value == value {
			return &s.Spikes[i]
		}
	}
	return nil
}

// suspects walks inwards from both ends as long as each value is a spike apart
// from all values further in.
func (s *Sample) suspects(v []float32, groups []group) {
	lo, hi := 0, len(v)
	for n := 0; n+1 < len(groups); n++ {
		g := groups[n]
		rest := v[g.to:hi]
		if !s.apart(float64(v[g.from]), float64(rest[0])-float64(v[g.from]), rest) {
			break
		}
		lo = g.to
	}
	for n := len(groups) - 1; n > 0 && groups[n].from > lo; n-- {
		g := groups[n]
		rest := v[lo:g.from]
		if !s.apart(float64(v[g.from]), float64(v[g.from])-float64(rest[len(rest)-1]), rest) {
			break
		}
	}
}

// apart marks a spike as suspect when its gap to the rest is wide for the
// spread of the rest.
func (s *Sample) apart(value, gap float64, rest []float32) bool {
	k := s.at(value)
	n := len(rest)
	iqr := float64(rest[n*3/4]) - float64(rest[n/4])
	if k == nil || iqr == 0 {
		return false
	}
	k.Isolate = gap / iqr
	k.Suspect = k.Isolate > 3 || usualNoData[s.stored(value)] && k.Isolate > 0.5
	return k.Suspect
}

// stored turns a value back into the one in the file.
func (s *Sample) stored(v float64) float64 { return math.Round((v-s.off)/s.scale*1e6) / 1e6 }
