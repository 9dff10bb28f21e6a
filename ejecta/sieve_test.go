package ejecta

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// sieveOf is an engine for round pixels under correlated noise.
func sieveOf(t testing.TB, pixels float64) *Sieve {
	noise := KnownNoise(func(dx, dy float64) float64 { return math.Exp(-math.Hypot(dx, dy) / 2) }, 160)
	s := NewSieves(SieveShape{1 / pixels, 1 / pixels, 0}.Class(), SieveEdges(8), []*Noise{nil, noise})
	if s[0] != nil || s[1] == nil {
		t.Fatal("an engine of no noise, or none")
	}
	return s[1]
}

// covariance is that of the cells, from their precision.
func (v *Sieve) covariance(t testing.TB) *mat.Dense {
	c := mat.NewDense(len(v.cells), len(v.cells), nil)
	if err := c.Inverse(mat.NewDense(len(v.cells), len(v.cells), v.p)); err != nil {
		t.Fatal(err)
	}
	return c
}

// drawCells draws values of the cells with their covariance.
func drawCells(chol *mat.TriDense, rng *rand.Rand) []float64 {
	n, _ := chol.Dims()
	z := mat.NewVecDense(n, nil)
	for i := range n {
		z.SetVec(i, rng.NormFloat64())
	}
	z.MulVec(chol, z)
	return z.RawVector().Data
}

func (v *Sieve) factor(t testing.TB) *mat.TriDense {
	c := v.covariance(t)
	n, _ := c.Dims()
	sym := mat.NewSymDense(n, nil)
	for i := range n {
		for j := range i + 1 {
			sym.SetSym(i, j, c.At(i, j))
		}
	}
	var f mat.Cholesky
	if !f.Factorize(sym) {
		t.Fatal("the covariance is none")
	}
	l := &mat.TriDense{}
	f.LTo(l)
	return l
}

// meansOf serves values by cell.
func (v *Sieve) meansOf(values []float64) func(SieveCell) float64 {
	index := map[SieveCell]int{}
	for i, c := range v.cells {
		index[c] = i
	}
	return func(c SieveCell) float64 { return values[index[c]] }
}

// TestLookIsLeastSquares compares a look with generalised least squares of the
// cells that are there, written out: coefficients (X'C^-1X)^-1 X'C^-1 y, the
// textbook formula.
func TestLookIsLeastSquares(t *testing.T) {
	v := sieveOf(t, 4)
	cov, chol, rng := v.covariance(t), v.factor(t), rand.New(rand.NewPCG(3, 1))
	for _, lost := range []int{0, 1, 7, len(v.cells) / 3, len(v.cells) * 2 / 3} {
		values := drawCells(chol, rng)
		for _, i := range rng.Perm(len(v.cells))[:lost] {
			values[i] = math.NaN()
		}
		q, ok := v.Look(v.meansOf(values), 2.5)
		if !ok {
			t.Fatalf("%d lost: no look", lost)
		}
		want := plainLook(t, v, cov, values, 2.5)
		for k, pair := range [][2]float64{{q.Blanket, want.Blanket}, {q.Few, want.Few}, {q.All, want.All}} {
			if math.Abs(pair[0]-pair[1]) > 1e-6*(1+math.Abs(pair[1])) {
				t.Errorf("%d lost, statistic %d: %g, plain formula %g", lost, k, pair[0], pair[1])
			}
		}
	}
}

func plainLook(t *testing.T, v *Sieve, cov *mat.Dense, values []float64, variance float64) QuickLook {
	k := len(v.x) / len(v.cells)
	var there []int
	for i, y := range values {
		if y == y {
			there = append(there, i)
		}
	}
	n := len(there)
	c, x, y := mat.NewDense(n, n, nil), mat.NewDense(n, k, nil), mat.NewVecDense(n, nil)
	for a, i := range there {
		y.SetVec(a, values[i])
		for b, j := range there {
			c.Set(a, b, cov.At(i, j)*variance)
		}
		for j := range k {
			x.Set(a, j, v.x[i*k+j])
		}
	}
	var ci, w, info, vcov mat.Dense
	var rhs, coef mat.VecDense
	if err := ci.Inverse(c); err != nil {
		t.Fatal(err)
	}
	w.Mul(&ci, x)
	info.Mul(x.T(), &w)
	if err := vcov.Inverse(&info); err != nil {
		t.Fatal(err)
	}
	rhs.MulVec(w.T(), y)
	coef.MulVec(&vcov, &rhs)
	square := func(m int) float64 {
		var inv mat.Dense
		if err := inv.Inverse(vcov.Slice(1, 1+m, 1, 1+m)); err != nil {
			t.Fatal(err)
		}
		b := coef.SliceVec(1, 1+m)
		return mat.Inner(b, &inv, b)
	}
	return QuickLook{coef.AtVec(0) / math.Sqrt(vcov.At(0, 0)), square(2 * sieveFew), square(2 * sieveOrders)}
}

