package testblanket

import (
	"fmt"
	"math"
	"strings"
)

// Blanket is the excess round one crater, beyond its rim
//
//	excess(rho, azimuth) = Amplitude * rho^-Decay * f(azimuth)
//
// where f has mean 1 over the azimuth. Angles are degrees clockwise from north.
type Blanket struct {
	Species   string    `toml:"species"`   // the map it is painted on
	Epoch     string    `toml:"epoch"`     // the one epoch at which it is there; empty for all
	Pattern   string    `toml:"pattern"`   // symmetric, one-sided, bilateral, rays, gap
	Amplitude float64   `toml:"amplitude"` // at the rim, in the unit of the map
	Decay     float64   `toml:"decay"`     // 0 means 3
	Axis      float64   `toml:"axis_deg"`  // direction of the lobe, axis of two lobes, middle of the gap
	Share     float64   `toml:"share"`     // directional part, 0..1; 0 means 1
	Kappa     float64   `toml:"kappa"`     // concentration of a lobe; 0 means a cosine (one-sided), 8 (bilateral), 35 (rays)
	Rays      []float64 `toml:"rays_deg"`  // directions of the rays
	GapWidth  float64   `toml:"gap_deg"`   // full width at half depth; 0 means 100
	Interior  string    `toml:"interior"`  // inside the rim: zero (also ""), or filled with the rim's value
}

const (
	defaultDecay = 3
	gapEdge      = 5.0 // degrees over which a gap opens
	shapeSteps   = 1440
)

var patterns = []string{"symmetric", "one-sided", "bilateral", "rays", "gap"}

// Valid returns an error that says which setting is out of range.
func (b Blanket) Valid() error {
	known := false
	for _, p := range patterns {
		known = known || p == b.Pattern
	}
	switch {
	case !known:
		return fmt.Errorf("blanket: pattern %q is not known; give one of %s", b.Pattern, strings.Join(patterns, ", "))
	case math.IsNaN(b.Amplitude) || math.IsInf(b.Amplitude, 0):
		return fmt.Errorf("blanket: amplitude = %g; give a finite number", b.Amplitude)
	case !(b.Decay >= 0 && b.Decay <= 20):
		return fmt.Errorf("blanket: decay = %g; give a number from 0 (for 3) to 20", b.Decay)
	case !(b.Share >= 0 && b.Share <= 1):
		return fmt.Errorf("blanket: share = %g; give a number from 0 (for 1) to 1", b.Share)
	case !(b.Kappa >= 0 && b.Kappa <= 1e4):
		return fmt.Errorf("blanket: kappa = %g; give a number from 0 to 10000", b.Kappa)
	case b.Pattern == "rays" && len(b.Rays) == 0:
		return fmt.Errorf("blanket: rays need rays_deg, their directions")
	case !(b.GapWidth >= 0 && b.GapWidth <= 340):
		return fmt.Errorf("blanket: gap_deg = %g; give a number from 0 (for 100) to 340", b.GapWidth)
	case b.Interior != "" && b.Interior != "zero" && b.Interior != "filled":
		return fmt.Errorf("blanket: interior %q is not known; give zero or filled", b.Interior)
	}
	return nil
}

func (b Blanket) decay() float64 { return orElse(b.Decay, defaultDecay) }

func orElse(v, fallback float64) float64 {
	if v == 0 {
		return fallback
	}
	return v
}

// Shape tabulates f of a blanket; [Shape.At] looks it up.
type Shape struct {
	table  []float64 // at equal steps of azimuth, closed
	decay  float64
	scale  float64
	filled bool
}

// Shape prepares a blanket for painting. It panics when the blanket is not
// valid.
func (b Blanket) Shape() *Shape {
	if err := b.Valid(); err != nil {
		panic("testblanket: " + err.Error())
	}
	s := &Shape{decay: b.decay(), scale: b.Amplitude, filled: b.Interior == "filled"}
	s.table = make([]float64, shapeSteps+1)
	mean := 0.0
	for i := range shapeSteps {
		s.table[i] = b.raw(float64(i) * 360 / shapeSteps)
		mean += s.table[i] / shapeSteps
	}
	share := orElse(b.Share, 1)
	for i := range shapeSteps {
		s.table[i] = 1 + share*(s.table[i]/mean-1)
	}
	s.table[shapeSteps] = s.table[0]
	return s
}

