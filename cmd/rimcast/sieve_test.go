package main

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"path/filepath"
	"strings"
	"testing"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
	"rimcast/reports"
)

var (
	sievePlanted = flag.Int("sieve.planted", 40, "craters with blankets in TestSieveKeepsBlankets")
	sieveBare    = flag.Int("sieve.bare", 260, "craters without")
)

// sieveScenario has blankets of all patterns at the edge of what can be found, and
// bare craters, on noise with stripes and gaps. The maps grow with the catalogue.
func sieveScenario() testblanket.Scenario {
	rng := rand.New(rand.NewPCG(5, 6))
	noise := testblanket.Noise{Length: 2, Columns: 0.15, Gaps: 0.02, GapLength: 9}
	width := int(math.Sqrt(float64(*sievePlanted+*sieveBare)*8000)) / 2 * 2
	s := testblanket.Scenario{Title: "blankets for a sieve", Grid: testblanket.GridRecipe{Width: width},
		Species: []testblanket.Layer{{Name: "water", Background: 190, Sigma: 34, PoleRise: 40, Noise: noise}, {Name: "hydroxyl", Background: 420, Sigma: 42, PoleRise: 40, Noise: noise}},
		Old:     testblanket.Old{Count: *sieveBare, MaxLat: 70, MaxPixels: 20}}
	for len(s.Craters) < *sievePlanted {
		c := testblanket.Planted{Lon: 360*rng.Float64() - 180, Lat: 140*rng.Float64() - 70, Pixels: math.Min(20, 3/math.Sqrt(rng.Float64()))}
		c.ID = fmt.Sprintf("P%03d", len(s.Craters))
		for _, l := range s.Species {
			c.Blankets = append(c.Blankets, drawnBlanket(l, c.Pixels, rng))
		}
		s.Craters = append(s.Craters, c)
	}
	return s
}

// drawnBlanket is a blanket of any pattern, one to six sigma of a pixel at the rim,
// less for larger craters.
func drawnBlanket(l testblanket.Layer, pixels float64, rng *rand.Rand) testblanket.Blanket {
	b := testblanket.Blanket{Species: l.Name, Amplitude: l.Sigma * (1 + 5*rng.Float64()) * math.Pow(4/pixels, 0.6), Axis: 360 * rng.Float64()}
	switch b.Pattern = []string{"symmetric", "one-sided", "bilateral", "rays", "gap"}[rng.IntN(5)]; b.Pattern {
	case "one-sided":
		b.Share, b.Kappa = 0.9, 3
	case "bilateral":
		b.Share, b.Kappa = 0.95, 8
	case "rays":
		for k := range 4 {
			b.Rays = append(b.Rays, 90*float64(k)+50*rng.Float64())
		}
	case "gap":
		b.GapWidth = 90
	}
	return b
}

