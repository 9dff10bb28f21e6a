package ejecta

import (
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rimcast/ejecta/testblanket"
)

// planted is a crater of 8 pixels on white noise of sigma 1 with a field added,
// and its measurement.
func planted(seed uint64, field func(rho, az float64) float64) (*Evidence, Measurement) {
	site := plantedSite(seed, field)
	e := Collect(site, Settings{})
	return e, e.Measure(Settings{}, 1, 1)
}

func plantedSite(seed uint64, field func(rho, az float64) float64) Site {
	rng := rand.New(rand.NewPCG(seed, 4))
	s := flatSite(8, 0.2, -0.3)
	site := Site{Samples: s, Noise: KnownNoise(testblanket.Noise{}.Covariance, 140), Variance: 1, KeepGround: true}
	for i := range s.Len() {
		site.Values = append(site.Values, float32(rng.NormFloat64()+field(s.Rho[i], s.Az[i])))
	}
	return site
}

func alarmNamed(t *testing.T, list []Alarm, name string) Alarm {
	t.Helper()
	for _, a := range list {
		if a.Name == name {
			return a
		}
	}
	t.Fatalf("no alarm %s", name)
	return Alarm{}
}

// boundary is ground that is higher beyond a line.
func boundary(azimuth, offset, height float64) func(rho, az float64) float64 {
	return func(rho, az float64) float64 {
		if rho*math.Cos(az-azimuth*math.Pi/180) > offset {
			return height
		}
		return 0
	}
}

func blanketField(b testblanket.Blanket) func(rho, az float64) float64 {
	return b.Shape().At
}

// Every boundary that makes a direction is called one, through the centre or
// beside it, between the azimuths of the bank as on them.
func TestContactIsCalledOne(t *testing.T) {
	if testing.Short() {
		t.Skip("a long simulation")
	}
	found := 0
	for _, c := range []contact{{40, 0, 0}, {98, 0.5, 0}, {150, 1, 0}, {203, 1.4, 0}, {301, 2, 0}} {
		for seed := range uint64(3) {
			e, m := planted(seed, boundary(c.azimuth, c.offset, 2))
			if !m.Finding.Pattern.Directional() {
				continue
			}
			found++
			m.Finding.Alarms = e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
			if m.Finding.Doubt() == "" {
				t.Errorf("a boundary at %+v passes for %s towards %.0f: %v", c, m.Finding.Pattern, m.Finding.Axis,
					alarmNamed(t, m.Finding.Alarms, contactAlarm).Detail)
			}
		}
	}
	if found < 8 {
		t.Errorf("only %d of 15 boundaries made a direction", found)
	}
}

// Blankets on even ground keep their directions, and those that lie across a
// boundary keep them when they are strong.
func TestContactLeavesBlankets(t *testing.T) {
	for _, b := range []testblanket.Blanket{
		{Pattern: "one-sided", Amplitude: 1.2, Axis: 77}, {Pattern: "bilateral", Amplitude: 1.2, Axis: 20},
		{Pattern: "gap", Amplitude: 1.6, Axis: 200}, {Pattern: "rays", Amplitude: 2, Rays: []float64{10, 95, 200, 290}},
	} {
		for seed := range uint64(3) {
			e, m := planted(seed, blanketField(b))
			m.Finding.Alarms = e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
			if !m.Finding.Pattern.Directional() || m.Finding.Doubt() != "" {
				t.Errorf("%s is %s, %s: %s", b.Pattern, m.Finding.Pattern, m.Finding.Doubt(), alarmNamed(t, m.Finding.Alarms, contactAlarm).Detail)
			}
		}
	}
}

func TestLobeAcrossContact(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 130})
	ground := boundary(40, 2, 2)
	e, m := planted(5, func(rho, az float64) float64 { return lobe(rho, az) + ground(rho, az) })
	a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1}), contactAlarm)
	if a.Raised || a.NotRun != "" {
		t.Errorf("a strong lobe across a boundary: %+v", a)
	}
}

