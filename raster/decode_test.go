package raster

import (
	"math"
	"slices"
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

// TestDecodeEqualsRule: a row is decoded as its rule says of every single value.
func TestDecodeEqualsRule(t *testing.T) {
	value := rapid.SampledFrom([]float32{-9999, -1, 0, 1, 2.5, 3, 255, -1.70141e38, -1.7014e38, 3.3e38, 3.4e38, float32(math.Inf(-1)), float32(math.NaN())})
	rapid.Check(t, func(t *rapid.T) {
		l := &Layer{scale: rapid.SampledFrom([]float64{1, 0.5, -3}).Draw(t, "scale"), off: rapid.SampledFrom([]float64{0, 7}).Draw(t, "offset")}
		l.rule.matches = rapid.SampledFrom([][]match{nil, {{-9999, -9999}}, {{0, 0}, {-1.8e38, -1.7e38}}, {{1, 2.6}}}).Draw(t, "missing")
		l.rule.keep = rapid.SampledFrom([][]match{nil, nil, {{1, 1}, {255, 255}}}).Draw(t, "keep")
		stored := rapid.SliceOfN(value, 0, 40).Draw(t, "row")
		row := slices.Clone(stored)
		l.decode(row)
		for i, v := range stored {
			want := float32(float64(v)*l.scale + l.off)
			if missing := l.rule.is(v); missing != (row[i] != row[i]) || !missing && row[i] != want {
				t.Fatalf("value %d: %v became %v", i, v, row[i])
			}
		}
	})
}
