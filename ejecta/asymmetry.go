package ejecta

import (
	"math"
	"math/rand/v2"
)

// Asymmetry is the outcome of the directional tests of one crater.
type Asymmetry struct {
	P        float64
	Families []FamilyTest
	// Omnibus is the chi-square of the harmonics up to order 6, 12 degrees of
	// freedom: the statistic of the null scale.
	Omnibus float64

	rays rayNull
}

// rayDraws is the number of simulated nulls behind the p of irregular rays;
// rayGlance is enough to tell that a statistic is unremarkable.
const (
	rayDraws  = 300
	rayGlance = 40
)

// test runs the template bank. full says that coverage is complete enough for
// the Cauchy rule; otherwise the families are combined by Bonferroni. seed
// fixes the simulated nulls of the ray test.
func (d *Directional) test(bl Blanket, full bool, seed uint64) Asymmetry {
	return d.testLike(bl, full, seed, rayNull{})
}

// testLike is test with what is known of the null of the irregular rays at this
// crater, which saves their simulation.
func (d *Directional) testLike(bl Blanket, full bool, seed uint64, rays rayNull) Asymmetry {
	a := Asymmetry{rays: rays}
	chi1, p1 := d.omnibus(1)
	chi6, p6 := d.omnibus(6)
	a.Omnibus = chi6
	a.Families = append(a.Families, FamilyTest{"first harmonic", chi1, p1}, FamilyTest{"harmonics to 6", chi6, p6})
	folds := FamilyTest{Name: "regular rays", P: 1}
	for _, f := range bank {
		sc := d.scan(f)
		u := sc.z[sc.best]
		p := TubeP(sc.length, u)
		switch f {
		case foldThree, foldFour, foldFive:
			if 3*p < folds.P || folds.Z == 0 {
				folds.Z, folds.P = u, math.Min(1, math.Min(folds.P, 3*p))
			}
		default:
			a.Families = append(a.Families, FamilyTest{f.name, u, p})
		}
	}
	a.Families = append(a.Families, folds, d.testRays(bl, seed, &a.rays))
	a.P = combine(a.Families, full)
	return a
}

// testRays runs the non-negative fit; under a strong blanket, where the
// constraint says nothing, the harmonics to order 8 take its place.
func (d *Directional) testRays(bl Blanket, seed uint64, null *rayNull) FamilyTest {
	if bl.Z > looseBlanket || !(bl.Sigma > 0) {
		chi2, p := d.omnibus(8)
		return FamilyTest{"irregular rays", chi2, p}
	}
	r := d.newRayTest(bl.Z*bl.Sigma, bl.Sigma*bl.Sigma)
	t := r.statistic(d.Score[:], r.amplitude)
	m := null.at(bl.Z)
	if null.mean == 0 {
		rng := rand.New(rand.NewPCG(seed, 0x9e3779b97f4a7c15))
		if m = r.moments(d, rayGlance, rng); m.p(t) < 0.3 {
			m = r.moments(d, rayDraws, rng)
			null.keep(m, bl.Z)
		}
	}
	return FamilyTest{"irregular rays", t, m.p(t)}
}

// looseBlanket is the blanket score above which non-negative lobes are no
// constraint.
const looseBlanket = 6

// familyWeights are the weights of the families in the order of
// [Directional.test]: first harmonic, harmonics to 6, lobe, bilateral, gap,
// regular rays, irregular rays. Near the limit of detection one-sided, bilateral
// and gap patterns gain a tenth over equal weights with three tenths for irregular
// rays, which lose a tenth at half of the oracle's detections and none at nine
// tenths: harmonics to 6 and regular rays are mostly found by the others too.
var familyWeights = [...]float64{0.16, 0.06, 0.16, 0.18, 0.16, 0.08, 0.20}

// combine joins the families' p-values. Under full coverage by the Cauchy rule,
// else by the weighted Bonferroni bound.
func combine(families []FamilyTest, full bool) float64 {
	p := make([]float64, len(families))
	least := 1.0
	for i, f := range families {
		p[i] = f.P
		least = math.Min(least, p[i]/familyWeights[i])
	}
	if full {
		return CauchyP(p, familyWeights[:])
	}
	return least
}