// TestLooksAreCalibrated draws noise of the class and counts: the statistics are a
// standard normal and chi-squares with 4 and 12 degrees of freedom.
func TestLooksAreCalibrated(t *testing.T) {
	v := sieveOf(t, 6)
	chol, rng := v.factor(t), rand.New(rand.NewPCG(8, 2))
	const draws = 2000
	above := [3]int{}
	for range draws {
		q, ok := v.Look(v.meansOf(drawCells(chol, rng)), 1)
		if !ok {
			t.Fatal("no look")
		}
		for k, yes := range []bool{q.Blanket > distuv.UnitNormal.Quantile(0.95), q.Few > distuv.ChiSquared{K: 4}.Quantile(0.95), q.All > distuv.ChiSquared{K: 12}.Quantile(0.95)} {
			above[k] += counted(yes)
		}
	}
	for k, n := range above { // four standard errors of a share of .05
		if math.Abs(float64(n)/draws-0.05) > 4*math.Sqrt(0.05*0.95/draws) {
			t.Errorf("statistic %d exceeds its 95 %% point %d times of %d", k, n, draws)
		}
	}
}

func TestLookNeedsCells(t *testing.T) {
	v := sieveOf(t, 4)
	values := make([]float64, len(v.cells))
	for i := range 4 * len(values) / 5 {
		values[i] = math.NaN()
	}
	if _, ok := v.Look(v.meansOf(values), 1); ok {
		t.Error("a fifth of the cells was enough")
	}
	if _, ok := v.Look(v.meansOf(make([]float64, len(v.cells))), 0); ok {
		t.Error("a look without noise")
	}
}

func TestSmallCratersHaveNoQuickDirection(t *testing.T) {
	v := sieveOf(t, 2)
	q, ok := v.Look(v.meansOf(make([]float64, len(v.cells))), 1)
	if !ok || !math.IsNaN(q.Few) || !math.IsNaN(q.All) {
		t.Errorf("look of a small crater: %+v, %v", q, ok)
	}
}

func TestSieveEdgesRise(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		outer := rapid.Float64Range(4, 50).Draw(t, "outer")
		edges := SieveEdges(outer)
		if edges[len(edges)-1] != outer || len(edges) > 40 {
			t.Fatalf("edges %v", edges)
		}
		for i, e := range edges[1:] {
			if e <= edges[i] {
				t.Fatalf("edges %v", edges)
			}
		}
	})
}

func TestSieveClassesAreNarrow(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		side := rapid.Float64Range(0.02, 0.7)
		g := SieveShape{side.Draw(t, "col"), side.Draw(t, "row"), rapid.Float64Range(-7, 7).Draw(t, "rotation")}
		c := g.Class().shape()
		turn := math.Abs(math.Remainder(c.Rotation-g.Rotation, 2*math.Pi))
		half := 0.5001 * sieveStep
		if g.pixels() > coarsePixels {
			half *= 2
		}
		if math.Abs(math.Log(c.Col/g.Col)) > half || math.Abs(math.Log(c.Row/g.Row)) > half || turn > math.Pi/SieveSectors+1e-9 {
			t.Fatalf("%+v is in the class of %+v", g, c)
		}
	})
}

// TestQuickPsTakeTheScaleOfTheCraters gives one kind noise of twice the variance:
// its p come out even, those of the other kind stay.
func TestQuickPsTakeTheScaleOfTheCraters(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	const n = 4000
	looks, kind := make([]*QuickLook, n), make([]int, n)
	for i := range looks {
		looks[i], kind[i] = drawnLook(rng, float64(1+i%2)), i%2
	}
	looks[7] = nil
	p := QuickPs(looks, kind)
	if !math.IsNaN(p[7].Excess) || !math.IsNaN(p[7].Direction) {
		t.Errorf("no look has p %v", p[7])
	}
	small := [2]int{}
	for i, q := range p {
		small[kind[i]] += counted(q.Excess < 0.05)
	}
	for k, c := range small {
		if share := float64(c) / (n / 2); math.Abs(share-0.05) > 4*math.Sqrt(0.05*0.95/(n/2)) {
			t.Errorf("kind %d: p < 0.05 in a share of %.3f", k, share)
		}
	}
}

