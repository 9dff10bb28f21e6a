package reports

import (
	"iter"
	"math"

	"github.com/paulmach/orb"

	"rimcast/ejecta"
	"rimcast/geom"
)

// A Feature is one outline or line of the overlay, in degrees, planetocentric,
// east positive, split at the 180 degree meridian and capped at the poles.
type Feature struct {
	Kind     string
	CraterID string
	Geometry orb.Geometry // orb.MultiPolygon or orb.MultiLineString
	Props    []Prop       // the same names in the same order for every feature of a kind
}

// A Prop is one attribute: string, float64 (NaN means missing), int or bool.
type Prop struct {
	Name  string
	Value any
}

// A Layer is all features of one kind. Lines tells lines from polygons.
type Layer struct {
	Kind     string
	Lines    bool
	Features iter.Seq[Feature]
}

// Layers returns the overlay, one layer per kind, in the order in which they
// should be drawn: areas first, rims last.
func Layers(s *Survey, opt Options) []Layer {
	o := newOverlay(s, opt)
	return []Layer{
		{"masked", false, o.masked},
		{"ring", false, o.rings},
		{"sector", false, o.sectors},
		{"gap", false, o.gaps},
		{"lobe", false, o.lobes},
		{"axis_wedge", false, o.wedges},
		{"seam", true, o.seams},
		{"axis", true, o.axes},
		{"ray", true, o.rays},
		{"rim", false, o.rims},
	}
}

// overlay holds what the layers share.
type overlay struct {
	s      *Survey
	opt    Options
	target []*ejecta.Target // by crater; nil without one
	top    []bool           // by crater: gets rings, sectors and lobes
}

func newOverlay(s *Survey, opt Options) *overlay {
	n := len(s.Catalogue.Craters)
	o := &overlay{s: s, opt: opt, target: make([]*ejecta.Target, n), top: make([]bool, n)}
	limit := opt.overlayTop(len(s.Targets))
	for i := range s.Targets {
		t := &s.Targets[i]
		o.target[t.CraterIndex] = t
		o.top[t.CraterIndex] = i < limit
	}
	return o
}

// spot is a crater with its frame and the chord error of its outlines.
type spot struct {
	geom.Crater
	frame *geom.Frame
	err   float64
}

func (o *overlay) spot(i int) spot {
	c := o.s.crater(i)
	err := o.opt.MaxChordError
	if err <= 0 {
		err = c.Radius / o.fineness(i)
	}
	return spot{c, geom.NewFrame(o.s.Body, c.Centre), err}
}

// fineness is the number of chord errors in a radius: ten per pixel of the
// sharpest map, or 500 when no map tells.
func (o *overlay) fineness(i int) float64 {
	pixels := 0.0
	for _, f := range o.s.findingsOf(i) {
		if f.PixelsPer > pixels {
			pixels = f.PixelsPer
		}
	}
	if pixels == 0 {
		return 500
	}
	return min(max(10*pixels, 60), 2000)
}

// sector outlines a cell given in crater radii and degrees.
func (p spot) sector(rho0, rho1, az0, az1 float64) orb.MultiPolygon {
	return geom.AnnulusSector(p.frame, rho0*p.Radius, rho1*p.Radius, radians(az0), radians(az1), p.err)
}

// ring outlines a whole ring.
func (p spot) ring(rho0, rho1 float64) orb.MultiPolygon { return p.sector(rho0, rho1, 0, 360) }

// line draws a geodesic from rho0 to rho1 along an azimuth in degrees.
func (p spot) line(rho0, rho1, az float64) orb.MultiLineString {
	return geom.RayLine(p.frame, rho0*p.Radius, rho1*p.Radius, radians(az), p.err)
}

func (p spot) rim() orb.MultiPolygon {
	if p.SemiMajor > 0 && p.SemiMinor > 0 {
		return geom.EllipseOutline(p.frame, p.SemiMajor, p.SemiMinor, radians(p.RimAzimuth), p.err)
	}
	return geom.CircleOutline(p.frame, p.Radius, p.err)
}

func radians(deg float64) float64 { return deg * math.Pi / 180 }

// Places shared by overlay and figures.
const (
	ejectaLo, ejectaHi = 1.1, 2.5 // the range of the excess, crater radii
	axisReach          = 3.0      // how far an axis is drawn
)

// craterPattern is the pattern that stands for a crater on a map: the first
// one with a direction, else the first that is not none, in species order.
func craterPattern(list []ejecta.Finding) ejecta.Pattern {
	var best ejecta.Pattern
	for _, f := range list {
		switch {
		case f.Pattern.Directional():
			return f.Pattern
		case f.Pattern == ejecta.PatternSymmetric:
			best = f.Pattern
		case best == "":
			best = f.Pattern
		}
	}
	return best
}
