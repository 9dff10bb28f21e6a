package ejecta

import (
	"math"
	"testing"
)

// lopsided is a correlation unlike in all directions.
func lopsided(dx, dy float64) float64 {
	return math.Exp(-math.Hypot(dx/3, dy/5)) * (1 + 0.1*math.Cos(dx/4+dy/7))
}

// squareMean is the mean correlation of two squares, pixel by pixel.
func squareMean(t *lagTables, l, m, dx, dy int) float64 {
	sum := 0.0
	for a := range 1 << (2 * l) {
		for b := range 1 << (2 * m) {
			sum += t.at(dx+b%(1<<m)-a%(1<<l), dy+b>>m-a>>l)
		}
	}
	return sum / float64(int(1)<<(2*l)) / float64(int(1)<<(2*m))
}

func TestTablesHoldMeansOfPixels(t *testing.T) {
	lags := KnownNoise(lopsided, 60).lags
	for l := range 3 {
		for m := l; m < 4; m++ {
			table := lags.between(uint8(l), uint8(m), 40, 24)
			for _, d := range [][2]int{{0, 0}, {8, -16}, {-24, 8}, {32, 24}} {
				x, y := d[0]>>l+table.halfX, d[1]>>l+table.halfY
				got := float64(table.c[y*(2*table.halfX+1)+x])
				within(t, "mean", got, squareMean(lags, l, m, d[0], d[1]), 1e-6)
			}
		}
	}
}

// A table that grew holds what one made wide at once holds, and beyond the lags
// that were measured the value of the last.
func TestTablesDoNotDependOnWhoAsked(t *testing.T) {
	for l := range uint8(maxBlockLevel + 1) {
		for m := l; m <= maxBlockLevel; m++ {
			grown, once := KnownNoise(lopsided, 60).lags, KnownNoise(lopsided, 60).lags
			grown.between(l, m, 10, 5)
			grown.between(l, m, 70, 30)
			a, b := grown.between(l, m, 300, 200), once.between(l, m, 900, 700)
			for y := -a.halfY; y <= a.halfY; y++ {
				for x := -a.halfX; x <= a.halfX; x++ {
					p := a.c[(y+a.halfY)*(2*a.halfX+1)+x+a.halfX]
					if q := b.c[(y+b.halfY)*(2*b.halfX+1)+x+b.halfX]; p != q {
						t.Fatalf("levels %d, %d at %d, %d: %g and %g", l, m, x, y, p, q)
					}
				}
			}
			within(t, "far", float64(a.c[len(a.c)-1]), float64(b.c[len(b.c)-1]), 0)
		}
	}
}
