package ejecta

import (
	"fmt"
	"math/cmplx"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The library's transform is the reference.
func TestFourierPlanAgainstLibrary(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	for _, n := range []int{1, 2, 4, 8, 16, 32, 128, 1024, 2048} {
		x := make([]complex128, n)
		for i := range x {
			x[i] = complex(rng.NormFloat64(), rng.NormFloat64())
		}
		want := fourier.NewCmplxFFT(n).Coefficients(nil, x)
		newFourierPlan(n).transform(x)
		for k := range want {
			if d := cmplx.Abs(x[k] - want[k]); d > 1e-11 {
				t.Fatalf("n = %d: coefficient %d is %v, the library says %v", n, k, x[k], want[k])
			}
		}
	}
}

func BenchmarkFourier(b *testing.B) {
	const n = 1024
	x := make([]complex128, n)
	for i := range x {
		x[i] = complex(float64(i%7), 1)
	}
	library, own := fourier.NewCmplxFFT(n), newFourierPlan(n)
	for name, f := range map[string]func(){
		"library": func() { library.Coefficients(x, x) },
		"own":     func() { own.transform(x) },
	} {
		b.Run(fmt.Sprintf("%s/%d", name, n), func(b *testing.B) {
			for b.Loop() {
				for i := range x {
					x[i] = complex(float64(i%7), 1)
				}
				f()
			}
		})
	}
}

func BenchmarkFieldTransform(b *testing.B) {
	f := newField(1024)
	for b.Loop() {
		for i := range f.v {
			f.v[i] = complex(float64(i%7), 1)
		}
		f.transform(512)
	}
}
