package testblanket

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
)

// Noise is the recipe of a noise field. Lengths are pixels, amplitudes are in
// units of the field's own standard deviation, which is 1 before stripes are
// added. The zero value is white Gaussian noise.
type Noise struct {
	Length     float64 `toml:"length_px"`      // exponential correlation exp(-d/Length); 0 is white
	HeavyTails bool    `toml:"heavy_tails"`    // each pixel times a factor that makes it a t variable of 4 degrees
	Clip       float64 `toml:"clip"`           // pulled in to this many robust sigma; 0 leaves it
	Columns    float64 `toml:"column_stripes"` // independent offset of every column
	Strips     float64 `toml:"strip_steps"`    // independent offset of every strip
	StripWidth int     `toml:"strip_width_px"` // 0 means 25
	Aligned    bool    `toml:"strips_aligned"` // strips begin at the first column, as in a layer of strips
	Gaps       float64 `toml:"gap_share"`      // share missing, 0..1
	GapLength  float64 `toml:"gap_length_px"`  // size of the holes; 0 means 12
	Gradient   float64 `toml:"gradient"`       // rise from edge to edge, along the diagonal
}

const (
	defaultStrip = 25
	defaultGap   = 12.0
	tailDegrees  = 4 // of Student's t
)

// named are the noise types of the study. Stripes are column noise of 0.3 and
// strip steps of 0.5 in white, 0.7 in correlated noise; gaps take 40 %.
var named = []struct {
	name  string
	noise Noise
}{
	{"white", Noise{}},
	{"exp2", Noise{Length: 2}},
	{"exp5", Noise{Length: 5}},
	{"exp15", Noise{Length: 15}},
	{"white-stripe", Noise{Columns: 0.3, Strips: 0.5}},
	{"exp5-stripe", Noise{Length: 5, Columns: 0.3, Strips: 0.7}},
	{"exp2-t4", Noise{Length: 2, HeavyTails: true}},
	{"white-gap", Noise{Gaps: 0.4}},
	{"exp5-gap", Noise{Length: 5, Gaps: 0.4}},
	{"exp5-stripe-gap", Noise{Length: 5, Columns: 0.3, Strips: 0.7, Gaps: 0.4}},
	{"exp5-gradient", Noise{Length: 5, Gradient: 4}},
}

// NoiseNames lists the noise types known by name.
func NoiseNames() []string {
	out := make([]string, len(named))
	for i, n := range named {
		out[i] = n.name
	}
	return out
}

// NoiseByName returns a noise type by its name: "white", "exp2", "exp5",
// "exp15", and with "-stripe", "-gap", "-t4" or "-gradient" as listed by
// [NoiseNames].
func NoiseByName(name string) (Noise, error) {
	for _, n := range named {
		if n.name == name {
			return n.noise, nil
		}
	}
	return Noise{}, fmt.Errorf("noise %q is not known; give one of %s", name, strings.Join(NoiseNames(), ", "))
}

// Valid returns an error that names the first setting out of range.
func (n Noise) Valid() error {
	for _, c := range []struct {
		key   string
		value float64
		max   float64
	}{
		{"length_px", n.Length, 1e4}, {"clip", n.Clip, 1e6}, {"column_stripes", n.Columns, 1e6},
		{"strip_steps", n.Strips, 1e6}, {"gap_share", n.Gaps, 0.95}, {"gap_length_px", n.GapLength, 1e4},
		{"strip_width_px", float64(n.StripWidth), 1e6},
	} {
		if !(c.value >= 0 && c.value <= c.max) {
			return fmt.Errorf("noise: %s = %g; give a number from 0 to %g", c.key, c.value, c.max)
		}
	}
	if math.IsNaN(n.Gradient) || math.IsInf(n.Gradient, 0) {
		return fmt.Errorf("noise: gradient = %g; give a finite number", n.Gradient)
	}
	return nil
}

func (n Noise) stripWidth() int {
	if n.StripWidth == 0 {
		return defaultStrip
	}
	return n.StripWidth
}

// Covariance returns the true covariance of two valid pixels dx columns and dy
// rows apart, averaged over where the strips begin; gradient and clipping are
// left out. It is what an oracle knows.
func (n Noise) Covariance(dx, dy float64) float64 {
	c := n.base(dx, dy)
	if n.HeavyTails && (dx != 0 || dy != 0) {
		c *= tailMean() * tailMean()
	}
	if dx == 0 {
		c += n.Columns * n.Columns
	}
	if w := float64(n.stripWidth()); math.Abs(dx) < w {
		c += n.Strips * n.Strips * (1 - math.Abs(dx)/w)
	}
	return c
}

