package ejecta

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// randomGram is the Gram matrix of a few random columns, with the columns.
func randomGram(t *rapid.T, rows, cols int) (*Gram, [][]float64) {
	x := make([][]float64, cols)
	for j := range x {
		x[j] = rapid.SliceOfN(rapid.Float64Range(-2, 2), rows, rows).Draw(t, "column")
	}
	g := &Gram{P: cols, M: make([]float64, cols*cols)}
	for i := range cols {
		for j := range cols {
			g.M[i*cols+j] = dot(x[i], x[j])
		}
	}
	return g, x
}

// Sweeping a column leaves the products of the residuals of all others after
// regression on it (closed form).
func TestWithoutIsProjection(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const rows, cols = 7, 4
		g, x := randomGram(t, rows, cols)
		norm := dot(x[3], x[3])
		if norm < 0.5 {
			t.Skip("the column is too short to sweep")
		}
		sw := g.Without([]int{3})
		for i := range 3 {
			for j := range 3 {
				want := dot(x[i], x[j]) - dot(x[i], x[3])*dot(x[3], x[j])/norm
				if math.Abs(sw.at(i, j)-want) > 1e-9 {
					t.Fatalf("product %d %d is %g, residuals give %g", i, j, sw.at(i, j), want)
				}
			}
		}
	})
}

// The order in which nuisance columns are named does not matter.
func TestWithoutOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g, x := randomGram(t, 9, 5)
		det := dot(x[3], x[3])*dot(x[4], x[4]) - dot(x[3], x[4])*dot(x[3], x[4])
		if det < 0.5 {
			t.Skip("the columns are nearly one")
		}
		a, b := g.Without([]int{3, 4}), g.Without([]int{4}, []int{3})
		for i := range 3 {
			if math.Abs(a.at(i, 0)-b.at(i, 0)) > 1e-7 {
				t.Fatalf("product %d: %g or %g", i, a.at(i, 0), b.at(i, 0))
			}
		}
	})
}

// Every range within the tests is in one ring, whose edges hold it.
// TestWideCellsBeginFarOut: cells as wide as two sectors begin at the same range
// whatever the number of rings, and there are none where the sectors are asked for.
func TestWideCellsBeginFarOut(t *testing.T) {
	for rings := 1; rings < 50; rings++ {
		l := NewLayout(6, 0, 8, rings, 0)
		for k := range l.Rings {
			if l.wide(k) && l.Edges[k] < 4 && rings > 4 {
				t.Errorf("%d rings: wide from %.2f radii", rings, l.Edges[k])
			}
		}
		if m := NewLayout(6, 0, 8, rings, 16); m.Wide != 0 {
			t.Errorf("16 sectors asked for, wide from ring %d", m.Wide)
		}
	}
}

func TestLayoutRings(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := NewLayout(rapid.Float64Range(1.5, 60).Draw(t, "pixels"), 0, 8, 0, 0)
		rho := rapid.Float64Range(0, 9).Draw(t, "rho")
		k := l.ring(rho)
		if inside := rho >= l.Inner && rho < l.Outer; inside != (k >= 0) {
			t.Fatalf("range %g in ring %d of %g..%g", rho, k, l.Inner, l.Outer)
		}
		if k >= 0 && !(l.Edges[k] <= rho && rho < l.Edges[k+1]) {
			t.Fatalf("range %g in ring %d of %g..%g", rho, k, l.Edges[k], l.Edges[k+1])
		}
	})
}

func TestLayoutInner(t *testing.T) {
	for _, c := range []struct{ pixels, inner, want float64 }{
		{10, 0, 1.15},    // 1 + 1.5/10
		{10, 1.05, 1.15}, // the pixels do not allow so near
		{10, 1.5, 1.5},
	} {
		if got := NewLayout(c.pixels, c.inner, 8, 0, 0).Inner; math.Abs(got-c.want) > 1e-12 {
			t.Errorf("inner %g at %g pixels begins at %g, want %g", c.inner, c.pixels, got, c.want)
		}
	}
}

// The non-negative fit satisfies the Karush-Kuhn-Tucker conditions: no slope at
// positive amplitudes, none upward at zero.
func TestRayFitOptimal(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const n = 5
		g, _ := randomGram(t, 12, n)
		for i := range n {
			g.M[i*n+i] += 0.1
		}
		r := &rayTest{gram: g.M, n: n}
		s := rapid.SliceOfN(rapid.Float64Range(-3, 3), n, n).Draw(t, "score")
		a, _ := r.fit(s)
		for i := range n {
			slope := s[i] - dot(g.M[i*n:(i+1)*n], a)
			switch {
			case a[i] < 0:
				t.Fatalf("amplitude %d is %g", i, a[i])
			case a[i] > 0 && math.Abs(slope) > 1e-6:
				t.Fatalf("slope %g at amplitude %g", slope, a[i])
			case slope > 1e-4:
				t.Fatalf("slope %g at the bound", slope)
			}
		}
	})
}

// An interval may be in several pieces, and one may cross north.
func TestPiecesAbove(t *testing.T) {
	z := []float64{9, 1, 0, 9, 9, 0, 0, 9}
	got := piecesAbove(z, 4, 45)
	if len(got) != 2 {
		t.Fatalf("%d pieces: %v", len(got), got)
	}
	if a := got[0]; !(a.Lo < 135 && a.Hi > 180 && a.Hi < 225) {
		t.Errorf("first piece %v", a)
	}
	if b := got[1]; !(b.Lo < 315 && b.Lo > 270 && b.Hi > 360) {
		t.Errorf("the piece over north is %v", b)
	}
	if all := piecesAbove(z, -1, 45); len(all) != 1 || length(all) != 360 {
		t.Errorf("everything is %v", all)
	}
}

// The path of the first harmonic under equal information of cosine and sine is
// the unit circle: its length is 2 pi (closed form).
func TestScanLength(t *testing.T) {
	d := &Directional{}
	for i := range 2 * Orders {
		d.Info[i*2*Orders+i] = 2
	}
	sc := d.scan(newFamily("first", cosineShape(), 360, 1))
	if math.Abs(sc.length-2*math.Pi) > 1e-3 {
		t.Errorf("length %g, want 2 pi", sc.length)
	}
}

// Species that share a shape up to a factor do not differ; orthogonal
// directions do, by the sum of their squared scores at q = 0 (closed form).
func TestContrastClosedForm(t *testing.T) {
	unit := []float64{1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1}
	a := SpeciesEvidence{h: []float64{6, 0, 0, 0}, cov: unit, Amplitude: 4, SE: 1}
	b := SpeciesEvidence{h: []float64{12, 0, 0, 0}, cov: unit, Amplitude: 8, SE: 1}
	if r, ok := testContrast(a, b, 0); !ok || r.chi2 > 1e-6 || math.Abs(r.ratio-2) > 1e-3 {
		t.Errorf("same shape: %+v", r)
	}
	b = SpeciesEvidence{h: []float64{0, 5, 0, 0}, cov: unit, Amplitude: 0, SE: 1}
	if r, ok := testContrast(a, b, 0); !ok || math.Abs(r.chi2-25) > 1e-6 || r.ratio > 1e-6 {
		t.Errorf("orthogonal: %+v", r)
	}
}