// raw is the shape at an azimuth in degrees, of any mean.
func (b Blanket) raw(az float64) float64 {
	switch b.Pattern {
	case "one-sided":
		if b.Kappa == 0 {
			return 1 + math.Cos((az-b.Axis)*math.Pi/180)
		}
		return lobe(b.Kappa, az-b.Axis)
	case "bilateral":
		k := orElse(b.Kappa, 8)
		return lobe(k, az-b.Axis) + lobe(k, az-b.Axis-180)
	case "rays":
		sum := 0.0
		for _, r := range b.Rays {
			sum += lobe(orElse(b.Kappa, 35), az-r)
		}
		return sum
	case "gap":
		off := math.Abs(math.Remainder(az-b.Axis, 360)) - orElse(b.GapWidth, 100)/2
		return math.Max(0, math.Min(1, 0.5+off/gapEdge))
	}
	return 1
}

// lobe is a von Mises lobe of height 1, off degrees from its middle.
func lobe(kappa, off float64) float64 {
	return math.Exp(kappa * (math.Cos(off*math.Pi/180) - 1))
}

// F returns f at an azimuth in radians.
func (s *Shape) F(az float64) float64 {
	t := az / (2 * math.Pi)
	t = (t - math.Floor(t)) * shapeSteps
	i := min(int(t), shapeSteps-1)
	return s.table[i] + (t-float64(i))*(s.table[i+1]-s.table[i])
}

// At returns the excess at a range in crater radii and an azimuth in radians.
func (s *Shape) At(rho, az float64) float64 {
	if rho < 1 {
		if !s.filled {
			return 0
		}
		return s.scale * s.F(az)
	}
	if s.decay == 3 {
		return s.scale / (rho * rho * rho) * s.F(az)
	}
	return s.scale * math.Pow(rho, -s.decay) * s.F(az)
}

// Reach returns the range in crater radii beyond which the azimuthal mean is
// below the given value, at most limit.
func (s *Shape) Reach(value, limit float64) float64 {
	return math.Max(1, math.Min(limit, math.Pow(math.Abs(s.scale)/value, 1/s.decay)))
}

// Paint adds a blanket to a flat field: centre (cx, cy) and radius in pixels,
// pixel centres at +0.5, north up. Pixels hold the mean of the excess over
// their square, by 5 x 5 points near the rim and 3 x 3 in the inner part.
func (f *Field) Paint(s *Shape, cx, cy, radius float64) {
	reach := radius * s.Reach(1e-4, 40)
	x0, x1 := max(0, int(cx-reach)), min(f.Width-1, int(cx+reach))
	y0, y1 := max(0, int(cy-reach)), min(f.Height-1, int(cy+reach))
	for y := y0; y <= y1; y++ {
		for x := x0; x <= x1; x++ {
			f.Values[y*f.Width+x] += pixelMean(s, float64(x)+0.5-cx, cy-float64(y)-0.5, radius)
		}
	}
}

// pixelMean averages the excess over the pixel whose centre lies dx east and
// dy north, in pixels.
func pixelMean(s *Shape, dx, dy, radius float64) float64 {
	n := subSamples(math.Hypot(dx, dy), radius)
	sum := 0.0
	for j := range n {
		y := dy + (float64(j)+0.5)/float64(n) - 0.5
		for i := range n {
			x := dx + (float64(i)+0.5)/float64(n) - 0.5
			sum += s.At(math.Hypot(x, y)/radius, math.Atan2(x, y))
		}
	}
	return sum / float64(n*n)
}

// subSamples is the number of points per pixel side at a distance in pixels.
func subSamples(dist, radius float64) int {
	switch {
	case math.Abs(dist-radius) < 1.5:
		return 5
	case dist > radius && dist < 20:
		return 3
	}
	return 1
}
