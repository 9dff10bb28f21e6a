package ejecta

import (
	"math"
	"strings"
	"testing"
)

func directed(p Pattern, axis float64, ci ...Interval) *Finding {
	f := scored(8, 10, 0.01)
	f.Pattern, f.Axis, f.Axis95, f.AsymmetryP, f.AxisSE = p, axis, ci, 1e-5, 4
	f.Radial = []RingValue{{RhoLo: 1.1, RhoHi: 2}, {RhoLo: 2, RhoHi: 8}}
	f.Extent, f.Decay = 4, 3
	f.RimExcess95 = [2]float64{f.RimExcess / 8, f.RimExcess * 1.331}
	switch p {
	case PatternOneSided:
		f.Lobes = []Lobe{{Azimuth: axis, Width: 60}}
	case PatternBilateral:
		f.Lobes = []Lobe{{Azimuth: axis + 180, Width: 40}, {Azimuth: axis, Width: 40}}
	case PatternGap:
		f.GapWidth = 90
	}
	return f
}

func TestWedges(t *testing.T) {
	for _, c := range []struct {
		name string
		f    *Finding
		want []Interval
	}{
		{"one side over north", directed(PatternOneSided, 350, Interval{340, 375}), []Interval{{310, 405}}},
		{"axis", directed(PatternBilateral, 30, Interval{20, 45}), []Interval{{0, 65}, {180, 245}}},
		{"gap", directed(PatternGap, 100, Interval{95, 105}), []Interval{{20, 180}}},
		{"axis unknown", directed(PatternOneSided, 100, Interval{0, 190}), allRound},
		{"no direction", directed(PatternSymmetric, 100), allRound},
	} {
		got, why := c.f.wedges()
		if len(got) != len(c.want) || why == "" {
			t.Errorf("%s: %v", c.name, got)
			continue
		}
		for i := range got {
			if math.Abs(got[i].Lo-c.want[i].Lo) > 1e-9 || math.Abs(got[i].Hi-c.want[i].Hi) > 1e-9 {
				t.Errorf("%s: %v, want %v", c.name, got, c.want)
			}
		}
	}
}

// A / 8 at b = 3 halves the range; the ejecta range and the last ring bound it.
func TestOuterRange(t *testing.T) {
	f := directed(PatternOneSided, 10)
	at, ends := f.outerRange()
	if at != 4 || ends[0] != 2.5 || math.Abs(ends[1]-4.4) > 1e-3 {
		t.Errorf("%g, %v", at, ends)
	}
	f.RimExcess95[1] = 1e9
	if _, ends := f.outerRange(); ends[1] != 8 {
		t.Errorf("beyond the rings: %v", ends)
	}
	f.Extent = math.NaN()
	if at, ends := f.outerRange(); at != excessOuter || !math.IsNaN(ends[0]) {
		t.Errorf("no extent: %g %v", at, ends)
	}
}

// FullPixels is where the layout becomes whole, and no later.
func TestFullPixels(t *testing.T) {
	whole, below, far := NewLayout(FullPixels, 0, 8, 0, 0), NewLayout(FullPixels-0.01, 0, 8, 0, 0), NewLayout(100, 0, 8, 0, 0)
	if whole.Rings != far.Rings || whole.Sectors != far.Sectors || below.Rings >= far.Rings {
		t.Errorf("%d rings at %g pixels, %d below, %d far above", whole.Rings, FullPixels, below.Rings, far.Rings)
	}
}

func TestPixel(t *testing.T) {
	r := Request{Wedges: []Interval{{0, 360}}}
	if got := r.pixel(nil); got != 1/FullPixels {
		t.Errorf("all round: %g", got)
	}
	r.Wedges = []Interval{{10, 20}}
	area := (1.69 - 1.21) / 2 * 10 * math.Pi / 180
	if got := r.pixel(nil); math.Abs(area/(got*got)-cellPixels) > 1e-9 {
		t.Errorf("%g pixels in the wedge", area/(got*got))
	}
}

func withConditions(f *Finding, hour, incidence float64, alarms ...string) *Finding {
	f.Conditions = []Condition{{Name: "time", Kind: "local_time", Mean: hour}, {Name: "i", Kind: "incidence", Mean: incidence}}
	for _, a := range alarms {
		f.Alarms = append(f.Alarms, Alarm{Name: a, Raised: true})
	}
	return f
}

