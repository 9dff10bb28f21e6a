package testblanket

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"sync"

	"rimcast/geom"
)

// Survey is an invented survey with its truth.
type Survey struct {
	Title      string
	Body       geom.Body
	Grid       Grid
	Species    []Map
	Covariates []Map
	Craters    []geom.Crater
	Truth      []Truth
	Young      float64 // age below which a crater is compared with the others; 0 is not asked
}

// Grid is an equirectangular grid of square pixels in degrees, north up; West
// and North are the outer edges of the first pixel.
type Grid struct {
	Width, Height int
	West, North   float64
	Step          float64
	Wraps         bool // the columns go round the body
}

// LonLat returns the place at continuous pixel coordinates, pixel centres at
// +0.5.
func (g Grid) LonLat(x, y float64) geom.LonLat {
	return geom.LonLat{Lon: g.West + x*g.Step, Lat: g.North - y*g.Step}
}

// Map is one layer of a survey, row-major, NaN where there is no data.
type Map struct {
	Name, Kind, Unit, Epoch string
	LocalTime               float64 // hours above 0; 0 when not told
	Values                  []float32
}

// Truth is what was planted at one crater in one species. A crater without a
// blanket has one line per species with pattern "none".
type Truth struct {
	CraterID  string    `json:"crater_id"`
	Species   string    `json:"species"`
	Pattern   string    `json:"pattern"`
	Amplitude float64   `json:"amplitude"`
	Decay     float64   `json:"decay"`
	Axis      float64   `json:"axis_deg"`
	Share     float64   `json:"share"`
	Rays      []float64 `json:"rays_deg,omitempty"`
	GapWidth  float64   `json:"gap_deg,omitempty"`
	Faked     bool      `json:"faked"` // through a covariate: to be alarmed, not believed
	Note      string    `json:"note,omitempty"`
	ByEpoch   []string  `json:"by_epoch,omitempty"` // what is there at each epoch, when it is not the same at all
}

// stream returns the random stream of one part of a scenario, so that adding a
// part leaves the others as they were.
func stream(seed uint64, part string) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(part))
	return rand.New(rand.NewPCG(seed, h.Sum64()))
}

// Build makes the survey. The same scenario and seed give the same values.
func (s Scenario) Build(seed uint64) (*Survey, error) {
	if err := s.Valid(); err != nil {
		return nil, err
	}
	s = s.withDefaults()
	g := s.Grid
	v := &Survey{
		Title: s.Title, Young: s.Young,
		Body: geom.Sphere(s.Body.Name, s.Body.RadiusKm*1000),
		Grid: Grid{g.Width, g.Height, g.West, g.North, g.Step, math.Abs(g.Step*float64(g.Width)-360) < 1e-6},
	}
	v.Craters = s.plantedCraters(v)
	old, err := s.oldCraters(v, stream(seed, "old"))
	if err != nil {
		return nil, err
	}
	v.Craters = append(v.Craters, old...)
	fields := s.fields(v, seed)
	covariates := fields[:len(s.Covariates)]
	for i, c := range s.Covariates {
		s.covariate(v, c, covariates[i])
		v.Covariates = append(v.Covariates, Map{Name: c.Name, Kind: c.Kind, Unit: c.Unit, Values: single(covariates[i])})
	}
	for i, l := range s.Species {
		values := fields[len(s.Covariates)+i]
		s.layer(v, l, covariates, values)
		v.Species = append(v.Species, Map{l.Name, "species", l.Unit, l.Epoch, l.LocalTime, single(values)})
	}
	v.Truth = s.truth(v)
	return v, nil
}

// fields draws the noise of every map, covariates first, each from its own
// stream.
func (s Scenario) fields(v *Survey, seed uint64) [][]float64 {
	var recipes []Noise
	var parts []string
	for _, c := range s.Covariates {
		recipes, parts = append(recipes, c.Noise), append(parts, "covariate/"+c.Name)
	}
	for _, l := range s.Species {
		recipes, parts = append(recipes, l.Noise), append(parts, "species/"+l.Name+"/"+l.Epoch)
	}
	out := make([][]float64, len(recipes))
	var wg sync.WaitGroup
	for i, n := range recipes {
		wg.Go(func() {
			g := NewGenerator(n, v.Grid.Width, v.Grid.Height, v.Grid.Wraps, false)
			out[i] = g.Draw(stream(seed, parts[i])).Values
		})
	}
	wg.Wait()
	s.share(v, seed, out[len(s.Covariates):])
	return out
}

func single(x []float64) []float32 {
	out := make([]float32, len(x))
	for i, v := range x {
		out[i] = float32(v)
	}
	return out
}

