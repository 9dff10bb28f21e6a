package testblanket

import (
	"errors"
	"fmt"
	"math"
)

// Scenario is the recipe of an invented survey: maps of an invented body, a
// catalogue, and what was planted. The zero value of each key takes the
// default that its comment names.
type Scenario struct {
	Title      string      `toml:"title"`
	Body       BodyRecipe  `toml:"body"`
	Grid       GridRecipe  `toml:"grid"`
	Species    []Layer     `toml:"species"`
	Covariates []Covariate `toml:"covariate"`
	Craters    []Planted   `toml:"crater"`
	Old        Old         `toml:"old"`
	Young      float64     `toml:"young_below_ma"` // craters of a lower age are compared with the others; 0 is not asked
}

// BodyRecipe is the invented body, a sphere.
type BodyRecipe struct {
	Name     string  `toml:"name"`
	RadiusKm float64 `toml:"radius_km"` // 700
}

// GridRecipe is the maps' grid: equirectangular, square pixels in degrees,
// north up. When the columns span 360 degrees they wrap.
type GridRecipe struct {
	Width  int     `toml:"width"`         // 1600
	Height int     `toml:"height"`        // 800
	West   float64 `toml:"west_deg"`      // left edge; -180
	North  float64 `toml:"north_deg"`     // upper edge; 90
	Step   float64 `toml:"pixel_deg"`     // 360/width
	Edge   bool    `toml:"west_as_given"` // keep a west_deg or north_deg of 0
}

// Layer is one map of a species.
type Layer struct {
	Name       string  `toml:"name"`
	Unit       string  `toml:"unit"`         // ppm
	Epoch      string  `toml:"epoch"`        // such as morning; may be empty
	LocalTime  float64 `toml:"local_time_h"` // of the epoch, above 0 to 24; 0 is not told
	Shared     float64 `toml:"shared_noise"` // share of the variance of the noise that all epochs of the species have in common, 0..1
	Background float64 `toml:"background"`
	Sigma      float64 `toml:"sigma"`     // of the noise, in the unit
	PoleRise   float64 `toml:"pole_rise"` // extra background at the poles, as the sine of latitude squared
	Coupling   float64 `toml:"coupling"`  // change per unit of the first covariate
	Noise      Noise   `toml:"noise"`
}

// Covariate is a map that could fake a signal.
type Covariate struct {
	Name      string  `toml:"name"`
	Kind      string  `toml:"kind"` // temperature, albedo, local_time; incidence, sun_azimuth and strip are worked out, see level
	Unit      string  `toml:"unit"`
	Base      float64 `toml:"base"`         // where the Sun is down
	Sunlit    float64 `toml:"sunlit"`       // rise at the subsolar point, as the fourth root of the cosine of incidence
	Subsolar  float64 `toml:"subsolar_deg"` // longitude of noon
	EveryNoon bool    `toml:"every_noon"`   // mosaic of strips all taken at noon: no change with longitude
	SunEast   float64 `toml:"sun_east_deg"` // with every_noon: before noon, the sun so far to the east of each place
	Sigma     float64 `toml:"sigma"`        // of the ground's own variety
	Noise     Noise   `toml:"noise"`
}

// Planted is one crater and what lies round it. A blanket on the name of a
// covariate changes that map, and the species through their coupling: a signal
// that is none.
type Planted struct {
	ID       string    `toml:"id"`
	Name     string    `toml:"name"`
	Lon      float64   `toml:"lon_deg"`
	Lat      float64   `toml:"lat_deg"`
	Pixels   float64   `toml:"radius_px"` // rim radius in pixels at the equator
	Age      float64   `toml:"age_ma"`    // 0 means unknown
	Blankets []Blanket `toml:"blanket"`
	Note     string    `toml:"note"` // for the truth table
}

// Old is the craters with nothing round them, placed at random.
type Old struct {
	Count      int     `toml:"count"`
	Neighbours int     `toml:"neighbours"`    // of them, how many stand 2.5 to 4 radii from a planted crater
	MinPixels  float64 `toml:"min_radius_px"` // 3
	MaxPixels  float64 `toml:"max_radius_px"` // 25
	Slope      float64 `toml:"slope"`         // of the cumulative size distribution; 2
	MaxLat     float64 `toml:"max_lat_deg"`   // 75
	Age        float64 `toml:"age_ma"`        // 0 means unknown
}

// withDefaults fills the zero values.
func (s Scenario) withDefaults() Scenario {
	if s.Body.Name == "" {
		s.Body.Name = "Nerith"
	}
	s.Body.RadiusKm = orElse(s.Body.RadiusKm, 700)
	g := &s.Grid
	if g.Width == 0 {
		g.Width = 1600
	}
	if g.Height == 0 {
		g.Height = g.Width / 2
	}
	g.Step = orElse(g.Step, 360/float64(g.Width))
	if !g.Edge {
		g.West = orElse(g.West, -180)
		g.North = orElse(g.North, 90)
	}
	o := &s.Old
	o.MinPixels = orElse(o.MinPixels, 3)
	o.MaxPixels = orElse(o.MaxPixels, 25)
	o.Slope = orElse(o.Slope, 2)
	o.MaxLat = orElse(o.MaxLat, 75)
	s.Species = append([]Layer(nil), s.Species...)
	for i := range s.Species {
		if s.Species[i].Unit == "" {
			s.Species[i].Unit = "ppm"
		}
	}
	return s
}