// The direction of a lobe across a boundary is the lobe's own, not half way to
// the ground's.
func TestDirectionBesideContact(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 1.6, Axis: 130})
	ground := boundary(40, 0, 1.2)
	e, m := planted(6, func(rho, az float64) float64 { return lobe(rho, az) + ground(rho, az) })
	off := func() float64 {
		to, _ := towards(classFit{pattern: m.Finding.Pattern, axis: axisFit{azimuth: m.Finding.Axis}})
		return math.Abs(math.Remainder(to-130, 360))
	}
	before := off()
	a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1}), contactAlarm)
	if a.Raised || !m.Finding.Pattern.Directional() || off() > 20 || before < 40 {
		t.Errorf("%s towards %.0f, before %.0f off: %+v", m.Finding.Pattern, m.Finding.Axis, before, a)
	}
	if m.Finding.AsymmetryP != a.Value {
		t.Errorf("p %g of %g", m.Finding.AsymmetryP, a.Value)
	}
	if r := robustnessOf(e, &m); !(r.Share() > 0.8) {
		t.Errorf("beside the boundary overturned by %v", r.Overturned)
	}
}

func TestContactNotRun(t *testing.T) {
	site := plantedSite(1, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3}))
	site.KeepGround = false
	e := Collect(site, Settings{})
	m := e.Measure(Settings{}, 1, 1)
	if a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1}), contactAlarm); !strings.Contains(a.NotRun, "not kept") {
		t.Errorf("without the ground: %+v", a)
	}
	e, m = planted(1, func(rho, az float64) float64 { return 0 })
	if a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1}), contactAlarm); a.NotRun != noDirectionOf {
		t.Errorf("without a direction: %+v", a)
	}
}

// A column added afterwards has the products that it would have had from the
// beginning: the plane's own columns come out twice.
func TestWidenedGivesTheSameProducts(t *testing.T) {
	e, _ := planted(3, boundary(10, 1, 1))
	c := e.ground.cells
	extra := make([]float64, 0, 2*c.N)
	for i := range c.N {
		sin, cos := math.Sincos(c.Az[i])
		extra = append(extra, c.Rho[i]*sin, c.Rho[i]*cos)
	}
	g := e.ground.widened(e.Gram, extra)
	for i := range 2 {
		for j := range e.Gram.P {
			near(t, "product", 1+g.at(e.Gram.P+i, j), 1+e.Gram.at(colPlane+i, j), 1e-9)
		}
		near(t, "own product", g.at(e.Gram.P+i, e.Gram.P+1), e.Gram.at(colPlane+i, colPlane+1), 1e-9)
	}
}

// The doubt is in the verdict and keeps the direction out of the ranking.
func TestDoubtInVerdictAndRank(t *testing.T) {
	f := Finding{Species: "water", Status: StatusOK, Pattern: PatternOneSided, Axis: 40, AsymmetryP: 1e-6, ExcessP: 1e-5}
	plain, doubted := f, f
	doubted.Alarms = []Alarm{{Name: contactAlarm, Raised: true}}
	for _, p := range []*Finding{&plain, &doubted} {
		p.Describe(0.01)
	}
	if !strings.Contains(doubted.Verdict, "boundaries of the ground") || strings.Contains(plain.Verdict, "but") {
		t.Errorf("verdicts %q and %q", plain.Verdict, doubted.Verdict)
	}
	rank := Rank([]RankInput{{Findings: []Finding{doubted}}, {CraterIndex: 1, Findings: []Finding{plain}}}, nil, 1)
	for _, c := range rank[1].Components {
		if c.Name == ScorePattern && c.Value != 0 {
			t.Errorf("a doubted direction counts %g", c.Value)
		}
	}
	if rank[0].CraterIndex != 1 {
		t.Error("the doubted direction comes first")
	}
}

// A boundary along the track is said to look like a seam; one across it is not.
func TestBoundaryAlongTrack(t *testing.T) {
	for _, c := range []struct {
		track float64
		along bool
	}{{0, true}, {90, false}, {math.NaN(), false}} {
		e, m := planted(2, boundary(90, 0.5, 2))
		a := e.contactAlarmOf(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, TrackAzimuth: c.track})
		if !a.Raised || strings.Contains(a.Detail, "seam") != c.along {
			t.Errorf("track %g: %+v", c.track, a)
		}
	}
}