// screenedSurvey screens a survey and reads the result.
func screenedSurvey(t *testing.T, survey, out string, args ...string) *reports.Survey {
	t.Helper()
	var log bytes.Buffer
	if code := run(t.Context(), append([]string{"screen", survey, "-o", out, "-q", "--top", "0", "--nulls", "60"}, args...), strings.NewReader(""), io.Discard, &log); code != 0 && code != exitPartial {
		t.Fatalf("exit %d: %s", code, log.String())
	}
	s, err := readResult(out)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// TestSieveKeepsBlankets measures every crater of an invented survey and asks what
// a sieve would have left out. The log is the table of DEVELOPERS.md.
func TestSieveKeepsBlankets(t *testing.T) {
	if testing.Short() {
		t.Skip("a whole screening")
	}
	dir := t.TempDir()
	if _, err := writeInvented(dir, sieveScenario(), 1); err != nil {
		t.Fatal(err)
	}
	full := screenedSurvey(t, filepath.Join(dir, "survey.toml"), filepath.Join(dir, "full"))
	quick := quickPs(screenedSurvey(t, filepath.Join(dir, "survey.toml"), filepath.Join(dir, "quick"), "--sieve", "1e-6"))
	t.Log("| share | craters | excess p < 1e-5, kept | p < 1e-3 | direction p < 1e-5 | p < 1e-3 |")
	for _, share := range []float64{0.05, 0.1, 0.2, 0.3} {
		keep := ejecta.SieveKeep(quick, 2, share)
		row, sure := fmt.Sprintf("| %g | %d |", share, countTrue(keep)), [2]int{}
		for _, which := range []func(*ejecta.Finding) float64{excessOf, directionOf} {
			for _, level := range []float64{1e-5, 1e-3} {
				kept, of := keptOf(full, keep, which, level)
				row += fmt.Sprintf(" %d of %d |", kept, of)
				if level == 1e-5 {
					sure[0], sure[1] = sure[0]+kept, sure[1]+of
				}
			}
		}
		if t.Log(row); share == 0.3 && float64(sure[0]) < 0.95*float64(sure[1]) {
			t.Errorf("a sieve of 0.3 keeps %d of %d sure excesses and directions", sure[0], sure[1])
		}
	}
	wantEvenP(t, full, quick)
}

func excessOf(f *ejecta.Finding) float64    { return f.ExcessP }
func directionOf(f *ejecta.Finding) float64 { return f.AsymmetryP }

// quickPs are the quick looks of a result, in the order of its findings.
func quickPs(s *reports.Survey) []ejecta.QuickP {
	p := make([]ejecta.QuickP, s.Count())
	for i, f := range s.All() {
		if p[i] = ejecta.NoQuickP(); f.Quick != nil {
			p[i] = *f.Quick
		}
	}
	return p
}

// keptOf counts the findings of planted craters below a level, and those that a
// sieve keeps.
func keptOf(s *reports.Survey, keep []bool, p func(*ejecta.Finding) float64, level float64) (kept, of int) {
	for i := range s.Findings {
		f := &s.Findings[i]
		if p(f) < level && isPlanted(s, f) {
			of++
			if keep[f.CraterIndex] {
				kept++
			}
		}
	}
	return kept, of
}

func isPlanted(s *reports.Survey, f *ejecta.Finding) bool {
	return strings.HasPrefix(s.Catalogue.Craters[f.CraterIndex].ID, "P")
}

// wantEvenP wants small p of bare craters no more often than they promise, four
// standard errors aside.
func wantEvenP(t *testing.T, s *reports.Survey, quick []ejecta.QuickP) {
	for _, level := range []float64{0.01, 0.05, 0.2} {
		var small [2]int
		n := 0
		for i, f := range s.All() {
			q := quick[i]
			if isPlanted(s, f) || math.IsNaN(q.Excess) || math.IsNaN(q.Direction) {
				continue
			}
			n++
			for k, p := range []float64{q.Excess, q.Direction} {
				if p < level {
					small[k]++
				}
			}
		}
		t.Logf("p < %g at bare craters: excess %.4f, direction %.4f of %d", level, float64(small[0])/float64(n), float64(small[1])/float64(n), n)
		for k, c := range small {
			if float64(c) > float64(n)*level+4*math.Sqrt(float64(n)*level) {
				t.Errorf("test %d: p < %g %d times of %d", k, level, c, n)
			}
		}
	}
}

func countTrue(list []bool) (n int) {
	for _, yes := range list {
		if yes {
			n++
		}
	}
	return n
}

// TestSieveLetsEnginesGo gives a sieve room for one engine: looks stay the same.
func TestSieveLetsEnginesGo(t *testing.T) {
	s := &sieve{p: &pipeline{sv: defaultSurvey()}, edges: ejecta.SieveEdges(8), engines: map[sieveKey]*sieveEngines{}}
	noise := ejecta.KnownNoise(func(dx, dy float64) float64 { return math.Exp(-math.Hypot(dx, dy)) }, 100)
	for _, side := range []float64{0.3, 0.2, 0.3} {
		if s.enginesOf(sieveKey{class: ejecta.SieveShape{Col: side, Row: side}.Class()}, []*ejecta.Noise{noise})[0] == nil {
			t.Fatal("no engine")
		}
		if len(s.engines) > 0 || s.held != 0 {
			t.Errorf("%d engines and %d bytes are kept without any room", len(s.engines), s.held)
		}
	}
	if s.made != 3 {
		t.Errorf("%d engines were made", s.made)
	}
}

// TestSmallShareIsTold wants a word when a crater that was left out looks as sure as
// one that passes, and none when none does.
func TestSmallShareIsTold(t *testing.T) {
	for _, c := range []struct {
		quick float64
		told  int
	}{{1e-6, 1}, {0.2, 0}} {
		p := &pipeline{sv: defaultSurvey(), prog: &silentProgress{newMessages(io.Discard)}, findings: make([]ejecta.Finding, 2)}
		p.findings[0] = ejecta.Finding{Status: ejecta.StatusOK, ExcessP: 1e-4, ExcessQ: 0.01}
		ejecta.BlankNumbers(&p.findings[1])
		p.findings[1].Status, p.findings[1].Quick = ejecta.StatusSieved, &ejecta.QuickP{Excess: c.quick, Direction: 1}
		if p.warnShare(); len(p.notes) != c.told {
			t.Errorf("quick p %g: %q", c.quick, p.notes)
		}
	}
}
