package study

import (
	"math"
	"math/rand/v2"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// impostor is something that could be taken for a direction, and what a survey
// that knows of it does.
type impostor struct {
	name   string
	noise  string
	ground func(turn float64) testblanket.Ground       // round a crater, turned by degrees
	given  func(*scene)                                // part of the map itself; nil when nothing is
	remedy func(*scene)                                // nil when nothing has to be known
	lobed  func(turn, axis float64) testblanket.Ground // impostor and real lobe in one, in place of their sum
	alone  func(axis float64) testblanket.Ground       // that lobe without the impostor
	fixed  bool                                        // strips run north to south whatever the turn
	silent bool                                        // nobody asks the alarms
	limit  float64                                     // wanted size with the remedy
}

// scene is one crater with an impostor.
type scene struct {
	site  *ejecta.Site
	frame *frame
	turn  float64
	rng   *rand.Rand
}

var symmetric = testblanket.Blanket{Pattern: "symmetric", Amplitude: 1, Interior: "filled"}

// strong is a symmetric blanket of an amplitude in pixel sigma.
func strong(a float64) testblanket.Blanket {
	b := symmetric
	b.Amplitude = a
	return b
}

// impostors lists the cases of the table.
func impostors() []impostor {
	list := []impostor{
		{name: "even ground", ground: even},
		{name: "terrain contact through the centre, 2 sigma", ground: contactAt(0)},
		{name: "terrain contact at 1 R, 2 sigma", ground: contactAt(1)},
		{name: "terrain contact at 2 R, 2 sigma", ground: contactAt(2)},
		{name: "thermal dipole, 1 sigma", ground: dipole, remedy: layer("temperature", dipole, 0)},
		{name: "thermal dipole, temperature with noise", ground: dipole, remedy: layer("temperature", dipole, 0.05)},
		{name: "thermal dipole, slope known to a tenth", ground: dipole, remedy: known(layer("temperature", dipole, 0))},
		{name: "slopes that face the sun, 2 sigma", ground: slopes, remedy: layer("slope", slopes, 0)},
		{name: "hydroxyl of the late day, 1.5 sigma", ground: late, remedy: localTime},
		{name: "seam at 1.5 R, 1.5 sigma", ground: strip(1.5, 99), remedy: stripsOf(1.5, 99), fixed: true},
		{name: "strip from 0.5 R to 3 R, 1.5 sigma", ground: strip(0.5, 3), remedy: stripsOf(0.5, 3), fixed: true},
		{name: "the same strip, no strip layer", ground: strip(0.5, 3), fixed: true},
		{name: "gap of 100 degrees under a blanket of 5 sigma", ground: fixedGround(strong(5)), given: hole},
		{name: "ellipse 1.1 to 1 under a blanket of 5 sigma", ground: ellipse, remedy: rimKnown},
		{name: "centre off by 0.03 R under 10 sigma", ground: offCentre(0.03), remedy: centreKnown(0.03), lobed: lobeOff(0.03), alone: lobeInPlace},
		{name: "centre off by 0.1 R under 10 sigma", ground: offCentre(0.1), remedy: centreKnown(0.1), lobed: lobeOff(0.1), alone: lobeInPlace, limit: 0.2},
	}
	for _, n := range []struct {
		name     string
		distance float64
	}{{"neighbour at 2.5 R, 5 sigma", 2.5}, {"neighbour at 4 R, 5 sigma", 4}, {"neighbour at 6 R, 5 sigma", 6}} {
		list = append(list, impostor{name: n.name, noise: "white", ground: neighbour(n.distance), remedy: neighbourKnown(n.distance)})
	}
	for _, pattern := range []string{"one-sided", "bilateral"} {
		list = append(list, impostor{name: pattern + " neighbour at 4 R, 5 sigma", noise: "white", ground: rayedNeighbour(pattern, 4), remedy: neighbourKnown(4)})
	}
	for i := range list {
		if list[i].noise == "" {
			list[i].noise = "exp5"
		}
		if list[i].limit == 0 {
			list[i].limit = 0.07
		}
	}
	return list
}

// even is no impostor: the row shows what the alarms alone cost.
func even(float64) testblanket.Ground { return func(testblanket.Place) float64 { return 0 } }

func contactAt(offset float64) func(float64) testblanket.Ground {
	return func(turn float64) testblanket.Ground { return testblanket.Contact(turn, offset, 2) }
}

func dipole(turn float64) testblanket.Ground { return testblanket.Dipole(turn, 1) }

func slopes(turn float64) testblanket.Ground { return testblanket.Slopes(turn, 2) }

func late(turn float64) testblanket.Ground { return testblanket.Late(turn, 1.5) }

func strip(from, to float64) func(float64) testblanket.Ground {
	return func(float64) testblanket.Ground { return testblanket.Strip(from, to, 1.5) }
}

func fixedGround(b testblanket.Blanket) func(float64) testblanket.Ground {
	g := testblanket.Around(b, testblanket.Place{}, 1)
	return func(float64) testblanket.Ground { return g }
}

func ellipse(turn float64) testblanket.Ground { return testblanket.Elliptic(strong(5), 1.1, turn) }

// offCentre displaces a strong blanket by a given error of each axis, in a
// direction that turns: the root mean square distance.
func offCentre(sigma float64) func(float64) testblanket.Ground {
	return func(turn float64) testblanket.Ground {
		return testblanket.Around(strong(10), at(turn, sigma*math.Sqrt2), 1)
	}
}

// lobeOff displaces a wholly one-sided blanket as offCentre does.
func lobeOff(sigma float64) func(turn, axis float64) testblanket.Ground {
	return func(turn, axis float64) testblanket.Ground {
		return testblanket.Around(oneSided(axis), at(turn, sigma*math.Sqrt2), 1)
	}
}

// lobeInPlace is the same blanket where it belongs.
func lobeInPlace(axis float64) testblanket.Ground {
	return testblanket.Around(oneSided(axis), testblanket.Place{}, 1)
}

// oneSided is a strong blanket that is wholly one-sided.
func oneSided(axis float64) testblanket.Blanket {
	return testblanket.Blanket{Pattern: "one-sided", Amplitude: 10, Axis: axis}
}

func neighbour(distance float64) func(float64) testblanket.Ground {
	return func(turn float64) testblanket.Ground {
		return testblanket.Around(strong(5), at(turn, distance), 1)
	}
}

// rayedNeighbour is a neighbour whose blanket has a direction of its own, across
// the line to the crater.
func rayedNeighbour(pattern string, distance float64) func(float64) testblanket.Ground {
	return func(turn float64) testblanket.Ground {
		b := testblanket.Blanket{Pattern: pattern, Amplitude: 5, Axis: turn + 60, Interior: "filled"}
		return testblanket.Around(b, at(turn, distance), 1)
	}
}

// at is the place at an azimuth in degrees and a range.
func at(azimuth, rho float64) testblanket.Place {
	sin, cos := math.Sincos(azimuth * math.Pi / 180)
	return testblanket.Place{East: rho * sin, North: rho * cos}
}

// layer gives the survey the field itself as a covariate, with noise of each
// pixel.
func layer(kind string, ground func(float64) testblanket.Ground, noise float64) func(*scene) {
	return func(s *scene) {
		v := s.frame.sample(ground(s.turn))
		for i := range v {
			v[i] += noise * s.rng.NormFloat64()
		}
		s.site.Covariates = append(s.site.Covariates, ejecta.Field{Name: kind, Kind: kind, Values: v})
	}
}

// known adds to a layer that the map tells its slope.
func known(give func(*scene)) func(*scene) {
	return func(s *scene) {
		give(s)
		s.site.Covariates[len(s.site.Covariates)-1].Slope = &ejecta.Slope{Mean: 1, SD: 0.1}
	}
}

// localTime gives the time of day as cosine and sine.
func localTime(s *scene) {
	hours := s.frame.sample(testblanket.LocalTime(s.turn))
	cos, sin := make([]float64, len(hours)), make([]float64, len(hours))
	for i, h := range hours {
		sin[i], cos[i] = math.Sincos(h * math.Pi / 12)
	}
	s.site.Covariates = append(s.site.Covariates, ejecta.Field{Name: "cos", Kind: "local_time", Values: cos}, ejecta.Field{Name: "sin", Kind: "local_time", Values: sin})
}

// stripsOf gives the strip numbers.
func stripsOf(from, to float64) func(*scene) {
	return func(s *scene) {
		number := make([]float64, s.frame.samples.Len())
		for i := range number {
			switch e := s.frame.place(i).East; {
			case e >= to:
				number[i] = 2
			case e >= from:
				number[i] = 1
			}
		}
		s.site.Strips = ejecta.StripFields(s.frame.samples, number)
	}
}

// hole takes away a sector of the map; the plain survey has it too.
func hole(s *scene) {
	s.site.Masked = make([]bool, s.frame.samples.Len())
	for i, az := range s.frame.samples.Az {
		s.site.Masked[i] = math.Abs(math.Remainder(az*180/math.Pi-s.turn, 360)) < 50
	}
}

// rimKnown measures range from the ellipse.
func rimKnown(s *scene) {
	known := *s.frame.samples
	known.Rho = make([]float64, known.Len())
	for i := range known.Rho {
		known.Rho[i] = testblanket.EllipticRange(s.frame.place(i), 1.1, s.turn)
	}
	s.site.Samples = &known
}

func centreKnown(sigma float64) func(*scene) {
	return func(s *scene) { s.site.CentreSigma = sigma }
}

// neighbourKnown masks the neighbour's own ground and gives its blanket a
// column.
func neighbourKnown(distance float64) func(*scene) {
	return func(s *scene) {
		unit := testblanket.Around(symmetric, at(s.turn, distance), 1)
		middle := at(s.turn, distance)
		s.site.Neighbours = []ejecta.Field{{Name: "next", Values: s.frame.sample(unit), Disc: ejecta.Disc{East: middle.East, North: middle.North, Radius: 1}}}
		s.site.Masked = make([]bool, s.frame.samples.Len())
		for i := range s.site.Masked {
			p := s.frame.place(i)
			s.site.Masked[i] = math.Hypot(p.East-middle.East, p.North-middle.North) < 1
		}
	}
}

// place is where a pixel lies.
func (f *frame) place(i int) testblanket.Place {
	return at(f.samples.Az[i]*180/math.Pi, f.samples.Rho[i])
}

// sample takes the pixel means of a field, by nine points of each pixel.
func (f *frame) sample(g testblanket.Ground) []float64 {
	out := make([]float64, f.samples.Len())
	step := 1 / (3 * f.radius)
	for i := range out {
		p := f.place(i)
		for k := range 9 {
			out[i] += g(testblanket.Place{East: p.East + step*float64(k%3-1), North: p.North + step*float64(k/3-1)}) / 9
		}
	}
	return out
}
