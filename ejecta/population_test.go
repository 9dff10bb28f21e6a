package ejecta

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"
)

func member(radius, lat, z, local float64) Member {
	f := scored(z, 10, 0.01)
	f.Excess, f.LocalFDR = z*10, local
	return Member{Radius: radius, Latitude: lat, Age: math.NaN(), Freshness: math.NaN(), Finding: f}
}

// The textbook pairs of intelligence and hours of television: rho -29/165, p
// 0.627188 by Student's t (from memory).
func TestRankCorrelation(t *testing.T) {
	x := []float64{106, 86, 100, 101, 99, 103, 97, 113, 112, 110}
	y := []float64{7, 0, 27, 50, 28, 29, 20, 12, 6, 17}
	rho, p := RankCorrelation(x, y)
	if math.Abs(rho+29.0/165) > 1e-12 || math.Abs(p-0.627188) > 1e-6 {
		t.Errorf("rho %g, p %g", rho, p)
	}
	if rho, p := RankCorrelation(x, x); rho != 1 || !(p < 1e-12) {
		t.Errorf("with itself: %g, %g", rho, p)
	}
	if rho, _ := RankCorrelation([]float64{1, 1, 1, 1, 1}, y[:5]); !math.IsNaN(rho) {
		t.Errorf("no spread: %g", rho)
	}
}

// p of unrelated amounts with ties is uniform: one in twenty lies below 0.05.
func TestRankCorrelationSize(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 8))
	low, trials := 0, 4000
	for range trials {
		x, y := make([]float64, 25), make([]float64, 25)
		for i := range x {
			x[i], y[i] = float64(rng.IntN(12)), rng.NormFloat64()
		}
		if _, p := RankCorrelation(x, y); p < 0.05 {
			low++
		}
	}
	if low < trials*38/1000 || low > trials*62/1000 {
		t.Errorf("%d of %d below 0.05", low, trials)
	}
}

// Groups hold every member with a value once, in order, equal values together.
func TestPopulationIsAPartition(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, 90).Draw(t, "n")
		var all []Member
		known := 0
		for range n {
			m := member(rapid.Float64Range(1, 9).Draw(t, "radius"), 0, 1, 0.5)
			if rapid.Bool().Draw(t, "aged") {
				m.Age = float64(rapid.IntRange(0, 6).Draw(t, "age"))
				known++
			}
			all = append(all, m)
		}
		counts, last := map[string]int{}, map[string]float64{}
		for _, g := range Population(all) {
			if at, ok := last[g.Property]; ok && !(g.Lo > at) {
				t.Fatalf("%s: a group begins at %g, the one before ends at %g", g.Property, g.Lo, at)
			}
			counts[g.Property], last[g.Property] = counts[g.Property]+g.N, g.Hi
			if !(g.Lo <= g.Middle && g.Middle <= g.Hi) || g.N == 0 {
				t.Fatalf("%+v", g)
			}
		}
		if c, ok := counts["size"]; ok && c != n || !ok && n >= 10 {
			t.Fatalf("sizes: %d of %d", c, n)
		}
		if c, ok := counts["age"]; ok && c != known {
			t.Fatalf("ages: %d of %d", c, known)
		}
	})
}

// What is planted comes out: deep craters are rich, poles are not different.
func TestPopulationFindsTheDeepOnes(t *testing.T) {
	rng := rand.New(rand.NewPCG(4, 4))
	var all []Member
	for i := range 200 {
		z, local, class := rng.NormFloat64(), 1.0, "old"
		if i >= 120 {
			z, local, class = 6+rng.NormFloat64(), 0, "young"
		}
		m := member(1000*float64(1+i), 180*rng.Float64()-90, z, local)
		m.Class = class
		all = append(all, m)
	}
	all = append(all, Member{Radius: 5e9, Finding: &Finding{Status: StatusNotCovered, Excess: math.NaN()}})
	by := map[string][]PopulationGroup{}
	for _, g := range Population(all) {
		by[g.Property] = append(by[g.Property], g)
	}
	depth, lat, class := by["excavation_depth"], by["latitude"], by["class"]
	if len(depth) != 5 || depth[0].Rich != 0 || depth[4].Rich != 40 || depth[4].RichLo < 0.9 || depth[0].RankCorrP > 1e-9 || depth[4].Claimed != 40 {
		t.Errorf("depth: %+v", depth)
	}
	if math.Abs(depth[4].Hi-0.168*200e3) > 1e-6 {
		t.Errorf("deepest %g m", depth[4].Hi)
	}
	if len(lat) != 5 || lat[0].RankCorrP < 0.001 {
		t.Errorf("latitude: %+v", lat)
	}
	if len(class) != 2 || class[0].Class != "old" || class[0].N != 120 || math.Abs(class[1].MeanExcess-60) > 5 || class[1].MeanExcessSE > 2 {
		t.Errorf("class: %+v", class)
	}
	if len(by["age"])+len(by["freshness"]) > 0 {
		t.Error("groups of what the catalogue does not give")
	}
}