// Alarms that speak of the reading alone do not lower the score.
func TestLoweringAlarms(t *testing.T) {
	f := Finding{Alarms: []Alarm{{Name: backgroundAlarmName, Raised: true}, {Name: gapAlarmName, Raised: true}, {Name: seamAlarm, Raised: true}, {Name: contactAlarm}}}
	if got := loweringAlarms(&f, nil, &f); !slices.Equal(got, []string{seamAlarm}) {
		t.Errorf("alarms %q lower the score, want the seam alone, once", got)
	}
}

// An alarm lowers a target where the species that it speaks of is what the target
// rests on: for its excess, or for a direction that counts.
func TestAlarmsOfOtherSpeciesDoNotLower(t *testing.T) {
	alarm := []Alarm{{Name: seamAlarm, Raised: true}}
	thermal := []Alarm{{Name: "thermal", Raised: true}}
	best := Finding{Status: StatusOK, Species: "water", ExcessP: 1e-9}
	other := Finding{Status: StatusOK, Species: "hydroxyl", ExcessP: 0.5}
	with := func(f Finding, alarms []Alarm) Finding { f.Alarms = alarms; return f }
	lobed := func(f Finding) Finding { f.Pattern, f.AsymmetryP = PatternOneSided, 1e-6; return f }
	for _, c := range []struct {
		name    string
		list    []Finding
		lowered float64
	}{
		{"none", []Finding{best, other}, 0},
		{"the excess", []Finding{with(best, alarm), other}, -0.5},
		{"another species", []Finding{best, with(other, alarm)}, 0},
		{"another species, put first", []Finding{with(other, alarm), best}, 0},
		{"the direction of another species", []Finding{best, with(lobed(other), thermal)}, -0.5},
		{"a direction that does not count", []Finding{best, with(lobed(other), []Alarm{{Name: contactAlarm, Raised: true}})}, 0},
		{"both, of one kind", []Finding{with(best, thermal), with(lobed(other), thermal)}, -0.5},
	} {
		got := 0.0
		for _, p := range Rank([]RankInput{{Findings: c.list, Freshness: math.NaN()}}, nil, 1)[0].Components {
			if p.Name == ScoreAlarms {
				got = p.Value
			}
		}
		if got != c.lowered {
			t.Errorf("%s: alarms %g, want %g", c.name, got, c.lowered)
		}
	}
}

// A covariate that takes the information of one direction lets a lobe across it
// lean towards that direction and grow: its low side is then not known to lie
// below the background. On even ground the error is that of the fit.
func TestDeficitBesideACovariate(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 1, Axis: 90})
	north := map[string]func(rho, az float64) float64{"temperature": func(rho, az float64) float64 { return math.Cos(az) / (rho * rho * rho) }}
	raised, wider, largest := 0, 0, 0.0
	for seed := range uint64(8) {
		e, m := besideLayer(seed, lobe, north, nil)
		if !m.Finding.Pattern.Directional() || m.Classes[0].pattern == PatternRays {
			continue
		}
		if e.deficitAlarmOf(&m).Raised {
			raised++
		}
		if lead := m.Classes[0]; m.Direction.looseSE(&lead) > 1.3*lead.axis.se {
			wider++
		}
		largest = math.Max(largest, m.Classes[0].axis.amplitude)
	}
	if raised > 0 || wider == 0 || largest > 3 {
		t.Errorf("%d lobes across a temperature lie below the background, %d know their amplitude less well, the largest is %g", raised, wider, largest)
	}
	_, m := planted(1, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 90}))
	if lead := m.Classes[0]; !(m.Direction.looseSE(&lead) < 1.02*lead.axis.se) {
		t.Errorf("on even ground %g and %g", m.Direction.looseSE(&lead), lead.axis.se)
	}
}
