package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rimcast/ejecta"
)

// FalseClaims counts what a test claims at one level at places where nothing
// is.
type FalseClaims struct {
	Species            string
	RadiusLo, RadiusHi float64 // pixels
	Test               string  // excess or direction
	Nominal            float64
	Claims, Trials     int
}

// falseClaimsFigure draws observed against nominal shares of false claims, one
// panel for each test. The size classes of a species are taken together: one
// class alone has too few places to say anything about small levels.
func falseClaimsFigure(all []FalseClaims) (Figure, bool) {
	groups := claimGroups(all)
	title := "False claims where nothing is, against the level of the test"
	keys := newLegend(twoColumns-16, claimKeys(groups))
	fig := Figure{Name: "false-claims", Title: title, Alt: claimsAlt(title, groups), data: claimsData(groups),
		Width: twoColumns, Height: 78*vg.Millimeter + keys.extra()}
	fig.draw = func(p pen) {
		p.title(title)
		half, below := fig.Width/2, 20+keys.extra()
		claimsPlot("excess", groups).Draw(draw.Crop(p.Canvas, 2, -half-6, below, -18))
		claimsPlot("direction", groups).Draw(draw.Crop(p.Canvas, half+6, -6, below, -18))
		keys.draw(p, at(p.Min.X+8, p.Min.Y+9))
	}
	return fig, len(groups) > 0
}

func claimKeys(groups []claimGroup) (entries []legendEntry) {
	for _, g := range groups {
		entries = append(entries, legendEntry{figureText(g.species) + ", all sizes, with the 95 % interval", g.sample})
	}
	return entries
}

// claimGroup is the counts of one species, all size classes together.
type claimGroup struct {
	species string
	look    look
	counts  []FalseClaims
}

// claimGroups adds the counts of the size classes of each species.
func claimGroups(all []FalseClaims) []claimGroup {
	var out []claimGroup
	for _, c := range all {
		if c.Trials == 0 {
			continue
		}
		i := slices.IndexFunc(out, func(g claimGroup) bool { return g.species == c.Species })
		if i < 0 {
			i = len(out)
			out = append(out, claimGroup{species: c.Species, look: speciesLook(i)})
		}
		out[i].add(c)
	}
	return out
}

func (g *claimGroup) add(c FalseClaims) {
	for i := range g.counts {
		if o := &g.counts[i]; o.Test == c.Test && o.Nominal == c.Nominal {
			o.Claims, o.Trials = o.Claims+c.Claims, o.Trials+c.Trials
			o.RadiusLo, o.RadiusHi = min(o.RadiusLo, c.RadiusLo), max(o.RadiusHi, c.RadiusHi)
			return
		}
	}
	g.counts = append(g.counts, c)
}

func (g claimGroup) sample(p pen, lo, hi vg.Point) {
	lineSample(stroke(g.look.colour, 1, g.look.dashes...))(p, lo, hi)
	markSample(g.look.shape, g.look.colour)(p, lo, hi)
}

// claimsLeast is the lower end of both axes; a share of nothing is drawn on it.
const claimsLeast = -3.5

func claimsPlot(test string, groups []claimGroup) *plot.Plot {
	p := newPlot("nominal level, test of the "+test, "observed share of false claims")
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Min, a.Max, a.Tick.Marker = claimsLeast, 0, plot.TickerFunc(decadeTicks)
	}
	p.Add(plotFunc(gridLines), plotFunc(func(c draw.Canvas, p *plot.Plot) {
		u, v := p.Transforms(&c)
		d := pen{c}
		d.line(stroke(inkColour, 0.8, 1, 1.5), at(u(claimsLeast), v(claimsLeast)), at(u(0), v(0)))
		for i, g := range groups {
			g.curve(d, test, u, v, (vg.Length(i)-vg.Length(len(groups)-1)/2)*3)
		}
		d.write("claims too often", at(c.Min.X+4, c.Max.Y-4), smallText, softColour, text.XLeft, text.YTop)
		d.write("claims too seldom; on the edge: none seen", at(c.Max.X-4, c.Min.Y+4), smallText, softColour, text.XRight, text.YBottom)
	}))
	return p
}

// curve draws the shares of one group, each with its 95 % interval.
func (g claimGroup) curve(d pen, test string, u, v func(float64) vg.Length, shift vg.Length) {
	var pts []vg.Point
	for _, c := range g.counts {
		if c.Test != test {
			continue
		}
		lo, hi := ejecta.Wilson(c.Claims, c.Trials)
		x := u(math.Log10(c.Nominal)) + shift
		d.line(stroke(fade(g.look.colour, 0.7), 0.7), at(x, v(logShare(lo))), at(x, v(logShare(hi))))
		pts = append(pts, at(x, v(logShare(float64(c.Claims)/float64(c.Trials)))))
	}
	if len(pts) > 1 {
		d.line(stroke(g.look.colour, 0.9, g.look.dashes...), pts...)
	}
	for _, pt := range pts {
		d.mark(g.look.shape, pt, 1.9, g.look.colour)
	}
}

// logShare is the decimal logarithm of a share, no less than the axis.
func logShare(share float64) float64 { return max(math.Log10(share), claimsLeast) }

func claimsAlt(title string, groups []claimGroup) string {
	alt := title + "."
	for _, g := range groups {
		for _, c := range g.counts {
			if c.Nominal == 0.05 {
				alt += fmt.Sprintf(" %s, %s: %s %% claimed at 5 %%.", figureText(g.species), c.Test, orUnknown(100*float64(c.Claims)/float64(c.Trials)))
			}
		}
	}
	return alt
}

func claimsData(groups []claimGroup) [][]string {
	rows := [][]string{{"species", "radius_lo_pixels", "radius_hi_pixels", "test", "nominal", "trials", "claims", "lo95", "hi95"}}
	for _, g := range groups {
		for _, c := range g.counts {
			lo, hi := ejecta.Wilson(c.Claims, c.Trials)
			rows = append(rows, []string{NeutralText(g.species), number(c.RadiusLo), number(c.RadiusHi), c.Test, number(c.Nominal), strconv.Itoa(c.Trials), strconv.Itoa(c.Claims), number(lo), number(hi)})
		}
	}
	return rows
}
