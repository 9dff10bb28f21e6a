package main

import (
	"errors"
	"math"
	"strings"
	"testing"

	"rimcast/raster"
)

// Half past eleven at night and half past midnight are an hour apart (common
// practice: times of day go round).
func TestLocalTimeGoesRound(t *testing.T) {
	tallied(t)
	b := &siteBuilder{}
	f := b.covariateFields(&layerSection{Name: "time", Kind: "local_time"}, []float64{23.5, 0.5, 12})
	if len(f) != 2 {
		t.Fatalf("%d columns, want cosine and sine", len(f))
	}
	apart := func(i, j int) float64 {
		return math.Hypot(f[0].Values[i]-f[0].Values[j], f[1].Values[i]-f[1].Values[j])
	}
	if near, far := apart(0, 1), apart(0, 2); !(near < 0.3 && far > 1.9) {
		t.Errorf("midnight is split: %g apart, noon %g", near, far)
	}
}

// Azimuths are averaged as axes and never regressed on.
func TestAzimuthLayers(t *testing.T) {
	b := &siteBuilder{rho: []float64{1, 1, 1, 9}}
	for _, kind := range []string{"sun_azimuth", "track_azimuth"} {
		if f := b.covariateFields(&layerSection{Kind: kind}, []float64{350, 10, 180, 90}); len(f) != 0 {
			t.Errorf("%s became %d columns", kind, len(f))
		}
	}
	for _, got := range []float64{b.sun, b.track} {
		if off := math.Abs(math.Remainder(got, 180)); off > 1e-9 {
			t.Errorf("mean of 350, 10 and 180 degrees is %g, want north to south", got)
		}
	}
	b.level, b.sun = 1, math.NaN()
	b.covariateFields(&layerSection{Kind: "sun_azimuth"}, []float64{350, 10, 180, 90})
	if !math.IsNaN(b.sun) {
		t.Error("block means of azimuths were averaged")
	}
}

// A block mean between two strip numbers belongs to no strip.
func TestStripFieldsOfBlocks(t *testing.T) {
	b := &siteBuilder{track: math.NaN()}
	b.samples.Rho, b.samples.Az, b.samples.Area = []float64{1, 1, 1}, []float64{1.57, 0, 4.71}, []float64{1, 1, 1}
	b.covariateFields(&layerSection{Kind: "strip"}, []float64{3, 3.5, 4})
	f := b.stripFields()
	if len(f) != 1 || f[0].Values[1] != 0 || f[0].Values[2] != 1 {
		t.Errorf("fields %+v", f)
	}
	if off := math.Abs(math.Remainder(b.track, 180)); off > 1 {
		t.Errorf("the strips run along %g, want north to south", b.track)
	}
}

func TestMapAlarms(t *testing.T) {
	raised := func(s raster.Sample, unit string) string {
		var names []string
		for _, a := range mapAlarms(&s, unit) {
			if a.Raised {
				names = append(names, a.Name)
			}
		}
		return strings.Join(names, " ")
	}
	for _, c := range []struct {
		what, unit, want string
		sample           raster.Sample
	}{
		{"clean", "ppm", "", raster.Sample{Median: 200}},
		{"clipped", "ppm", "clipped_at_zero", raster.Sample{Median: 200, ClippedAtZero: 0.1}},
		{"smoothed", "ppm", "smoothed_input", raster.Sample{Median: 200, Smooth: 0.8}},
		{"weight per cent called ppm", "ppm", "unit_implausible", raster.Sample{Median: 0.001}},
		{"a spike", "K", "spike_values", raster.Sample{Spikes: []raster.Spike{{Share: 0.05}, {Share: 1e-5}}}},
		{"bytes of few levels", "K", "", raster.Sample{Spikes: []raster.Spike{{Share: 0.05}, {Share: 0.04}}}},
	} {
		if got := raised(c.sample, c.unit); got != c.want {
			t.Errorf("%s raises %q, want %q", c.what, got, c.want)
		}
	}
}

// A panic in a worker is an error of the run, so that the exit code is that of
// a fault of rimcast.
func TestPanicInWorker(t *testing.T) {
	err := parallel(2, 5, func(i int) {
		if i == 3 {
			panic("no such thing")
		}
	})
	if err == nil || !strings.Contains(err.Error(), "no such thing") {
		t.Errorf("error %v", err)
	}
	if got := exitCode(err); got != exitInternal {
		t.Errorf("exit code %d, want %d", got, exitInternal)
	}
}

func TestFaultText(t *testing.T) {
	if got := faultText(errors.New("first\nsecond")); got != "first" {
		t.Errorf("%q", got)
	}
}
