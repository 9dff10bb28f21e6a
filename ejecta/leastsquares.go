package ejecta

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// LinearFit is a least-squares fit of a linear model.
type LinearFit struct {
	Coefficients []float64
	SE           []float64 // standard errors, with the residual variance over n - p
	RSS          float64   // residual sum of squares, of the whitened residuals
	Sigma        float64   // sqrt(RSS/(n-p))
	DF           int       // n - p
	// LogLikelihood is that of a Gaussian model with the variance at its
	// maximum, RSS/n.
	LogLikelihood float64
}

// ErrDependent reports columns of a design that depend on one another to
// within rounding.
var ErrDependent = errors.New("ejecta: the columns of the design depend on one another")

// LeastSquares fits y = X b by Householder QR of the scaled columns, with the
// residuals of two refinements summed in doubled precision. It returns an
// error when there are fewer values than columns or the columns depend on one
// another. It panics when the lengths disagree.
func LeastSquares(x *mat.Dense, y []float64) (LinearFit, error) {
	n, p := x.Dims()
	if len(y) != n {
		panic("ejecta: LeastSquares needs a value for each row of the design")
	}
	if n < p {
		return LinearFit{}, fmt.Errorf("ejecta: %d values cannot fix %d coefficients", n, p)
	}
	scaled, scale := scaleColumns(x)
	var qr mat.QR
	qr.Factorize(scaled)
	if c := qr.Cond(); !(c < 1e15) {
		return LinearFit{}, ErrDependent
	}
	b := mat.NewVecDense(p, nil)
	step := mat.NewVecDense(p, nil)
	r := mat.NewVecDense(n, append([]float64(nil), y...))
	for range 3 {
		if err := qr.SolveVecTo(step, false, r); err != nil && !isCondition(err) {
			return LinearFit{}, err
		}
		b.AddVec(b, step)
		residuals(r.RawVector().Data, scaled, b.RawVector().Data, y)
	}
	f := LinearFit{DF: n - p, Coefficients: make([]float64, p)}
	for j := range p {
		f.Coefficients[j] = b.AtVec(j) / scale[j]
	}
	f.RSS = mat.Dot(r, r)
	f.Sigma = math.Sqrt(f.RSS / math.Max(1, float64(f.DF)))
	f.SE = standardErrors(&qr, p, f.Sigma, scale)
	f.LogLikelihood = -0.5 * float64(n) * (math.Log(2*math.Pi*f.RSS/float64(n)) + 1)
	return f, nil
}

// isCondition reports gonum's warning that digits were lost, which the
// condition limit above has already judged.
func isCondition(err error) bool {
	var c mat.Condition
	return errors.As(err, &c)
}

func scaleColumns(x *mat.Dense) (*mat.Dense, []float64) {
	n, p := x.Dims()
	out, scale := mat.DenseCopyOf(x), make([]float64, p)
	for j := range p {
		norm := mat.Norm(x.ColView(j), 2)
		if !(norm > 0) {
			norm = 1
		}
		// A power of two leaves the digits of the column alone.
		scale[j] = math.Exp2(math.Round(math.Log2(norm)))
		for i := range n {
			out.Set(i, j, x.At(i, j)/scale[j])
		}
	}
	return out, scale
}

// residuals writes y - X b, with products and sums in doubled precision (Dot2
// of Ogita, Rump & Oishi 2005, SIAM J. Sci. Comput. 26, 1955).
func residuals(r []float64, x *mat.Dense, b, y []float64) {
	for i := range r {
		sum, err := y[i], 0.0
		for j, v := range x.RawRowView(i) {
			h := -v * b[j]
			low := math.FMA(-v, b[j], -h)
			t := sum + h
			z := t - sum
			err += (sum - (t - z)) + (h - z) + low
			sum = t
		}
		r[i] = sum + err
	}
}

// standardErrors are sigma times the lengths of the rows of R^-1.
func standardErrors(qr *mat.QR, p int, sigma float64, scale []float64) []float64 {
	var r mat.Dense
	qr.RTo(&r)
	tri := mat.NewTriDense(p, mat.Upper, nil)
	for i := range p {
		for j := i; j < p; j++ {
			tri.SetTri(i, j, r.At(i, j))
		}
	}
	var inv mat.TriDense
	if err := inv.InverseTri(tri); err != nil && !isCondition(err) {
		return nil
	}
	se := make([]float64, p)
	for i := range p {
		se[i] = sigma * floats.Norm(mat.Row(nil, i, &inv), 2) / scale[i]
	}
	return se
}

