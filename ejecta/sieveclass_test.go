package ejecta

import (
	"fmt"
	"math"
	"testing"

	"gonum.org/v1/gonum/mat"
)

// TestWeightsOfTheClass wants little lost by the engine of a class at its edges, for
// every template, and the variance that a look assumes near the true one.
func TestWeightsOfTheClass(t *testing.T) {
	for name, f := range map[string]func(dx, dy float64) float64{
		"white": func(dx, dy float64) float64 { return math.Max(0, 1-math.Abs(dx)-math.Abs(dy)) },
		"exp2":  func(dx, dy float64) float64 { return math.Exp(-math.Hypot(dx, dy) / 2) },
	} {
		noise := KnownNoise(f, 400)
		for _, middle := range []SieveShape{{1. / 6, 1. / 6, 0}, {1. / 12, 1. / 12, 0}, {0.4 / 12, 1. / 12, 0}, {1. / 20, 1. / 20, 0}} {
			middle = middle.Class().shape()
			for _, edge := range []float64{-0.98, 0.98} {
				shape := SieveShape{middle.Col * math.Exp(edge*sieveStep), middle.Row * math.Exp(edge*sieveStep), 0}
				t.Run(fmt.Sprintf("%s, %.2f pixels, %+.2f", name, 1/middle.Row, edge), func(t *testing.T) { weightsAtEdge(t, shape, noise) })
			}
		}
	}
}

func weightsAtEdge(t *testing.T, shape SieveShape, noise *Noise) {
	class := NewSieves(shape.Class(), SieveEdges(8), []*Noise{noise})[0]
	own := newSieves(shape, shape.Class().shape().pixels(), SieveEdges(8), []*Noise{noise})[0]
	if class == nil || own == nil {
		t.Fatal("no engine")
	}
	truth, assumed, least := variancesOf(t, class, own.covariance(t)), variancesOf(t, class, nil), variancesOf(t, own, nil)
	for i, v := range truth[:len(truth)-3] { // all but the background
		if kept := least[i] / v; kept < 0.93 {
			t.Errorf("template %d keeps %.3f of its information", i, kept)
		}
		if ratio := v / (assumed[i] * shape.Stretch()); ratio < 0.86 || ratio > 1.15 {
			t.Errorf("template %d has %.3f of the variance that is assumed", i, ratio)
		}
	}
}

// variancesOf are those of an engine's coefficients under a covariance of the cells;
// nil is the engine's own.
func variancesOf(t *testing.T, v *Sieve, cov *mat.Dense) (out []float64) {
	n := len(v.cells)
	k := len(v.x) / n
	var inv, a, b mat.Dense
	if err := inv.Inverse(mat.NewDense(k, k, append([]float64(nil), v.whole...))); err != nil {
		t.Fatal(err)
	}
	if cov != nil {
		w := mat.NewDense(n, k, v.w)
		a.Mul(cov, w)
		b.Mul(w.T(), &a)
		a.Reset()
		a.Mul(&inv, &b)
		b.Reset()
		b.Mul(&a, &inv)
		inv = b
	}
	for i := range k {
		out = append(out, inv.At(i, i))
	}
	return out
}
