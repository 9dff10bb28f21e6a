package ejecta

import (
	"math"
	"testing"

	"rimcast/ejecta/testblanket"
)

// besideLayer measures a field under covariates of given kinds, each a field
// of its own.
func besideLayer(seed uint64, field func(rho, az float64) float64, layers map[string]func(rho, az float64) float64, masked func(rho, az float64) bool) (*Evidence, Measurement) {
	site := plantedSite(seed, field)
	s := site.Samples
	for _, kind := range []string{"temperature", "slope", "albedo", "other"} {
		f := layers[kind]
		if f == nil {
			continue
		}
		v := make([]float64, s.Len())
		for i := range v {
			v[i] = 250 + f(s.Rho[i], s.Az[i])
		}
		site.Covariates = append(site.Covariates, Field{Name: kind, Kind: kind, Values: v})
	}
	site.Masked = make([]bool, s.Len())
	for i := range site.Masked {
		site.Masked[i] = masked != nil && masked(s.Rho[i], s.Az[i])
	}
	e := Collect(site, Settings{})
	return e, e.Measure(Settings{}, 1, 1)
}

// Each kind of covariate raises its own alarm, and no other.
func TestCovariateAlarms(t *testing.T) {
	dipole := func(rho, az float64) float64 { return math.Cos(az-1) / (rho * rho) }
	for kind, alarm := range map[string]string{"temperature": "thermal", "slope": "illumination", "albedo": "albedo", "other": "other_covariate"} {
		e, m := besideLayer(1, func(rho, az float64) float64 { return 2 * dipole(rho, az) },
			map[string]func(rho, az float64) float64{kind: dipole}, nil)
		list := e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
		for _, f := range fakers {
			a := alarmNamed(t, list, f.alarm)
			if (f.alarm == alarm) != a.Raised || (f.alarm == alarm) != (a.NotRun == "") {
				t.Errorf("%s: %+v", kind, a)
			}
		}
		if a := alarmNamed(t, list, "not_separable"); !a.Raised {
			t.Errorf("%s: %+v", kind, a)
		}
		if m.Finding.Pattern.Directional() {
			t.Errorf("%s: called %s", kind, m.Finding.Pattern)
		}
	}
}

// A covariate that has nothing to do with the blanket takes nothing.
func TestCovariateLeavesBlanket(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 90})
	e, m := besideLayer(2, lobe, map[string]func(rho, az float64) float64{"temperature": func(rho, az float64) float64 { return math.Cos(az) / (rho * rho) }}, nil)
	list := e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
	for _, name := range []string{"thermal", "not_separable"} {
		if a := alarmNamed(t, list, name); a.Raised || a.NotRun != "" {
			t.Errorf("%+v", a)
		}
	}
	if s := m.Finding.ThermalShare; !(math.Abs(s) < 0.2) || !m.Finding.Pattern.Directional() {
		t.Errorf("share %g, %s", s, m.Finding.Pattern)
	}
}

// A blanket that is warm ground is taken whole.
func TestThermalShare(t *testing.T) {
	warm := func(rho, az float64) float64 { return math.Pow(rho, -2) }
	_, m := besideLayer(3, func(rho, az float64) float64 { return 2 * warm(rho, az) }, map[string]func(rho, az float64) float64{"temperature": warm}, nil)
	if s := m.Finding.ThermalShare; !(s > 0.7) {
		t.Errorf("share %g of an excess that is all temperature", s)
	}
	if _, m = planted(3, warm); !math.IsNaN(m.Finding.ThermalShare) {
		t.Errorf("share %g without a layer", m.Finding.ThermalShare)
	}
}

// A symmetric blanket behind a hole leaves no direction: free ring means take
// it out pixel by pixel.
func TestBlanketBehindHole(t *testing.T) {
	sym := blanketField(testblanket.Blanket{Pattern: "symmetric", Amplitude: 5})
	e, m := besideLayer(4, sym, nil, func(rho, az float64) bool { return rho < 5 && az > 1 && az < 2.9 })
	if s := e.spuriousDirection(&m, Settings{}, AlarmInputs{NullScale: 1}); !(s < 0.2) {
		t.Errorf("a blanket of 5 sigma leaves %g standard errors", s)
	}
	a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1}), "coverage_can_fake")
	if math.Abs(a.Value-108) > 11 || a.Raised != m.Finding.Pattern.Directional() {
		t.Errorf("%+v", a)
	}
}

func TestGroundSeenAlarms(t *testing.T) {
	flat := func(rho, az float64) float64 { return 0 }
	raised := func(e *Evidence, m Measurement, name string) bool {
		return alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, SigmaRadius: 0.1}), name).Raised
	}
	e, m := besideLayer(5, flat, nil, nil)
	if raised(e, m, "background_short") {
		t.Error("background_short on a whole far field")
	}
	if !raised(e, m, "radius_uncertain") {
		t.Error("a radius known to a tenth")
	}
	if e, m = besideLayer(5, flat, nil, func(rho, az float64) bool { return rho > 4 && az > 1 }); !raised(e, m, "background_short") {
		t.Error("background_short on a sixth of the far field")
	}
	halo := func(rho, az float64) float64 { return 5 / rho }
	if e, m = besideLayer(5, halo, nil, nil); !raised(e, m, "background_short") {
		t.Errorf("a halo to %g radii", m.Finding.Extent)
	}
}

func TestGapProbable(t *testing.T) {
	m := Measurement{Classes: []classFit{{pattern: PatternOneSided, score: 9}, {pattern: PatternGap, score: 8, width: 100}}}
	if a := gapAlarm(&m); !a.Raised || a.Value != 1 {
		t.Errorf("%+v", a)
	}
	m.Classes[1].score = 6
	if a := gapAlarm(&m); a.Raised {
		t.Errorf("%+v", a)
	}
	m.Classes[0], m.Classes[1] = m.Classes[1], m.Classes[0]
	if a := gapAlarm(&m); a.Raised {
		t.Errorf("a gap that won: %+v", a)
	}
}

// An error of the radius widens the error of A by b times the relative error.
func TestRadiusErrorIsCarried(t *testing.T) {
	site := plantedSite(6, blanketField(testblanket.Blanket{Pattern: "symmetric", Amplitude: 5}))
	exact := Collect(site, Settings{}).Measure(Settings{}, 1, 1).Finding
	site.RadiusSigma = 0.1
	f := Collect(site, Settings{}).Measure(Settings{}, 1, 1).Finding
	near(t, "error", f.RimExcessSE, math.Hypot(exact.RimExcessSE, 0.1*exact.Decay*exact.RimExcess), 1e-9)
	if !(f.RimExcess95[0] < exact.RimExcess95[0] && f.RimExcess95[1] > exact.RimExcess95[1]) || f.RimExcess != exact.RimExcess {
		t.Errorf("%v from %v", f.RimExcess95, exact.RimExcess95)
	}
}
