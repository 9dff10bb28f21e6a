package geom

import (
	"math"
	"math/rand/v2"
	"testing"
)

// Each finds every crater that Reaching finds, each once, and none that is far.
func TestEachFindsAllThatReach(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for _, body := range []Body{{Name: "sphere", SemiMajor: 1e6}, {Name: "ellipsoid", SemiMajor: 1e6, InverseFlattening: 20}} {
		craters := make([]Crater, 500)
		for i := range craters {
			craters[i] = Crater{Centre: LonLat{360*rng.Float64() - 180, 180*rng.Float64() - 90}, Radius: 1e3 * math.Exp(4*rng.Float64())}
		}
		n, found := NewNeighbours(body, craters), 0
		for range 50 {
			at, radius := LonLat{360*rng.Float64() - 180, 180*rng.Float64() - 90}, 3e5*rng.Float64()
			seen := map[int]int{}
			n.Each(at, radius, 4, func(i int) { seen[i]++ })
			for _, c := range n.Reaching(at, radius, 4, nil) {
				found++
				if seen[c.Index] != 1 {
					t.Fatalf("crater %d comes %d times", c.Index, seen[c.Index])
				}
			}
			for i := range seen {
				if d, _ := body.Inverse(at, craters[i].Centre); d > 1.1*(radius+8*craters[i].Radius) {
					t.Fatalf("crater %d is %g m away", i, d)
				}
			}
		}
		if found == 0 {
			t.Error("nothing was found")
		}
	}
}
