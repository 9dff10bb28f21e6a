package testblanket

import (
	"math"
	"slices"
	"testing"

	"rimcast/geom"
)

// quiet is a small survey without noise.
func quiet(craters ...Planted) Scenario {
	return Scenario{
		Body: BodyRecipe{RadiusKm: 500}, Grid: GridRecipe{Width: 360},
		Species: []Layer{{Name: "water", Background: 100}},
		Craters: craters,
	}
}

// At every pixel away from the rim the map must hold the excess at the true
// range and azimuth on the sphere, near the pole and across 180 degrees too.
func TestPaintedPlacesAreTrue(t *testing.T) {
	for _, at := range []geom.LonLat{{Lon: 20, Lat: 10}, {Lon: 179.7, Lat: -35}, {Lon: -180, Lat: 0}, {Lon: 75, Lat: 88.5}, {Lon: 0, Lat: -90}} {
		b := Blanket{Species: "water", Pattern: "one-sided", Amplitude: 50, Axis: 110, Kappa: 2}
		s := quiet(Planted{ID: "c", Lon: at.Lon, Lat: at.Lat, Pixels: 4, Blankets: []Blanket{b}})
		v, err := s.Build(1)
		if err != nil {
			t.Fatal(err)
		}
		frame, shape := geom.NewFrame(v.Body, at), b.Shape()
		checked := 0
		for i, got := range v.Species[0].Values {
			p := v.Grid.LonLat(float64(i%360)+0.5, float64(i/360)+0.5)
			r, az := frame.Polar(p)
			rho := r / v.Craters[0].Radius
			if rho < 5 || rho > 9 {
				continue
			}
			checked++
			if want := 100 + shape.At(rho, az); math.Abs(float64(got)-want) > 0.03 {
				t.Fatalf("centre %v, place %v (rho %.2f, azimuth %.0f): %g, want %g", at, p, rho, az*180/math.Pi, got, want)
			}
		}
		if checked < 500 {
			t.Errorf("centre %v: only %d pixels in the rings", at, checked)
		}
	}
}

func TestDemoIsWhatItSays(t *testing.T) {
	s := Demo()
	v, err := s.Build(7)
	if err != nil {
		t.Fatal(err)
	}
	if len(v.Craters) != 150 || len(v.Species) != 2 || len(v.Truth) != 300 {
		t.Fatalf("%v; %d truths", v, len(v.Truth))
	}
	want := map[string]int{"symmetric": 11, "one-sided": 2, "bilateral": 2, "rays": 2, "gap": 2}
	got := map[string]int{}
	faked := 0
	for _, tr := range v.Truth {
		got[tr.Pattern]++
		if tr.Faked {
			faked++
		}
	}
	for p, n := range want {
		if got[p] != n {
			t.Errorf("%d truths are %s, want %d", got[p], p, n)
		}
	}
	if faked != 2 {
		t.Errorf("%d faked truths, want both species of one crater", faked)
	}
	for i, c := range v.Craters {
		px := c.Radius / v.pixel()
		if c.Index != i || px < 2.999 || px > 25.001 || !c.Centre.Valid() {
			t.Errorf("crater %+v of %.1f pixels", c, px)
		}
	}
	checkNeighbours(t, v, len(s.Craters), s.Old.Neighbours)
}

func checkNeighbours(t *testing.T, v *Survey, planted, want int) {
	t.Helper()
	near := 0
	for i, old := range v.Craters[planted:] {
		for j, c := range v.Craters[:planted+i] {
			d, _ := v.Body.Inverse(c.Centre, old.Centre)
			if d < 1.19*(c.Radius+old.Radius) {
				t.Errorf("%s stands on %s", old.ID, c.ID)
			}
			if j < planted && d < 4*c.Radius+old.Radius {
				near++
			}
		}
	}
	if near < want {
		t.Errorf("%d old craters near planted ones, want %d", near, want)
	}
}

func TestBuildIsReproducible(t *testing.T) {
	s := quiet(Planted{ID: "c", Pixels: 3, Blankets: []Blanket{{Species: "water", Pattern: "symmetric", Amplitude: 1}}})
	s.Species[0].Sigma, s.Species[0].Noise = 2, Noise{Length: 2, Gaps: 0.1}
	s.Old = Old{Count: 10, MaxPixels: 5}
	a, _ := s.Build(5)
	b, _ := s.Build(5)
	s.Covariates = []Covariate{{Name: "albedo", Sigma: 1}}
	c, _ := s.Build(5)
	d, err := s.Build(6)
	if err != nil {
		t.Fatal(err)
	}
	bits := func(x *Survey) []uint32 {
		var out []uint32
		for _, v := range x.Species[0].Values {
			out = append(out, math.Float32bits(v))
		}
		return out
	}
	if !slices.Equal(bits(a), bits(b)) || !slices.Equal(bits(a), bits(c)) {
		t.Error("the same seed gave another water map, or another layer changed it")
	}
	if slices.Equal(bits(c), bits(d)) || c.Craters[1].Centre == d.Craters[1].Centre {
		t.Error("another seed gave the same survey")
	}
}

func TestCouplingFollowsTheCovariate(t *testing.T) {
	s := quiet(Planted{ID: "c", Lat: 20, Pixels: 6, Blankets: []Blanket{{Species: "heat", Pattern: "symmetric", Amplitude: -40}}})
	s.Species[0].Coupling = -0.5
	s.Covariates = []Covariate{{Name: "heat", Base: 100, Sunlit: 200, EveryNoon: true}}
	v, err := s.Build(1)
	if err != nil {
		t.Fatal(err)
	}
	heat, water := v.Covariates[0].Values, v.Species[0].Values
	for i := 1; i < len(heat); i += 97 {
		if d := float64(water[i]-water[0]) + 0.5*float64(heat[i]-heat[0]); math.Abs(d) > 1e-3 {
			t.Fatalf("pixel %d is off its line by %g", i, d)
		}
	}
	if tr := v.Truth[0]; !tr.Faked || tr.Pattern != "none" {
		t.Errorf("truth %+v", tr)
	}
}

func TestScenariosAreChecked(t *testing.T) {
	ok := func() Scenario { return quiet(Planted{ID: "a", Pixels: 3}) }
	if _, err := ok().Build(1); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*Scenario){
		"no species":      func(s *Scenario) { s.Species = nil },
		"same id":         func(s *Scenario) { s.Craters = append(s.Craters, s.Craters[0]) },
		"no radius":       func(s *Scenario) { s.Craters[0].Pixels = 0 },
		"unknown species": func(s *Scenario) { s.Craters[0].Blankets = []Blanket{{Species: "ice", Pattern: "symmetric"}} },
		"bad pattern":     func(s *Scenario) { s.Craters[0].Blankets = []Blanket{{Species: "water", Pattern: "odd"}} },
		"too wide":        func(s *Scenario) { s.Grid.Step = 2 },
		"too tall":        func(s *Scenario) { s.Grid.Height = 400 },
		"bad noise":       func(s *Scenario) { s.Species[0].Noise.Gaps = 2 },
		"twice":           func(s *Scenario) { s.Species = append(s.Species, s.Species[0]) },
		"no room":         func(s *Scenario) { s.Old = Old{Count: 4000, MinPixels: 20} },
		"neighbours":      func(s *Scenario) { s.Old = Old{Count: 1, Neighbours: 2} },
		"body":            func(s *Scenario) { s.Body.RadiusKm = -1 },
	} {
		s := ok()
		spoil(&s)
		if _, err := s.Build(1); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}
