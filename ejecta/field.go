package ejecta

import (
	"math/bits"
	"sync"
)

// field is a square of n x n complex numbers for Fourier transforms, n a power of
// two. Its rows are a little longer than n: columns whose numbers lie a power of
// two apart all fall into the same few lines of the processor's cache.
type field struct {
	n, stride int
	v         []complex128

	plan *fourierPlan
	some []complex128 // columns
}

// fieldGap is what a row is longer, numbers.
const fieldGap = 4

// fields keeps the memory of fields that were released, by the bits of n: a window
// of the noise survey needs some 17 MB.
var fields [64]sync.Pool

// newField returns a field of zeros.
func newField(n int) *field {
	if f, ok := fields[bits.Len(uint(n))].Get().(*field); ok {
		clear(f.v)
		return f
	}
	return &field{n: n, stride: n + fieldGap, v: make([]complex128, n*(n+fieldGap)), plan: newFourierPlan(n), some: make([]complex128, n*columnsAtOnce)}
}

// release lets the memory be used again.
func (f *field) release() { fields[bits.Len(uint(f.n))].Put(f) }

func (f *field) row(j int) []complex128 { return f.v[j*f.stride : j*f.stride+f.n] }

// at is the value at a column and row that may be negative.
func (f *field) at(x, y int) complex128 {
	return f.v[(y+f.n)%f.n*f.stride+(x+f.n)%f.n]
}

// setReal fills the field with real values, row-major.
func (f *field) setReal(c []float64) {
	for j := range f.n {
		row := f.row(j)
		for i, v := range c[j*f.n : (j+1)*f.n] {
			row[i] = complex(v, 0)
		}
	}
}

// fillEven fills the field from its rows 0 to n/2, where (x, y) and (-x, -y) are
// alike.
func (f *field) fillEven(half []complex128) {
	for j := range f.n {
		row := f.row(j)
		if j <= f.n/2 {
			copy(row, half[j*f.n:])
			continue
		}
		from := half[(f.n-j)*f.n : (f.n-j+1)*f.n]
		for i := range row {
			row[i] = from[(f.n-i)%f.n]
		}
	}
}

// transform is the two-dimensional transform in place; rows from used on are zero.
func (f *field) transform(used int) {
	for j := range used {
		f.plan.transform(f.row(j))
	}
	f.columns()
}

// columnsAtOnce is the number of columns that are transformed together: their rows
// are whole lines of the processor's cache, and all of them stay in it.
const columnsAtOnce = 8

// columns transforms every column, as many at once as the cache likes.
func (f *field) columns() {
	buf := f.some
	for from := 0; from < f.n; from += columnsAtOnce {
		k := min(columnsAtOnce, f.n-from)
		for j := range f.n {
			copy(buf[j*k:(j+1)*k], f.v[j*f.stride+from:])
		}
		f.plan.transformAll(buf, k)
		for j := range f.n {
			copy(f.v[j*f.stride+from:], buf[j*k:(j+1)*k])
		}
	}
}

// splitSpectra turns the transform of values + i mask, both real, into
// |F(values)|^2 + i |F(mask)|^2 on the rows 0 to n/2; the spectra are even. What
// is left on the other rows means nothing.
func (f *field) splitSpectra() {
	for j := range f.n/2 + 1 {
		a, b := f.row(j), f.row((f.n-j)%f.n)
		last := f.n - 1
		if 2*j%f.n == 0 {
			last = f.n / 2 // the row is its own mirror
		}
		for i := 0; i <= last; i++ {
			m := (f.n - i) % f.n
			s := splitPower(a[i], b[m])
			if 2*j%f.n == 0 {
				a[m] = s
			}
			a[i] = s
		}
	}
}

// splitPower separates the powers of two real fields from their joint transform
// at a frequency and at its opposite.
func splitPower(a, b complex128) complex128 {
	vr, vi := (real(a)+real(b))/2, (imag(a)-imag(b))/2
	mr, mi := (real(a)-real(b))/2, (imag(a)+imag(b))/2
	return complex(vr*vr+vi*vi, mr*mr+mi*mi)
}