// GeneralLeastSquares fits y = X b where the errors have covariance sigma^2 C
// with C known: Aitken (1936), Proc. R. Soc. Edinb. 55, 42. Residuals, RSS and
// Sigma are those of the whitened values; LogLikelihood includes the
// determinant of C. Besides the errors of [LeastSquares] it returns one when C
// is not positive definite.
func GeneralLeastSquares(x *mat.Dense, y []float64, c mat.Symmetric) (LinearFit, error) {
	n, p := x.Dims()
	if len(y) != n || c.SymmetricDim() != n {
		panic("ejecta: GeneralLeastSquares needs a value and a row of covariance for each row of the design")
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return LinearFit{}, errors.New("ejecta: the covariance is not positive definite")
	}
	var l mat.TriDense
	chol.LTo(&l)
	white := mat.NewDense(n, p+1, nil)
	for i := range n {
		copy(white.RawRowView(i), x.RawRowView(i))
		white.Set(i, p, y[i])
	}
	if err := white.Solve(&l, white); err != nil && !isCondition(err) {
		return LinearFit{}, err
	}
	f, err := LeastSquares(mat.DenseCopyOf(white.Slice(0, n, 0, p)), mat.Col(nil, p, white))
	f.LogLikelihood -= 0.5 * chol.LogDet()
	return f, err
}

// PowerFit is a fit of y = a x^b.
type PowerFit struct {
	A, B     float64
	SEA, SEB float64
	RSS      float64
	DF       int
}

// PowerLaw fits y = a x^b by least squares in y, not in its logarithm, so that
// values may scatter below zero. For each b the best a is linear; the rest is
// a Gauss-Newton search in b from the given start, with the step halved until
// it improves (variable projection: Golub & Pereyra 1973, SIAM J. Numer. Anal.
// 10, 413). Every x must be positive. It returns an error for fewer than three
// points, an x that is not positive, or no convergence.
func PowerLaw(x, y []float64, start float64) (PowerFit, error) {
	if len(x) != len(y) {
		panic("ejecta: PowerLaw needs a value for each range")
	}
	if len(x) < 3 {
		return PowerFit{}, fmt.Errorf("ejecta: %d points cannot fix a power law; 3 are needed", len(x))
	}
	for i, v := range x {
		if !(v > 0) || math.IsInf(v, 0) || math.IsNaN(y[i]) || math.IsInf(y[i], 0) {
			return PowerFit{}, fmt.Errorf("ejecta: point %d (%g, %g) is no part of a power law", i, v, y[i])
		}
	}
	if floats.Min(x) == floats.Max(x) {
		return PowerFit{}, fmt.Errorf("ejecta: all points of the power law lie at %g", x[0])
	}
	f := powerAt(x, y, start)
	for range 100 {
		_, db := f.step(x, y)
		next := f
		h := 1.0
		for ; h > 1e-12; h /= 2 {
			if next = powerAt(x, y, f.B+h*db); next.RSS < f.RSS {
				break
			}
		}
		if h <= 1e-12 || math.Abs(h*db) <= 1e-14*(1+math.Abs(f.B)) {
			if math.Abs(db) > 1e-6*(1+math.Abs(f.B)) {
				break
			}
			f.errors(x)
			return f, nil
		}
		f = next
	}
	return PowerFit{}, errors.New("ejecta: the power law did not converge; the values show no fall-off")
}

// powerAt is the best fit for a given exponent.
func powerAt(x, y []float64, b float64) PowerFit {
	xy, xx := 0.0, 0.0
	for i := range x {
		t := math.Pow(x[i], b)
		xy += t * y[i]
		xx += t * t
	}
	f := PowerFit{A: xy / xx, B: b, DF: len(x) - 2}
	for i := range x {
		r := y[i] - f.A*math.Pow(x[i], b)
		f.RSS += r * r
	}
	return f
}

// information is the normal matrix of (a, b).
func (f PowerFit) information(x []float64) (aa, ab, bb float64) {
	for _, v := range x {
		t := math.Pow(v, f.B)
		d := f.A * t * math.Log(v)
		aa += t * t
		ab += t * d
		bb += d * d
	}
	return aa, ab, bb
}

// step is the Gauss-Newton step.
func (f PowerFit) step(x, y []float64) (da, db float64) {
	aa, ab, bb := f.information(x)
	ga, gb := 0.0, 0.0
	for i, v := range x {
		t := math.Pow(v, f.B)
		r := y[i] - f.A*t
		ga += t * r
		gb += f.A * t * math.Log(v) * r
	}
	det := aa*bb - ab*ab
	return (bb*ga - ab*gb) / det, (aa*gb - ab*ga) / det
}

func (f *PowerFit) errors(x []float64) {
	aa, ab, bb := f.information(x)
	v := f.RSS / math.Max(1, float64(f.DF)) / (aa*bb - ab*ab)
	f.SEA, f.SEB = math.Sqrt(bb*v), math.Sqrt(aa*v)
}

// EffectiveSize returns the number of independent values whose mean is as
// uncertain as the mean of correlated ones, n^2 over the sum of their
// correlation matrix: Bayley & Hammersley (1946), J. R. Stat. Soc. Suppl. 8,
// 184.
func EffectiveSize(correlation mat.Symmetric) float64 {
	n := correlation.SymmetricDim()
	sum := 0.0
	for i := range n {
		for j := range n {
			sum += correlation.At(i, j)
		}
	}
	return float64(n) * float64(n) / sum
}
