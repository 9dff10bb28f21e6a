package study

import (
	"math"
	"testing"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
	"rimcast/geom"
)

// sphereSite is the pixels of a survey round a crater, true ranges on the
// sphere, and their places in the map.
func sphereSite(v *testblanket.Survey, c geom.Crater) (*ejecta.Samples, []int) {
	g := v.Grid
	frame := geom.NewFrame(v.Body, c.Centre)
	side := v.Body.SemiMajor * g.Step * math.Pi / 180
	cos := math.Cos(c.Centre.Lat * math.Pi / 180)
	s := &ejecta.Samples{PixelsPerRadius: c.Radius / side, ColRho: side * cos / c.Radius, RowRho: side / c.Radius}
	cx, cy := int((c.Centre.Lon-g.West)/g.Step), int((g.North-c.Centre.Lat)/g.Step)
	reach := int(outerRange*s.PixelsPerRadius) + 2
	var place []int
	for y := max(0, cy-reach); y <= min(g.Height-1, cy+reach); y++ {
		p := frame.Parallel(g.LonLat(0, float64(y)+0.5).Lat)
		area := math.Cos(g.LonLat(0, float64(y)+0.5).Lat * math.Pi / 180)
		for dx := -g.Width / 2; dx < g.Width/2; dx++ {
			x := (cx + dx + g.Width) % g.Width
			r, az := frame.Grid(p, frame.Meridian(g.LonLat(float64(x)+0.5, 0).Lon))
			if r > outerRange*c.Radius {
				continue
			}
			s.X, s.Y = append(s.X, int32(dx)), append(s.Y, int32(y-cy))
			s.Rho, s.Az, s.Area = append(s.Rho, r/c.Radius), append(s.Az, az), append(s.Area, area)
			place = append(place, y*g.Width+x)
		}
	}
	return s, place
}

// mapNoise surveys a quarter of the map; its few craters hardly count.
func mapNoise(t *testing.T, g testblanket.Grid, values []float32) *ejecta.Noise {
	t.Helper()
	const side = 128
	s := ejecta.NewNoiseSurvey(side, side-1)
	for y := 0; y+side <= g.Height; y += 2 * side {
		for x := 0; x+side <= g.Width; x += 2 * side {
			w := make([]float64, side*side)
			for i := range w {
				w[i] = float64(values[(y+i/side)*g.Width+x+i%side])
			}
			s.Add(s.Window(w, float64(x+side/2), float64(y+side/2)))
		}
	}
	n, err := s.Finish()
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// What the demonstration survey plants round its small craters, symmetric and
// along an axis in one species and nothing in the other, must be found there.
func TestDemoTruthIsFound(t *testing.T) {
	v, err := testblanket.Demo().Build(1)
	if err != nil {
		t.Fatal(err)
	}
	truths := map[string]testblanket.Truth{}
	for _, tr := range v.Truth {
		truths[tr.CraterID+tr.Species] = tr
	}
	for _, m := range v.Species {
		noise := mapNoise(t, v.Grid, m.Values)
		for _, c := range v.Craters[:12] {
			s, place := sphereSite(v, c)
			if s.PixelsPerRadius > 9.1 || math.Abs(c.Centre.Lat) > 60 {
				continue // the windows are too small for the large ones
			}
			values := make([]float32, len(place))
			for i, k := range place {
				values[i] = m.Values[k]
			}
			e := ejecta.Collect(ejecta.Site{Samples: s, Values: values, Noise: noise, Variance: noise.Variance(0, 0)}, ejecta.Settings{})
			checkTruth(t, c, truths[c.ID+m.Name], e.Measure(ejecta.Settings{}, 1, 1).Finding)
		}
	}
}

func checkTruth(t *testing.T, c geom.Crater, tr testblanket.Truth, f ejecta.Finding) {
	t.Helper()
	t.Logf("%s %s: planted %s A %.0f axis %.0f; found %s A %.0f +- %.0f, p %.1g, axis %.0f, %s %s",
		c.Name, tr.Species, tr.Pattern, tr.Amplitude, tr.Axis, f.Pattern, f.RimExcess, f.RimExcessSE, f.AsymmetryP, f.Axis, f.Status, f.Note)
	if !f.Status.Measured() {
		t.Errorf("%s %s: %s", c.Name, tr.Species, f.Note)
		return
	}
	if f.Status == ejecta.StatusOK && string(f.Pattern) != tr.Pattern {
		t.Errorf("%s %s: planted %s, found %s (runner-up %s)", c.Name, tr.Species, tr.Pattern, f.Pattern, f.RunnerUp)
	}
	if tr.Amplitude > 0 && math.Abs(f.RimExcess-tr.Amplitude) > 4*f.RimExcessSE+0.1*tr.Amplitude {
		t.Errorf("%s %s: planted %g, found %.0f +- %.0f", c.Name, tr.Species, tr.Amplitude, f.RimExcess, f.RimExcessSE)
	}
	period := map[string]float64{"one-sided": 360, "bilateral": 180, "gap": 360}[tr.Pattern]
	if period > 0 && math.Abs(math.Remainder(f.Axis-tr.Axis, period)) > 15 {
		t.Errorf("%s %s: planted towards %g, found %.0f", c.Name, tr.Species, tr.Axis, f.Axis)
	}
}
