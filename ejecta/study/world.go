package study

import (
	"math"
	"math/rand/v2"
	"runtime"
	"sync"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// mapSide is the side of a noise map, outerRange the reach of the tests.
const (
	mapSide    = 1024
	windowSide = 256
	outerRange = 8.0
)

// frame is the pixels round a crater with a given place of its centre inside
// a pixel, on a flat grid, north up.
type frame struct {
	radius, cx, cy float64
	half           int
	samples        *ejecta.Samples
}

func newFrame(radius, cx, cy float64) *frame {
	f := &frame{radius: radius, cx: cx, cy: cy, half: int(outerRange*radius) + 2}
	s := &ejecta.Samples{PixelsPerRadius: radius, ColRho: 1 / radius, RowRho: 1 / radius}
	for y := -f.half; y <= f.half; y++ {
		for x := -f.half; x <= f.half; x++ {
			dx, dy := float64(x)-cx, float64(y)-cy
			rho := math.Hypot(dx, dy) / radius
			if rho > outerRange {
				continue
			}
			az := math.Atan2(dx, -dy)
			if az < 0 {
				az += 2 * math.Pi
			}
			s.X, s.Y = append(s.X, int32(x)), append(s.Y, int32(y))
			s.Rho, s.Az, s.Area = append(s.Rho, rho), append(s.Az, az), append(s.Area, 1)
		}
	}
	f.samples = s
	return f
}

// paint returns the pixel means of a blanket.
func (f *frame) paint(b testblanket.Blanket) []float32 {
	n := 2*f.half + 1
	field := &testblanket.Field{Width: n, Height: n, Values: make([]float64, n*n)}
	field.Paint(b.Shape(), float64(f.half)+0.5+f.cx, float64(f.half)+0.5+f.cy, f.radius)
	out := make([]float32, f.samples.Len())
	for i := range out {
		out[i] = float32(field.Values[(int(f.samples.Y[i])+f.half)*n+int(f.samples.X[i])+f.half])
	}
	return out
}

// site is one crater-free position of a map.
type site struct {
	m, frame int // map and frame number
	x, y     int
	evidence *ejecta.Evidence
	scale    float64
}

// world is one noise type at one crater size: its maps, the noise measured on
// each, and crater-free positions.
type world struct {
	name   string
	recipe testblanket.Noise
	radius float64
	seed   uint64
	frames []*frame
	maps   []*testblanket.Field
	noise  []*ejecta.Noise
	truth  *ejecta.Noise
	sites  []site
	clean  map[bool][]bool // lobes found without impostor and remedy, by whether the strips are fixed

	centreError bool // power is measured with the default centre error too
}

// newWorld draws maps and measures sites of them. The same arguments give the
// same world.
func newWorld(name string, radius float64, maps, perMap int, seed uint64) (*world, error) {
	recipe, err := testblanket.NoiseByName(name)
	if err != nil {
		return nil, err
	}
	w := &world{name: name, recipe: recipe, radius: radius, seed: seed}
	for _, c := range [][2]float64{{0.13, -0.37}, {0.42, 0.08}, {-0.29, 0.21}} {
		w.frames = append(w.frames, newFrame(radius, c[0], c[1]))
	}
	lag := min(int(2*outerRange*radius)+8, windowSide-1)
	w.truth = ejecta.KnownNoise(recipe.Covariance, lag)
	rng := rand.New(rand.NewPCG(seed, 1))
	g := testblanket.NewGenerator(recipe, mapSide, mapSide, true, true)
	for range maps {
		w.maps = append(w.maps, g.Draw(rng))
	}
	w.noise = make([]*ejecta.Noise, maps)
	for i, f := range w.maps {
		if w.noise[i], err = surveyNoise(f, lag); err != nil {
			return nil, err
		}
	}
	w.chooseSites(perMap, rng)
	each(len(w.sites), func(i int) {
		s := &w.sites[i]
		s.evidence = w.collect(s, w.noise[s.m], nil, 0)
	})
	w.setScales()
	return w, nil
}

func surveyNoise(f *testblanket.Field, lag int) (*ejecta.Noise, error) {
	s := ejecta.NewNoiseSurvey(windowSide, lag)
	const n = mapSide / windowSide
	each(n*n, func(k int) {
		x0, y0 := k%n*windowSide, k/n*windowSide
		v := make([]float64, windowSide*windowSide)
		for y := range windowSide {
			copy(v[y*windowSide:(y+1)*windowSide], f.Values[(y0+y)*mapSide+x0:])
		}
		s.Add(s.Window(v, float64(x0+windowSide/2), float64(y0+windowSide/2)))
	})
	return s.Finish()
}

// chooseSites spreads positions six radii apart, in random order. A map with a
// gradient is no torus: there they keep their reach from its edges.
func (w *world) chooseSites(perMap int, rng *rand.Rand) {
	step := int(6 * w.radius)
	n := mapSide / step
	for m := range w.maps {
		k := 0
		for _, cell := range rng.Perm(n * n) {
			s := site{m: m, frame: k % len(w.frames), x: cell % n * step, y: cell / n * step}
			if k == perMap || w.recipe.Gradient != 0 && w.nearEdge(s) {
				continue
			}
			w.sites = append(w.sites, s)
			k++
		}
	}
}

func (w *world) nearEdge(s site) bool {
	half := w.frames[s.frame].half
	return min(s.x, s.y) < half || max(s.x, s.y) >= mapSide-half
}

// collect reduces a site under a noise model, with a blanket's pixel values
// times a added when there are any.
func (w *world) collect(s *site, noise *ejecta.Noise, blanket []float32, a float64) *ejecta.Evidence {
	return w.reduce(s, noise, w.values(s, blanket, a))
}

func (w *world) reduce(s *site, noise *ejecta.Noise, values []float32) *ejecta.Evidence {
	return ejecta.Collect(ejecta.Site{
		Samples: w.frames[s.frame].samples, Values: values, Noise: noise,
		Variance: noise.Variance(float64(s.x), float64(s.y)),
	}, ejecta.Settings{Outer: outerRange})
}

// values reads the map round a site; the map is a torus.
func (w *world) values(s *site, blanket []float32, a float64) []float32 {
	f, p := w.maps[s.m], w.frames[s.frame].samples
	out := make([]float32, p.Len())
	for i := range out {
		x, y := (s.x+int(p.X[i])+mapSide)%mapSide, (s.y+int(p.Y[i])+mapSide)%mapSide
		out[i] = float32(f.Values[y*mapSide+x])
		if blanket != nil {
			out[i] += float32(a) * blanket[i]
		}
	}
	return out
}

// setScales gives each site the null scale of its map, from the sites of the
// other half so that none judges itself:
//
//	lambda = mean chi-square of the harmonics to order 6 over 12
//
// shrunk towards 1 by 30 pseudo-positions.
func (w *world) setScales() {
	type key struct{ m, half int }
	sum, count := map[key]float64{}, map[key]float64{}
	for i := range w.sites {
		s := &w.sites[i]
		if d := s.evidence.Directions(1); d != nil {
			k := key{s.m, i % 2}
			sum[k] += chiSquare(d, 6) / 12
			count[k]++
		}
	}
	for i := range w.sites {
		k := key{w.sites[i].m, 1 - i%2}
		w.sites[i].scale = (sum[k] + 30) / (count[k] + 30)
	}
}

// gaps reports whether every site has its own mask.
func (w *world) gaps() bool { return w.recipe.Gaps > 0 }

// each runs fn for 0..n-1 on all processors; fn must write to its own index
// only.
func each(n int, fn func(i int)) {
	var wg sync.WaitGroup
	var mu sync.Mutex
	next := 0
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for {
				mu.Lock()
				i := next
				next++
				mu.Unlock()
				if i >= n {
					return
				}
				fn(i)
			}
		})
	}
	wg.Wait()
}