const maxPixels = 1 << 28

// Valid returns an error that names the first setting out of range.
func (s Scenario) Valid() error {
	s = s.withDefaults()
	g := s.Grid
	switch {
	case !(s.Body.RadiusKm > 0 && s.Body.RadiusKm < 1e6):
		return fmt.Errorf("scenario: body radius_km = %g; give a positive number", s.Body.RadiusKm)
	case g.Width < 8 || g.Height < 8 || g.Width*g.Height > maxPixels:
		return fmt.Errorf("scenario: grid of %d x %d pixels; give 8 to %d in all", g.Width, g.Height, maxPixels)
	case !(g.Step > 0) || g.Step*float64(g.Width) > 360+1e-6:
		return fmt.Errorf("scenario: pixel_deg = %g makes the map wider than 360 degrees or empty", g.Step)
	case !(g.North <= 90) || g.North-g.Step*float64(g.Height) < -90-1e-6:
		return fmt.Errorf("scenario: the map reaches from latitude %g to %g", g.North, g.North-g.Step*float64(g.Height))
	case len(s.Species) == 0:
		return errors.New("scenario: no [[species]]; give at least one")
	case s.Old.Count < 0 || s.Old.Count > 1e6 || s.Old.Neighbours < 0 || s.Old.Neighbours > s.Old.Count:
		return fmt.Errorf("scenario: old count = %d, neighbours = %d; give 0 <= neighbours <= count", s.Old.Count, s.Old.Neighbours)
	case !(s.Old.MinPixels > 0 && s.Old.MinPixels <= s.Old.MaxPixels && s.Old.MaxLat > 0 && s.Old.MaxLat <= 90):
		return fmt.Errorf("scenario: old craters of %g to %g pixels up to latitude %g", s.Old.MinPixels, s.Old.MaxPixels, s.Old.MaxLat)
	}
	return errors.Join(s.validLayers(), s.validCraters())
}

func (s Scenario) validLayers() error {
	seen := map[string]bool{}
	for _, l := range s.Species {
		key := l.Name + "/" + l.Epoch
		if l.Name == "" || seen[key] {
			return fmt.Errorf("scenario: species %q appears twice or has no name", key)
		}
		seen[key] = true
		if err := l.Noise.Valid(); err != nil {
			return fmt.Errorf("scenario: species %s: %w", key, err)
		}
		if !(l.Shared >= 0 && l.Shared <= 1) || !(l.LocalTime >= 0 && l.LocalTime <= 24) {
			return fmt.Errorf("scenario: species %s: shared_noise = %g, local_time_h = %g; give 0 to 1 and 0 to 24", key, l.Shared, l.LocalTime)
		}
		if !(l.Sigma >= 0) {
			return fmt.Errorf("scenario: species %s: sigma = %g; give 0 or more", key, l.Sigma)
		}
	}
	for _, c := range s.Covariates {
		if c.Name == "" || seen[c.Name+"/"] {
			return fmt.Errorf("scenario: covariate %q appears twice or has no name", c.Name)
		}
		seen[c.Name+"/"] = true
		if err := c.Noise.Valid(); err != nil {
			return fmt.Errorf("scenario: covariate %s: %w", c.Name, err)
		}
	}
	return nil
}

func (s Scenario) validCraters() error {
	names := map[string]bool{}
	for _, l := range s.Species {
		names[l.Name] = true
	}
	for _, c := range s.Covariates {
		names[c.Name] = true
	}
	ids := map[string]bool{}
	for _, p := range s.Craters {
		if p.ID == "" || ids[p.ID] {
			return fmt.Errorf("scenario: crater id %q is missing or appears twice", p.ID)
		}
		ids[p.ID] = true
		if !(p.Pixels > 0) || !(math.Abs(p.Lat) <= 90) || !(math.Abs(p.Lon) <= 360) {
			return fmt.Errorf("scenario: crater %s at (%g, %g), radius_px = %g", p.ID, p.Lon, p.Lat, p.Pixels)
		}
		for _, b := range p.Blankets {
			if err := b.Valid(); err != nil {
				return fmt.Errorf("scenario: crater %s: %w", p.ID, err)
			}
			if b.Epoch != "" && !s.hasEpoch(b.Species, b.Epoch) {
				return fmt.Errorf("scenario: crater %s: blanket at epoch %q, which %s does not have", p.ID, b.Epoch, b.Species)
			}
			if !names[b.Species] {
				return fmt.Errorf("scenario: crater %s: blanket on %q, which is no species or covariate", p.ID, b.Species)
			}
		}
	}
	return nil
}
