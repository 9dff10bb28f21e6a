package ejecta

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rimcast/ejecta/testblanket"
)

// inStrips is a site on white noise with the given field, under strips numbered
// by a function of the place.
func inStrips(seed uint64, field func(rho, az float64) float64, number func(east, north float64) float64) (*Evidence, Measurement) {
	site := plantedSite(seed, field)
	s := site.Samples
	id := make([]float64, s.Len())
	for i := range id {
		sin, cos := math.Sincos(s.Az[i])
		id[i] = number(s.Rho[i]*sin, s.Rho[i]*cos)
	}
	site.Strips = StripFields(s, id)
	e := Collect(site, Settings{})
	return e, e.Measure(Settings{}, 1, 1)
}

func stripsOfThree(east, _ float64) float64 { return math.Floor((east + 0.8) / 3) }

// A step between strips is measured, told from a direction, and said; the lobe
// across it stays.
func TestSeam(t *testing.T) {
	stepped := func(height float64) func(rho, az float64) float64 {
		return func(rho, az float64) float64 {
			if e := rho * math.Sin(az); e >= 2.2 && e < 5.2 {
				return height
			}
			return 0
		}
	}
	e, m := inStrips(1, stepped(1.5), stripsOfThree)
	a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, StripLayer: true}), seamAlarm)
	if !a.Raised || m.Finding.Pattern.Directional() {
		t.Errorf("a step of 1.5 sigma: %s, %+v", m.Finding.Pattern, a)
	}
	s, ok := e.largestStep(Settings{}, 1)
	if !ok || math.Abs(math.Abs(s.height)-1.5) > 3*s.se || s.se > 0.2 {
		t.Errorf("step %+v, want 1.5", s)
	}
	e, m = inStrips(2, stepped(0), stripsOfThree)
	if a = alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, StripLayer: true}), seamAlarm); a.Raised {
		t.Errorf("without a step: %+v", a)
	}
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 1.5, Axis: 350})
	e, m = inStrips(3, func(rho, az float64) float64 { return lobe(rho, az) + stepped(1.5)(rho, az) }, stripsOfThree)
	if m.Finding.Pattern != PatternOneSided {
		t.Errorf("a lobe along the seam is %s", m.Finding.Pattern)
	}
	if a = alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1}), seamAlarm); !strings.Contains(a.NotRun, "strip") {
		t.Errorf("without a layer: %+v", a)
	}
}

// What one strip alone brings, a lobe that begins and ends with it, falls with
// that strip.
func TestOneStrip(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 3, Axis: 90, Kappa: 2})
	only := func(rho, az float64) float64 {
		if e := rho * math.Sin(az); e < 1 {
			return 0
		}
		return lobe(rho, az)
	}
	number := func(east, _ float64) float64 {
		if east > 1 {
			return 2
		}
		return 1
	}
	e, m := inStrips(4, only, number)
	a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, StripLayer: true}), "one_strip")
	if !a.Raised {
		t.Errorf("all from one strip: %s, %+v", m.Finding.Pattern, a)
	}
	round := blanketField(testblanket.Blanket{Pattern: "bilateral", Amplitude: 3, Axis: 45})
	three := func(east, _ float64) float64 { return math.Floor((east + 0.75) / 1.5) }
	e, m = inStrips(5, round, three)
	if a = alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, StripLayer: true}), "one_strip"); a.Raised || a.NotRun != "" {
		t.Errorf("lobes in both strips: %+v", a)
	}
}

// The track of straight strips is their own azimuth, whatever it is.
func TestStripTrack(t *testing.T) {
	s := flatSite(8, 0.2, -0.3)
	rapid.Check(t, func(t *rapid.T) {
		az := rapid.Float64Range(0, 179.9).Draw(t, "azimuth")
		sin, cos := math.Sincos(az * math.Pi / 180)
		id := make([]float64, s.Len())
		for i := range id {
			e, n := math.Sincos(s.Az[i])
			id[i] = math.Floor((s.Rho[i]*(e*cos-n*sin) + 40.7) / 2)
		}
		got := StripTrack(s, StripFields(s, id))
		if d := math.Remainder(got-az, 180); math.Abs(d) > 3 {
			t.Fatalf("track %g, want %g", got, az)
		}
	})
	if v := StripTrack(s, nil); !math.IsNaN(v) {
		t.Errorf("track without strips is %g", v)
	}
}

// Unknown numbers, slivers and a single strip make no columns.
func TestStripFields(t *testing.T) {
	s := flatSite(8, 0.2, -0.3)
	id := make([]float64, s.Len())
	if f := StripFields(s, id); f != nil {
		t.Errorf("one strip: %d columns", len(f))
	}
	for i := range id {
		if s.Rho[i] > 3.98 {
			id[i] = 5
		}
	}
	if f := StripFields(s, id); f != nil {
		t.Errorf("a sliver: %d columns", len(f))
	}
	for i := range id {
		id[i] = math.Floor(s.Rho[i] * 3)
	}
	if f := StripFields(s, id); len(f) > maxStrips-1 {
		t.Errorf("%d columns", len(f))
	}
}
