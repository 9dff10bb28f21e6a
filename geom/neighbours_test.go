package geom_test

import (
	"cmp"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	gocmp "github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rimcast/geom"
)

// scatter invents craters all over a body, N(>R) ~ R^-2 from rMin upward.
func scatter(b geom.Body, n int, rMin float64, seed uint64) []geom.Crater {
	rng := rand.New(rand.NewPCG(seed, 7))
	c := make([]geom.Crater, n)
	for i := range c {
		c[i] = geom.Crater{Index: i, Centre: geom.LonLat{Lon: 360*rng.Float64() - 180, Lat: math.Asin(2*rng.Float64()-1) / deg}}
		c[i].Radius = min(rMin/math.Sqrt(1-rng.Float64()), b.SemiMajor/3)
	}
	return c
}

func bruteForce(b geom.Body, c []geom.Crater, at geom.LonLat, reach func(*geom.Crater) float64) []geom.Neighbour {
	var out []geom.Neighbour
	for i := range c {
		if d, az := b.Inverse(at, c[i].Centre); d <= reach(&c[i]) {
			out = append(out, geom.Neighbour{Index: i, Distance: d, Azimuth: az})
		}
	}
	slices.SortFunc(out, func(x, y geom.Neighbour) int {
		return cmp.Or(cmp.Compare(x.Distance, y.Distance), cmp.Compare(x.Index, y.Index))
	})
	return out
}

// TestNeighboursAgainstAll compares every query with a look at all craters.
func TestNeighboursAgainstAll(t *testing.T) {
	for _, b := range testBodies {
		c := scatter(b, 1500, 2000, 3)
		c[7].Centre, c[8].Centre = geom.LonLat{Lon: 180, Lat: 10}, geom.LonLat{Lon: -180, Lat: 10}
		c[9].Centre, c[10].Centre = geom.LonLat{Lat: 90}, geom.LonLat{Lon: 50, Lat: 90}
		c[11].SemiMajor, c[11].SemiMinor = 3*c[11].Radius, c[11].Radius/3
		for i := 20; i < 60; i++ { // a heap in one place
			c[i].Centre = c[20].Centre
		}
		n := geom.NewNeighbours(b, c)
		t.Run(b.Name, rapid.MakeCheck(func(t *rapid.T) {
			at := places(t, "at")
			if rapid.Bool().Draw(t, "at a crater") {
				at = c[rapid.IntRange(0, 60).Draw(t, "crater")].Centre
			}
			dist := math.Pow(10, rapid.Float64Range(1, 6.7).Draw(t, "log10 distance"))
			k := rapid.SampledFrom([]float64{0, 1, 2.5, 6}).Draw(t, "k")
			compare := func(what string, got, want []geom.Neighbour) {
				if d := gocmp.Diff(want, got); d != "" && len(want)+len(got) > 0 {
					t.Fatalf("%s: %s", what, d)
				}
			}
			compare("near", n.Near(at, dist, nil), bruteForce(b, c, at, func(*geom.Crater) float64 { return dist }))
			compare("reaching", n.Reaching(at, dist, k, nil), bruteForce(b, c, at, func(c *geom.Crater) float64 { return dist + k*c.Extent() }))
			largest := dist / 3
			small := func(x geom.Neighbour) bool { return c[x.Index].Radius <= largest }
			if got, want := n.Free(at, dist, k, largest), !slices.ContainsFunc(n.Reaching(at, dist, k, nil), small); got != want {
				t.Fatalf("free: %t, want %t", got, want)
			}
			all := bruteForce(b, c, at, func(*geom.Crater) float64 { return math.Inf(1) })
			count := rapid.IntRange(0, 50).Draw(t, "count")
			compare("nearest", n.Nearest(at, count, nil), all[:count])
		}))
	}
}

func TestWithin(t *testing.T) {
	moon := testBodies[0]
	km := func(lon, r float64) geom.Crater { return geom.Crater{Centre: geom.LonLat{Lon: lon}, Radius: r * 1000} }
	// One degree is 30.3 km.
	c := []geom.Crater{km(0, 10), km(1, 5), km(2, 5), km(5, 50), km(0, 10)}
	n := geom.NewNeighbours(moon, c)
	for _, q := range []struct {
		radius, k float64
		want      []int
	}{
		{20e3, 1, []int{4}},
		{26e3, 1, []int{4, 1}},
		{20e3, 2.5, []int{4, 1}},
		{60e3, 1, []int{4, 1, 2}},
		{60e3, 2, []int{4, 1, 2, 3}},
	} {
		var got []int
		for _, x := range n.Within(0, q.radius, q.k, nil) {
			got = append(got, x.Index)
		}
		if !slices.Equal(got, q.want) {
			t.Errorf("within %g m, k %g: %v, want %v", q.radius, q.k, got, q.want)
		}
	}
	if got := n.Within(0, 20e3, 1, make([]geom.Neighbour, 2, 8)); len(got) != 3 {
		t.Errorf("dst is not appended to: %d entries", len(got))
	}
}

func TestNeighboursEmpty(t *testing.T) {
	n := geom.NewNeighbours(testBodies[0], nil)
	if got := n.Near(geom.LonLat{}, 1e9, nil); got != nil {
		t.Errorf("%v", got)
	}
	if got := n.Nearest(geom.LonLat{}, 3, nil); got != nil {
		t.Errorf("%v", got)
	}
}

func ExampleNeighbours_Reaching() {
	moon, _ := geom.BodyByName("Moon")
	n := geom.NewNeighbours(moon, []geom.Crater{
		{ID: "far but large", Centre: geom.LonLat{Lon: 8}, Radius: 90e3},
		{ID: "near and small", Centre: geom.LonLat{Lon: 2}, Radius: 5e3},
	})
	for _, x := range n.Reaching(geom.LonLat{Lon: 0}, 60e3, 2.5, nil) {
		fmt.Println(x.Index, int(x.Distance/1000), "km")
	}
	// Output:
	// 1 60 km
	// 0 242 km
}

func BenchmarkNeighbours(b *testing.B) {
	moon := testBodies[0]
	for _, size := range []int{1e3, 1e5} {
		c := scatter(moon, size, 500, 5)
		b.Run(fmt.Sprintf("build/%d", size), func(b *testing.B) {
			for b.Loop() {
				geom.NewNeighbours(moon, c)
			}
		})
		n := geom.NewNeighbours(moon, c)
		var dst []geom.Neighbour
		b.Run(fmt.Sprintf("within 8 R/%d", size), func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i = (i + 1) % size {
				dst = n.Within(i, 8*c[i].Radius, 2.5, dst[:0])
			}
		})
		b.Run(fmt.Sprintf("nearest 3/%d", size), func(b *testing.B) {
			b.ReportAllocs()
			for i := 0; b.Loop(); i = (i + 1) % size {
				dst = n.Nearest(c[i].Centre, 3, dst[:0])
			}
		})
	}
}