func (n Noise) base(dx, dy float64) float64 {
	if n.Length == 0 {
		if dx == 0 && dy == 0 {
			return 1
		}
		return 0
	}
	return math.Exp(-math.Hypot(dx, dy) / n.Length)
}

// tailMean is the mean of the pixel factor sqrt((k-2)/chi2_k), whose square
// has mean 1.
func tailMean() float64 {
	const k = tailDegrees
	return math.Sqrt((k-2)/2.) * math.Gamma((k-1)/2.) / math.Gamma(k/2.)
}

// Field is a map of w x h values, row-major, NaN where there is no data.
type Field struct {
	Width, Height int
	Values        []float64
}

// Generator draws fields of one noise type and size.
type Generator struct {
	noise        Noise
	w, h         int
	wrapX, wrapY bool
	field        *spectrum // nil for white noise
	spare        []float64 // the second field of the last draw
}

// NewGenerator prepares fields of w columns and h rows. With wrapX or wrapY
// the field continues across that pair of edges. It panics when the recipe is
// not valid or the size not positive.
func NewGenerator(n Noise, w, h int, wrapX, wrapY bool) *Generator {
	if err := n.Valid(); err != nil || w < 1 || h < 1 {
		panic(fmt.Sprintf("testblanket: generator of %d x %d: %v", w, h, err))
	}
	g := &Generator{noise: n, w: w, h: h, wrapX: wrapX, wrapY: wrapY}
	if n.Length > 0 {
		g.field = newSpectrum(padded(w, wrapX, 8*n.Length), padded(h, wrapY, 8*n.Length), n.base)
	}
	return g
}

// padded is the side of the torus. An odd side cannot wrap exactly; it gets a
// seam.
func padded(n int, wrap bool, by float64) int {
	if wrap && n%2 == 0 {
		return n
	}
	return smooth(n + int(math.Ceil(by)))
}

// Draw returns the next field of the random stream.
func (g *Generator) Draw(rng *rand.Rand) *Field {
	f := &Field{g.w, g.h, make([]float64, g.w*g.h)}
	g.correlated(f, rng)
	if g.noise.HeavyTails {
		heavyTails(f, rng)
	}
	g.stripes(f, rng)
	if g.noise.Gradient != 0 {
		f.addGradient(g.noise.Gradient)
	}
	if g.noise.Clip > 0 {
		clip(f.Values, g.noise.Clip)
	}
	if g.noise.Gaps > 0 {
		g.punch(f, rng)
	}
	return f
}

func (g *Generator) correlated(f *Field, rng *rand.Rand) {
	if g.field == nil {
		for i := range f.Values {
			f.Values[i] = rng.NormFloat64()
		}
		return
	}
	from := g.spare
	g.spare = nil
	if from == nil {
		from, g.spare = g.field.draw(rng)
	}
	for y := range f.Height {
		copy(f.Values[y*f.Width:(y+1)*f.Width], from[y*g.field.w:])
	}
}

// heavyTails multiplies every pixel by sqrt((k-2)/chi2_k), so that a normal
// pixel becomes a t variable of variance 1.
func heavyTails(f *Field, rng *rand.Rand) {
	for i := range f.Values {
		chi2 := 0.0
		for range tailDegrees {
			z := rng.NormFloat64()
			chi2 += z * z
		}
		f.Values[i] *= math.Sqrt((tailDegrees - 2) / chi2)
	}
}

func (g *Generator) stripes(f *Field, rng *rand.Rand) {
	n := g.noise
	if n.Columns == 0 && n.Strips == 0 {
		return
	}
	width := n.stripWidth()
	begin := rng.IntN(width) // the first strip is cut anywhere
	if n.Aligned {
		begin = 0
	}
	step := 0.0
	for x := range f.Width {
		if x == 0 || (x+begin)%width == 0 {
			step = n.Strips * rng.NormFloat64()
		}
		off := step + n.Columns*rng.NormFloat64()
		for y := range f.Height {
			f.Values[y*f.Width+x] += off
		}
	}
}

// addGradient adds a plane that rises by the given amount from the top left to
// the bottom right corner.
func (f *Field) addGradient(rise float64) {
	span := math.Max(1, float64(f.Width+f.Height-2))
	for y := range f.Height {
		for x := range f.Width {
			f.Values[y*f.Width+x] += rise * (float64(x+y)/span - 0.5)
		}
	}
}

// clip pulls values in to k robust sigma of the median.
func clip(v []float64, k float64) {
	s := slices.Clone(v)
	slices.Sort(s)
	mid := s[len(s)/2]
	for i := range s {
		s[i] = math.Abs(s[i] - mid)
	}
	slices.Sort(s)
	limit := k * 1.4826 * s[len(s)/2]
	for i := range v {
		v[i] = math.Max(mid-limit, math.Min(mid+limit, v[i]))
	}
}