func TestLight(t *testing.T) {
	bare := func() *Finding { return scored(8, 10, 0.01) }
	for _, c := range []struct {
		name   string
		f      *Finding
		hours  string
		angles Interval
	}{
		{"no alarm", withConditions(bare(), 10, 40), "6:00 to 7:00 or 13:00 to 18:00", Interval{30, 50}},
		{"hot", withConditions(bare(), 13, 30, "thermal"), "6:00 to 9:00 or 15:00 to 18:00", Interval{45, 75}},
		{"hot and early", withConditions(bare(), 6.5, 70, "thermal"), "6:00 to 7:30 or 16:30 to 18:00", Interval{65, 75}},
		{"sun", withConditions(bare(), 9, 50, "axis_near_sun"), "13:30 to 16:30", Interval{40, 60}},
		{"slopes", withConditions(bare(), 9, 50, "illumination"), "13:30 to 16:30", Interval{0, 35}},
		{"hot and sun", withConditions(bare(), 13, 30, "thermal", "axis_near_sun"), "6:00 to 9:00", Interval{45, 75}},
		{"sun at noon", withConditions(bare(), 12, 30, "axis_near_sun"), "6:00 to 9:00 or 15:00 to 18:00", Interval{20, 40}},
	} {
		l := c.f.light(nil)
		if hoursText(l.Hours) != c.hours || l.Angles == nil || *l.Angles != c.angles {
			t.Errorf("%s: hours %s, angles %v", c.name, hoursText(l.Hours), l.Angles)
		}
	}
	if l := bare().light(nil); l.LocalTime != noLayerPhrase || l.Hours != nil || l.Angles != nil {
		t.Errorf("without layers: %+v", l)
	}
	if l := withConditions(bare(), 23.5, 90).light(nil); l.Hours != nil || !strings.Contains(l.LocalTime, "night") {
		t.Errorf("at night: %+v", l)
	}
}

// A day that is mapped at several times leaves the hours between, or none.
func TestLightOfSeveralTimes(t *testing.T) {
	f := withConditions(scored(8, 10, 0.01), 8, 40)
	if l := f.light([]float64{8, 16}); hoursText(l.Hours) != "11:00 to 13:00" {
		t.Errorf("between two times: %s", l.LocalTime)
	}
	if l := f.light([]float64{8, 12, 16}); l.Hours != nil || !strings.HasPrefix(l.LocalTime, "any, the day is mapped") {
		t.Errorf("three times: %+v", l)
	}
	f = withConditions(scored(8, 10, 0.01), 8, 40, "follows_sun")
	if l := f.light([]float64{8, 12, 16}); l.LocalTime != "14:30 to 17:30 (now 8:00; there is a map of 16:00)" {
		t.Errorf("an alarm that another map settles: %s", l.LocalTime)
	}
}

func TestChangesSayNumbers(t *testing.T) {
	for _, c := range []struct {
		f    *Finding
		want string
	}{
		{scored(0, 10, 0.01), "would make the crater a candidate"},
		{scored(3, 10, 0.01), "would take the claim back (joined p above 0.01)"},
		{scored(12, 10, 0.01), "even no excess at all"},
		{directed(PatternOneSided, 40, Interval{30, 50}), "the direction falls"},
	} {
		text := strings.Join(NewRequest(c.f, 5, 0.01).Change, "; ")
		if !strings.Contains(text, c.want) || strings.Contains(text, "NaN") {
			t.Errorf("%q does not say %q", text, c.want)
		}
	}
}

// The mean of a time of day goes round midnight; masked and far pixels do not
// count.
func TestConditions(t *testing.T) {
	hours := []float64{23, 1, 12, 12}
	cos, sin := make([]float64, 4), make([]float64, 4)
	for i, h := range hours {
		sin[i], cos[i] = math.Sincos(h * math.Pi / 12)
	}
	site := Site{Samples: &Samples{Rho: []float64{1.5, 2, 5, 2}}, Masked: []bool{false, false, false, true}, Covariates: []Field{
		{Name: "t", Kind: "temperature", Values: []float64{300, 320, 900, 900}},
		{Name: "time cos", Kind: "local_time", Values: cos}, {Name: "time sin", Kind: "local_time", Values: sin},
	}}
	got := site.Conditions(70)
	if len(got) != 3 || got[0].Mean != 310 || got[0].SD != 10 || got[1].Name != "time" || got[2].Mean != 70 {
		t.Fatalf("%+v", got)
	}
	if h := math.Mod(got[1].Mean+12, 24); math.Abs(h-12) > 1e-9 || math.Abs(got[1].SD-1) > 0.02 {
		t.Errorf("time of day %+v, want midnight with a spread of an hour", got[1])
	}
}
