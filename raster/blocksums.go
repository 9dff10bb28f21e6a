package raster

import "math"

// blockSums are sums over square blocks of pixels: of the values, their squares
// when they are wanted, and their number. Blocks of each size are made from four
// of half the side, so that all sizes together cost little more than the first;
// sweeps and windows do it alike and give the same to the last bit.
type blockSums struct {
	w, h   int // blocks
	sum    []float64
	square []float64
	count  []int32
	within bool
}

// size makes room for blocks.
func (s *blockSums) size(w, h int) {
	s.w, s.h = w, h
	s.sum, s.count = sized(s.sum, w*h), sized(s.count, w*h)
	if s.within {
		s.square = sized(s.square, w*h)
	}
}

// pixels sums blocks of 2 x 2 pixels. Those that an edge cuts have less.
func (s *blockSums) pixels(src []float32, w, h int) {
	s.size((w+1)/2, (h+1)/2)
	for y := range s.h {
		to := y * s.w
		if 2*y+1 < h {
			s.pairs(to, src[2*y*w:(2*y+1)*w], src[(2*y+1)*w:(2*y+2)*w])
		} else {
			s.pairs(to, src[2*y*w:(2*y+1)*w], nil)
		}
		if s.within {
			s.squares(to, src[2*y*w:min(2*y+2, h)*w], w)
		}
	}
}

// pairs sums the blocks of two rows, or of one.
func (s *blockSums) pairs(to int, top, low []float32) {
	sum, count := s.sum[to:to+s.w], s.count[to:to+s.w]
	if len(low) > 0 {
		whole := len(top) / 2
		sum, count = sum[:whole], count[:whole]
		low = low[:len(top)]
		for i := range sum {
			a, b, c, d := top[2*i], top[2*i+1], low[2*i], low[2*i+1]
			v := (float64(a) + float64(b)) + (float64(c) + float64(d))
			if v == v {
				sum[i], count[i] = v, 4
				continue
			}
			sum[i], count[i] = sumOf(top[2*i:2*i+2], low[2*i:2*i+2])
		}
		if whole == s.w {
			return
		}
		sum[:s.w][whole], count[:s.w][whole] = sumOf(top[2*whole:], low[2*whole:])
		return
	}
	for i := range sum {
		sum[i], count[i] = sumOf(top[2*i:min(2*i+2, len(top))], nil)
	}
}

// sumOf sums what is there of a block.
func sumOf(top, low []float32) (sum float64, n int32) {
	for _, row := range [2][]float32{top, low} {
		for _, v := range row {
			if v == v {
				sum += float64(v)
				n++
			}
		}
	}
	return sum, n
}

// squares sums the squares of rows of pixels.
func (s *blockSums) squares(to int, src []float32, w int) {
	square := s.square[to : to+s.w]
	clear(square)
	for from := 0; from < len(src); from += w {
		for i, v := range src[from : from+w] {
			if v == v {
				square[i>>1] += float64(v) * float64(v)
			}
		}
	}
}

// halve makes blocks of twice the side, in place.
func (s *blockSums) halve() {
	w, h := s.w, s.h
	s.w, s.h = (w+1)/2, (h+1)/2
	for y := range s.h {
		halveRow(s.sum, w, h, y)
		halveRow(s.count, w, h, y)
		if s.within {
			halveRow(s.square, w, h, y)
		}
	}
}

// halveRow makes row y of the blocks of twice the side from w x h numbers. What it
// writes lies before all that is still to be read.
func halveRow[T float64 | int32](v []T, w, h, y int) {
	to, whole := v[y*((w+1)/2):], 0
	if 2*y+1 < h {
		top, low := v[2*y*w:(2*y+1)*w], v[(2*y+1)*w:(2*y+2)*w]
		whole = w / 2
		for x := range to[:whole] {
			to[x] = (top[2*x] + top[2*x+1]) + (low[2*x] + low[2*x+1])
		}
	}
	for x := whole; x < (w+1)/2; x++ {
		to[x] = four(v, 2*y*w+2*x, w, 2*x+1 < w, 2*y+1 < h)
	}
}

// four is the sum of a number, that to the right, and those below.
func four[T float64 | int32](v []T, at, w int, right, below bool) T {
	var b, c, d T
	if right {
		b = v[at+1]
	}
	if below {
		c = v[at+w]
	}
	if right && below {
		d = v[at+w+1]
	}
	return (v[at] + b) + (c + d)
}

// variance is that of the pixels of a block.
func (s *blockSums) variance(at int) float32 {
	n := float64(s.count[at])
	mean := s.sum[at] / n
	return float32(math.Max(0, s.square[at]/n-mean*mean))
}

// blockMean is the mean and the valid share of a block that has been summed.
func (l *Layer) blockMean(s *blockSums, at, col, row, block int) (mean, share float32) {
	k := s.count[at]
	share = float32(k) / float32(l.blockHeight(row, block)*l.blockWidth(col, block, l.grid.period()))
	if share >= minValid {
		return float32(s.sum[at] / float64(k)), share
	}
	return float32(math.NaN()), share
}

// meansOf writes the means of the blocks of a cell.
func (l *Layer) meansOf(a *sheet, r Window, s *blockSums, level int, to *plane) {
	b := 1 << level
	for y := range s.h {
		high, from := l.blockHeight(r.Y>>level+y, b), y*s.w
		means(s.sum[from:from+s.w], s.count[from:], to.mean[from:], to.share[from:], int32(high*b))
		if a.period%max(1, b) != 0 { // the last block of a turn is narrow
			for x := range s.w {
				to.mean[from+x], to.share[from+x] = l.blockMean(s, from+x, r.X>>level+x, r.Y>>level+y, b)
			}
		}
		for at := from; s.within && at < from+s.w; at++ {
			to.vary[at] = s.variance(at)
		}
	}
}

// means writes the means and valid shares of whole blocks.
func means(sum []float64, count []int32, mean, share []float32, whole int32) {
	count, mean, share = count[:len(sum)], mean[:len(sum)], share[:len(sum)]
	all, one := float32(whole), 1/float64(whole)
	least, nan := minValid*all, float32(math.NaN())
	exact := whole&(whole-1) == 0 // then a product is the quotient
	for i, v := range sum {
		k := count[i]
		switch {
		case k == whole && exact:
			mean[i], share[i] = float32(v*one), 1
		case float32(k) >= least:
			mean[i], share[i] = float32(v/float64(k)), float32(k)/all
		default:
			mean[i], share[i] = nan, float32(k)/all
		}
	}
}