// pixel is the side of an equatorial pixel in metres.
func (v *Survey) pixel() float64 { return v.Body.SemiMajor * v.Grid.Step * math.Pi / 180 }

func (s Scenario) plantedCraters(v *Survey) []geom.Crater {
	out := make([]geom.Crater, len(s.Craters))
	for i, p := range s.Craters {
		out[i] = geom.Crater{
			Index: i, ID: p.ID, Name: p.Name, Centre: geom.LonLat{Lon: geom.WrapLon(p.Lon), Lat: p.Lat},
			Radius: p.Pixels * v.pixel(), Age: orElse(p.Age, math.NaN()), Freshness: math.NaN(),
		}
	}
	return out
}

// covariate makes one covariate map of its noise: sunlight, the ground's own
// variety, and what is planted on it.
func (s Scenario) covariate(v *Survey, c Covariate, out []float64) {
	g := v.Grid
	for y := range g.Height {
		for x := range g.Width {
			p := g.LonLat(float64(x)+0.5, float64(y)+0.5)
			out[y*g.Width+x] = c.level(p, x) + c.Sigma*out[y*g.Width+x]
		}
	}
	s.paint(v, c.Name, "", out)
}

// layer makes one species map of its noise.
func (s Scenario) layer(v *Survey, l Layer, covariates [][]float64, out []float64) {
	g := v.Grid
	var follows []float64
	mean := 0.0
	if l.Coupling != 0 && len(covariates) > 0 {
		follows = covariates[0]
		mean = meanOf(follows)
	}
	for y := range g.Height {
		lat := g.LonLat(0, float64(y)+0.5).Lat * math.Pi / 180
		base := l.Background + l.PoleRise*math.Sin(lat)*math.Sin(lat)
		for x := range g.Width {
			i := y*g.Width + x
			out[i] = base + l.Sigma*out[i]
			if follows != nil {
				out[i] += l.Coupling * (follows[i] - mean)
			}
		}
	}
	s.paint(v, l.Name, l.Epoch, out)
}

func meanOf(x []float64) float64 {
	sum, n := 0.0, 0
	for _, v := range x {
		if !math.IsNaN(v) {
			sum += v
			n++
		}
	}
	return sum / math.Max(1, float64(n))
}

// paint adds every blanket on the named map.
func (s Scenario) paint(v *Survey, name, epoch string, values []float64) {
	for i, p := range s.Craters {
		for _, b := range p.Blankets {
			if b.Species == name && (b.Epoch == "" || b.Epoch == epoch) {
				v.paint(values, v.Craters[i], b.Shape())
			}
		}
	}
}

// truth lists every crater in every species of the survey, once per name.
func (s Scenario) truth(v *Survey) []Truth {
	var out []Truth
	var names []string
	seen := map[string]bool{}
	for _, l := range s.Species {
		if !seen[l.Name] {
			seen[l.Name] = true
			names = append(names, l.Name)
		}
	}
	for i, c := range v.Craters {
		var planted []Blanket
		note := "old, nothing planted"
		if i < len(s.Craters) {
			planted, note = s.Craters[i].Blankets, s.Craters[i].Note
		}
		for _, name := range names {
			out = append(out, s.truthOf(c.ID, name, planted, note))
		}
	}
	return out
}

func (s Scenario) truthOf(id, species string, planted []Blanket, note string) Truth {
	t := Truth{CraterID: id, Species: species, Pattern: "none", Note: note}
	for _, b := range planted {
		if b.Species != species {
			t.Faked = t.Faked || s.couples(species, b.Species)
			continue
		}
		t.Pattern, t.Amplitude, t.Decay = b.Pattern, b.Amplitude, b.decay()
		t.Rays = b.Rays
		if b.Pattern != "symmetric" {
			t.Share, t.Axis = orElse(b.Share, 1), b.Axis
		}
		if b.Pattern == "gap" {
			t.GapWidth = orElse(b.GapWidth, 100)
		}
	}
	t.ByEpoch = byEpoch(species, planted)
	return t
}

// couples reports whether a species follows the named covariate.
func (s Scenario) couples(species, covariate string) bool {
	if len(s.Covariates) == 0 || s.Covariates[0].Name != covariate {
		return false
	}
	for _, l := range s.Species {
		if l.Name == species && l.Coupling != 0 {
			return true
		}
	}
	return false
}

// String says what the survey holds, for a log line.
func (v *Survey) String() string {
	return fmt.Sprintf("%s: %d species, %d covariates of %d x %d pixels, %d craters",
		v.Title, len(v.Species), len(v.Covariates), v.Grid.Width, v.Grid.Height, len(v.Craters))
}
