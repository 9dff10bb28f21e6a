package reports

import (
	"math"
	"math/rand/v2"

	"rimcast/ejecta"
)

// fixtureEpochs maps the water of the first craters at three times of day: it
// stays at every other crater and falls towards noon at the rest; at the fourth
// the direction turns with the sun.
func fixtureEpochs(s *Survey, n int) {
	rng := rand.New(rand.NewPCG(3, 5))
	for i := range n {
		var list []*ejecta.EpochFinding
		for e, name := range []string{"dawn", "=noon", "dusk"} {
			f := fixtureEpoch(s, i, e, rng)
			f.Epoch = name
			list = append(list, &f)
		}
		p := ejecta.NewPersistence(list, ejecta.KnownEpochNoise(3, 0.5), 0.01)
		for _, f := range list {
			s.Epochs = append(s.Epochs, *f)
		}
		s.Persistence = append(s.Persistence, p)
	}
	ejecta.CorrectPersistence(s.Persistence, 0)
}

func fixtureEpoch(s *Survey, crater, e int, rng *rand.Rand) ejecta.EpochFinding {
	f := ejecta.UnmeasuredEpoch(ejecta.StatusNotCovered, "no valid pixel within 8 crater radii")
	f.CraterIndex, f.Species, f.Unit = crater, "water", "ppm"
	f.LocalTime = [3]float64{6.5, 12, 17.5}[e]
	if crater%11 == 10 {
		return f
	}
	a := 80.0
	if crater%2 == 1 {
		a *= [3]float64{1, 0.1, 0.7}[e]
	}
	se := 5.0
	a += se * rng.NormFloat64()
	f.Status, f.Note, f.Pixels, f.Coverage, f.OwnCoverage = ejecta.StatusOK, "", 4000, 0.9, 0.95
	f.SunAzimuth = ejecta.SunAzimuth(f.LocalTime, s.Catalogue.Craters[crater].Centre.Lat, 0)
	f.Background, f.BackgroundSE, f.Excess, f.ExcessSE, f.ExcessP = 190+[3]float64{8, -20, 3}[e], 2, a/3, se/3, math.Exp(-a/8)
	f.Pattern = ejecta.PatternSymmetric
	fixtureScores(&f, crater, a, se)
	fixtureProfiles(&f, a, se, rng)
	return f
}

// fixtureScores are what the test of persistence needs.
func fixtureScores(f *ejecta.EpochFinding, crater int, a, se float64) {
	for range 14 {
		f.DecayScores, f.DecayInfo = append(f.DecayScores, a/(se*se)), append(f.DecayInfo, 1/(se*se))
	}
	f.Direction, f.DirectionCov = make([]float64, 4), make([]float64, 16)
	for i := range 4 {
		f.DirectionCov[5*i] = se * se
	}
	if crater == 3 && !math.IsNaN(f.SunAzimuth) {
		f.Pattern, f.Axis, f.AxisSE, f.AsymmetryP = ejecta.PatternOneSided, f.SunAzimuth, 6, 1e-8
		sin, cos := math.Sincos(f.SunAzimuth * math.Pi / 180)
		f.Direction[0], f.Direction[2] = 60*cos, 60*sin
	}
}

// fixtureProfiles are rings and sectors of a blanket a rho^-3.
func fixtureProfiles(f *ejecta.EpochFinding, a, se float64, rng *rand.Rand) {
	for k := range 12 {
		lo, hi := 1.1*math.Pow(1.18, float64(k)), 1.1*math.Pow(1.18, float64(k+1))
		v := a*math.Pow((lo+hi)/2, -3) + 0.3*se*rng.NormFloat64()
		f.Radial = append(f.Radial, ejecta.RingValue{RhoLo: lo, RhoHi: hi, Mean: f.Background + v, Excess: v, SE: 0.3 * se, Pixels: 100, Coverage: 1, Model: f.Background + a*math.Pow((lo+hi)/2, -3)})
	}
	for k := range 24 {
		lo := 15 * float64(k)
		d := 0.0
		if f.Pattern == ejecta.PatternOneSided {
			d = math.Cos((lo + 7.5 - f.Axis) * math.Pi / 180)
		}
		f.Azimuthal = append(f.Azimuthal, ejecta.SectorValue{AzLo: lo, AzHi: lo + 15, Mean: a/3*(1+d) + 0.5*se*rng.NormFloat64(), SE: 0.5 * se, Pixels: 90, Coverage: 1})
	}
	f.Envelope = 1.5 * se
}

// fixtureControls takes every third crater for young and pairs it with the next.
func fixtureControls(s *Survey) {
	var units []ejecta.Unit
	for i, c := range s.Catalogue.Craters {
		units = append(units, ejecta.Unit{Index: i, Young: i%3 == 0, X: []float64{math.Log(c.Radius), math.Abs(c.Centre.Lat), 1}})
	}
	k := &s.Controls
	k.Rule, k.Young, k.Old = "young are the craters of the class \"=new\"; old are those of another class", (len(units)+2)/3, 2*len(units)/3
	k.Pairs, k.Balance = ejecta.MatchNearest(units, []string{"size (logarithm)", "=latitude", "coverage"}, 1)
	for _, sp := range s.Species {
		find := map[int]*ejecta.Finding{}
		for i := range s.Findings {
			if f := &s.Findings[i]; f.Species == sp.Name {
				find[f.CraterIndex] = f
			}
		}
		k.Species = append(k.Species, ejecta.NewControlSpecies(sp.Name, sp.Unit, k.Pairs, units, func(i int) *ejecta.Finding { return find[i] }))
	}
}
