package raster

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestHugeBits: the limit of huge values as bits is that as a number.
func TestHugeBits(t *testing.T) {
	if got := math.Float32bits(hugeValue); got != hugeBits {
		t.Errorf("bits of the limit are %#x", got)
	}
	for _, c := range []struct {
		bits uint32
		huge bool
	}{{hugeBits - 1, false}, {hugeBits, true}, {infBits, true}, {infBits + 1, false}, {1<<31 | hugeBits, true}, {1<<32 - 1, false}, {0, false}} {
		for _, word := range []uint64{uint64(c.bits), uint64(c.bits) << 32, uint64(c.bits) | 1<<62, uint64(c.bits)<<32 | infBits + 9} {
			if got := anyHuge(word) != 0; got != c.huge {
				t.Errorf("%#x: %v", word, got)
			}
		}
	}
}

// TestDropHugeEqualsRule: of any bits at any place, those are dropped that the
// rule without declared values calls missing, and no other bit changes.
func TestDropHugeEqualsRule(t *testing.T) {
	edge := rapid.SampledFrom([]uint32{hugeBits - 1, hugeBits, infBits - 1, infBits, infBits + 1, 0x7fc00000, 0xff7fffff, 0xff800000, 0})
	value := rapid.OneOf(edge, rapid.Uint32(), rapid.Just(math.Float32bits(200)))
	rapid.Check(t, func(t *rapid.T) {
		bits := rapid.SliceOfN(value, 0, 70).Draw(t, "bits")
		from := rapid.IntRange(0, len(bits)).Draw(t, "from")
		row := make([]float32, len(bits))
		for i, b := range bits {
			row[i] = math.Float32frombits(b)
		}
		dropHuge(row[from:])
		for i, b := range bits {
			v := math.Float32frombits(b)
			dropped := i >= from && v == v && (&missing{}).is(v)
			if got := row[i]; dropped != (got != got && v == v) || !dropped && v == v && math.Float32bits(got) != b {
				t.Fatalf("value %d of %d from %d: bits %#x became %v", i, len(bits), from, b, got)
			}
		}
	})
}
