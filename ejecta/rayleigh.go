package ejecta

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

// RayleighP returns the chance that n uniform directions have a mean resultant
// length of at least the given one: the Rayleigh test of uniformity. Axes are
// doubled first, as [AxialMean] does.
//
// The null distribution is exact to about nine decimals (Kluyver's integral,
// Mardia & Jupp 2000, section 4.4): the customary series turns negative for
// few, concentrated directions. Below p = 1e-6, where the integral loses its
// digits, the saddlepoint tail takes over, right to a few percent of p at any
// distance. NaN for n < 1 or a length outside 0..1.
func RayleighP(resultant float64, n int) float64 {
	switch {
	case n < 1 || !(resultant >= 0 && resultant <= 1):
		return math.NaN()
	case n == 1 || resultant == 0:
		return 1
	case n == 2:
		return 2 / math.Pi * math.Acos(resultant)
	}
	r := resultant * float64(n)
	z := r * resultant
	if z < 10 {
		if p := kluyverTail(r, n); p > 1e-6 {
			return math.Min(1, p)
		}
	}
	// Join the two where p is near 1e-5.
	at := joinRange(n)
	return kluyverTail(at, n) * math.Exp(logSaddleTail(r, n)-logSaddleTail(at, n))
}

// joinRange finds the resultant at which the exact p is about 1e-5.
func joinRange(n int) float64 {
	lo, hi := 0.0, float64(n)
	for range 30 {
		mid := (lo + hi) / 2
		if kluyverTail(mid, n) > 1e-5 {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// kluyverTail is 1 - r integral J1(rt) J0(t)^n dt over 0..infinity. For n of 3
// and 4, where the integral barely converges, the last step of the random walk
// is averaged over the others instead.
func kluyverTail(r float64, n int) float64 {
	switch n {
	case 3:
		return walkTail(r, 1)
	case 4:
		return walkTail(r, 2)
	}
	end := kluyverEnd(n)
	width := 2 / (r + 1) // two radians of J1(rt)
	if n < 40 {
		width = 2.5 / (r + float64(n)/2) // and of J0(t)^n, whose tail still counts
	} else {
		width = math.Min(width, 1/math.Sqrt(float64(n)))
	}
	panels := int(math.Ceil(end / width))
	x, w := gaussNodes()
	sum := 0.0
	h := end / float64(panels)
	for k := range panels {
		for i := range x {
			t := h * (float64(k) + x[i])
			sum += h * w[i] * math.J1(r*t) * math.Pow(math.J0(t), float64(n))
		}
	}
	return 1 - r*sum
}

// kluyverEnd is where what is left of the integral is below 1e-10: |J0(t)| is
// at most sqrt(2/(pi t)), and the waves cancel most of the rest.
func kluyverEnd(n int) float64 {
	if n >= 40 {
		return 13 / math.Sqrt(float64(n)) * 1.05
	}
	return math.Min(4000, 2/math.Pi*math.Pow(10, 18/float64(n-1))+20)
}

var gaussNodes = sync.OnceValues(func() (x, w []float64) {
	x, w = make([]float64, 8), make([]float64, 8)
	quad.Legendre{}.FixedLocations(x, w, 0, 1)
	return x, w
})

// walkTail is the tail for one pair and one single (pairs 1) or two pairs of
// unit steps: a pair has length 2 cos u with u uniform over 0..pi/2, and the
// last turn is uniform.
func walkTail(r float64, pairs int) float64 {
	const steps = 1000
	exceeds := func(s, t float64) float64 { // |s + t e^(i phi)| > r
		c := (r*r - s*s - t*t) / (2 * s * t)
		return math.Acos(math.Max(-1, math.Min(1, c))) / math.Pi
	}
	sum := 0.0
	for i := range steps {
		s := 2 * math.Cos(math.Pi/2*(float64(i)+0.5)/steps)
		if pairs == 1 {
			sum += exceeds(s, 1)
			continue
		}
		for j := range steps {
			sum += exceeds(s, 2*math.Cos(math.Pi/2*(float64(j)+0.5)/steps)) / steps
		}
	}
	return sum / steps
}

// logSaddleTail is the logarithm of the tail of the resultant length by the
// saddlepoint density of the sum of n unit steps (Daniels 1954, Ann. Math.
// Stat. 25, 631), up to a constant.
func logSaddleTail(r float64, n int) float64 {
	logf := func(s float64) float64 {
		a := s / float64(n)
		if a >= 1 {
			return math.Inf(-1)
		}
		kappa := A1Inverse(a)
		radial := 1 - a/kappa - a*a
		if kappa > asymptotic {
			radial = 0.5 / (kappa * kappa)
		}
		logI0 := kappa + math.Log(scaledI0(kappa))
		return math.Log(s) + float64(n)*logI0 - kappa*s - 0.5*math.Log(radial*a/kappa)
	}
	if r/float64(n) >= 1 {
		return math.Inf(-1)
	}
	// The density falls as exp(-kappa s): integrate over 40 such lengths.
	kappa := A1Inverse(r / float64(n))
	end := math.Min(float64(n)-r, 40/kappa)
	x, w := gaussNodes()
	top := logf(r)
	sum := 0.0
	const panels = 20
	for k := range panels {
		for i := range x {
			s := r + end*(float64(k)+x[i])/panels
			sum += end / panels * w[i] * math.Exp(logf(s)-top)
		}
	}
	return top + math.Log(sum)
}
