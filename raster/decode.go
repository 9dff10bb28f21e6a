package raster

import (
	"math"
	"unsafe"
)

// decode turns stored values into values: missing first, then scale and offset. Each
// rule has a pass of its own over the row, which is short, and does little in it.
func (l *Layer) decode(row []float32) {
	if l.rule.keep != nil {
		l.rule.dropAll(row)
	} else {
		dropHuge(row)
		for _, m := range l.rule.matches {
			m.drop(row)
		}
	}
	if l.scale != 1 || l.off != 0 {
		for i, v := range row {
			row[i] = float32(float64(v)*l.scale + l.off)
		}
	}
}

// dropAll makes values missing that are so by any rule.
func (m *missing) dropAll(row []float32) {
	for i, v := range row {
		if m.is(v) {
			row[i] = float32(math.NaN())
		}
	}
}

// drop makes the values of a range missing, which mostly is a single value.
func (r match) drop(row []float32) {
	nan, only := float32(math.NaN()), r.lo
	if r.lo == r.hi {
		for i, v := range row {
			if v == only {
				row[i] = nan
			}
		}
		return
	}
	for i, v := range row {
		if v >= r.lo && v <= r.hi {
			row[i] = nan
		}
	}
}

// Every value that is read is looked at once, so this is done with two values at a
// time, as the halves of a word. Without its sign a float32 is an integer that
// grows with it, infinity and NaN at the end; with the right number added the top
// bit of a half says that it is at least some value. Values from hugeBits to
// infBits are to be dropped. Those beyond are NaN: there may be many, and they cost
// nothing.
const (
	hugeBits = 0x7f7fc99e // the bits of hugeValue
	infBits  = 0x7f800000

	bothHalves  = 1<<32 | 1
	noSigns     = 0x7fffffff * bothHalves
	topBits     = 0x80000000 * bothHalves
	fromHuge    = (0x80000000 - hugeBits) * bothHalves
	fromNaN     = (0x80000000 - infBits - 1) * bothHalves
	wordsAtOnce = 4
)

// dropHuge makes values missing that are so in any file.
func dropHuge(row []float32) {
	for len(row) > 0 && uintptr(unsafe.Pointer(&row[0]))%8 != 0 {
		dropEach(row[:1])
		row = row[1:]
	}
	done := len(row) &^ (2*wordsAtOnce - 1)
	if done == 0 { // perhaps no whole word is there to point to
		dropEach(row)
		return
	}
	words := unsafe.Slice((*uint64)(unsafe.Pointer(unsafe.SliceData(row))), done/2)
	for i := 0; i < len(words); i += wordsAtOnce {
		w := (*[wordsAtOnce]uint64)(words[i:])
		if anyHuge(w[0])|anyHuge(w[1])|anyHuge(w[2])|anyHuge(w[3]) != 0 {
			dropEach(row[2*i : 2*(i+wordsAtOnce)])
		}
	}
	dropEach(row[done:])
}

// anyHuge is not zero when a half of a word is huge and no NaN.
func anyHuge(word uint64) uint64 {
	word &= noSigns
	return ((word + fromHuge) ^ (word + fromNaN)) & topBits
}

// dropEach is dropHuge for few values.
func dropEach(row []float32) {
	for i, v := range row {
		if !(v > -hugeValue && v < hugeValue) {
			row[i] = float32(math.NaN())
		}
	}
}
