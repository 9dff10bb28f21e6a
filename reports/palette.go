package reports

import (
	"fmt"
	"image/color"
	"math"

	"rimcast/ejecta"
)

// Colours are chosen to differ in lightness first, so that they survive a
// grey print and the common colour vision deficiencies; every colour comes
// with a second mark (shape, dash or label).
var (
	inkColour    = rgb(0x1e242c)
	softColour   = rgb(0x5c6670)
	gridColour   = rgb(0xd9d6cf)
	paperColour  = rgb(0xffffff)
	bandColour   = rgb(0xe9e5dc)
	accentColour = rgb(0x8a2f4d)
)

func rgb(v uint32) color.NRGBA {
	return color.NRGBA{uint8(v >> 16), uint8(v >> 8), uint8(v), 0xff}
}

func hex(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

// fade returns c with an opacity from 0 to 1.
func fade(c color.NRGBA, opacity float64) color.NRGBA {
	c.A = uint8(math.Round(255 * opacity))
	return c
}

// patternColour is the colour of a pattern on maps and overlays.
func patternColour(p ejecta.Pattern) color.NRGBA {
	switch p {
	case ejecta.PatternSymmetric:
		return rgb(0x2f5d8c)
	case ejecta.PatternOneSided:
		return rgb(0xe09a2b)
	case ejecta.PatternBilateral:
		return rgb(0x6b1f5c)
	case ejecta.PatternRays:
		return rgb(0x2a9d8f)
	case ejecta.PatternGap:
		return rgb(0xc65b3a)
	case ejecta.PatternNone:
		return rgb(0x9a9a94)
	}
	return rgb(0xc4c1ba)
}

// kindColour is the colour of a kind of overlay feature.
func kindColour(kind string) color.NRGBA {
	switch kind {
	case "ring", "masked":
		return rgb(0x8c8a84)
	case "sector":
		return rgb(0x4f6d8f)
	case "lobe":
		return rgb(0xe09a2b)
	case "axis", "axis_wedge":
		return rgb(0x6b1f5c)
	case "ray":
		return rgb(0x2a9d8f)
	case "seam":
		return rgb(0x4a4d52)
	case "gap":
		return rgb(0xc65b3a)
	}
	return inkColour
}

// simpleStyle returns the stroke and fill attributes that web viewers read.
func simpleStyle(f Feature) []Prop {
	c := kindColour(f.Kind)
	if f.Kind == "rim" {
		c = patternColour(ejecta.Pattern(stringProp(f, "pattern")))
	}
	width := map[string]float64{"rim": 2, "axis": 2, "ray": 2, "lobe": 1.5}[f.Kind]
	stroke := []Prop{{"stroke", hex(c)}, {"stroke-width", max(width, 1)}, {"stroke-opacity", 0.9}}
	switch f.Kind {
	case "axis", "ray", "seam":
		return stroke
	case "rim", "ring":
		return append(stroke, Prop{"fill", hex(c)}, Prop{"fill-opacity", 0.0})
	}
	return append(stroke, Prop{"fill", hex(c)}, Prop{"fill-opacity", 0.25})
}

func stringProp(f Feature, name string) string {
	for _, p := range f.Props {
		if s, ok := p.Value.(string); ok && p.Name == name {
			return s
		}
	}
	return ""
}

// rampStops are colours from dark to light at equal steps of lightness: night
// blue, slate, sage, sand, near white.
var rampStops = []color.NRGBA{
	rgb(0x121833), rgb(0x253a63), rgb(0x376183), rgb(0x578891), rgb(0x8aab97), rgb(0xc3c9a0), rgb(0xf3e6bd), rgb(0xfffaee),
}

// ramp maps t from 0 to 1 to the colours of amounts.
func ramp(t float64) color.NRGBA {
	t = min(max(t, 0), 1) * float64(len(rampStops)-1)
	i := min(int(t), len(rampStops)-2)
	return mix(rampStops[i], rampStops[i+1], t-float64(i))
}

func mix(a, b color.NRGBA, t float64) color.NRGBA {
	blend := func(x, y uint8) uint8 { return uint8(math.Round(float64(x) + t*(float64(y)-float64(x)))) }
	return color.NRGBA{blend(a.R, b.R), blend(a.G, b.G), blend(a.B, b.B), 0xff}
}