// TestNullOfLooks gives looks twice the variance of noise and one crater a strong
// score: the local rate knows the wider null, and the false discovery rate does not
// count looks as discoveries.
func TestNullOfLooks(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 4))
	const n = 2000
	looks, kind := make([]*QuickLook, n), make([]int, n)
	for i := range looks {
		looks[i] = drawnLook(rng, 2)
	}
	f := make([]Finding, n)
	for i, p := range QuickPs(looks, kind) {
		BlankNumbers(&f[i])
		f[i].Status, f[i].Quick = StatusSieved, &p
	}
	f[0].Status, f[0].ExcessP, f[0].AsymmetryP = StatusOK, 1e-4, 1e-4
	Correct(f, 1)
	plain := []float64{1e-4}
	for range n - 1 {
		plain = append(plain, rng.Float64())
	}
	if right, _ := LocalFDR(plain); f[0].LocalFDR < right[0] {
		t.Errorf("local rate %g, under the right null %g", f[0].LocalFDR, right[0])
	}
	if f[0].ExcessQ < 0.02 {
		t.Errorf("q %g of one of %d tests", f[0].ExcessQ, n)
	}
}

// drawnLook is a look at noise whose variance is so many times that of the model.
func drawnLook(rng *rand.Rand, scale float64) *QuickLook {
	return &QuickLook{math.Sqrt(scale) * rng.NormFloat64(), scale * chiSquare(rng, 4), scale * chiSquare(rng, 12)}
}

func chiSquare(rng *rand.Rand, n int) (sum float64) {
	for range n {
		z := rng.NormFloat64()
		sum += z * z
	}
	return sum
}

func TestSieveKeep(t *testing.T) {
	nan := math.NaN()
	quick := func(excess, direction float64) QuickP { return QuickP{Excess: excess, Direction: direction} }
	p := []QuickP{ // three craters of two species, and two without a look on one and on both
		quick(0.5, 0.9), quick(0.4, 0.3),
		quick(0.5, 0.01), quick(0.9, 0.9),
		quick(0.2, nan), quick(0.6, nan),
		quick(0.7, 0.7), NoQuickP(),
		NoQuickP(), NoQuickP(),
	}
	for _, c := range []struct {
		share float64
		want  []bool
	}{
		{0.01, []bool{false, true, false, false, true}},
		{0.5, []bool{false, true, true, false, true}},
		{1, []bool{true, true, true, true, true}},
	} {
		if got := SieveKeep(p, 2, c.share); !slices.Equal(got, c.want) {
			t.Errorf("share %g keeps %v, want %v", c.share, got, c.want)
		}
	}
}

// TestSievedCountAmongTheTests wants the q of the measured as if the sieved had
// been tested with their quick p, and no number at those.
func TestSievedCountAmongTheTests(t *testing.T) {
	f := make([]Finding, 4)
	for i := range f {
		BlankNumbers(&f[i])
		f[i].Status = StatusSieved
		f[i].Quick = &QuickP{Excess: 0.5, Direction: 0.6}
	}
	f[0].Status, f[0].ExcessP, f[0].AsymmetryP = StatusOK, 0.01, 0.02
	excess, directions := Correct(f, 1)
	if excess != 4 || directions != 4 {
		t.Errorf("%d and %d tests", excess, directions)
	}
	if math.Abs(f[0].ExcessQ-0.04) > 1e-12 || math.Abs(f[0].AsymmetryQ-0.08) > 1e-12 {
		t.Errorf("q %g and %g", f[0].ExcessQ, f[0].AsymmetryQ)
	}
	if !math.IsNaN(f[1].ExcessQ) || f[1].ExcessQRule != "" || !math.IsNaN(f[1].LocalFDR) {
		t.Errorf("a sieved crater has numbers: %+v", f[1])
	}
	f[1].Quick = nil // not looked at: a test all the same
	if n, _ := Correct(f, 1); n != 4 {
		t.Errorf("%d tests with one that was not looked at", n)
	}
	if n := CorrectContrasts([]Contrast{{P: 0.01}}, 9); n != 10 {
		t.Errorf("%d contrasts", n)
	}
}

func BenchmarkLook(b *testing.B) {
	v := sieveOf(b, 6)
	mean := v.meansOf(make([]float64, len(v.cells)))
	for b.Loop() {
		v.Look(mean, 1)
	}
}
