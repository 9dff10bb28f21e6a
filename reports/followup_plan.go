package reports

import (
	"fmt"
	"html/template"
	"math"
	"strings"

	"rimcast/ejecta"
)

// The plan of a sheet: crater from above, north up, with the wedges of each
// species to cover, told apart by hatching so that it prints in grey.

const (
	planSide   = 240.0 // points
	planMargin = 26.0
)

// plan draws in points from ranges in crater radii.
type plan struct {
	strings.Builder
	scale float64
}

func planDrawing(r *CraterRequest, shown []int) template.HTML {
	far := 0.0
	for _, s := range r.Species {
		far = max(far, s.RangeHi, s.Reference[1])
	}
	p := &plan{scale: (planSide/2 - planMargin) / far}
	fmt.Fprintf(p, `<svg viewBox="0 0 %g %g" role="img" aria-label="Plan of what to cover, north up">`, planSide, planSide)
	p.WriteString(`<defs>` + hatch(0, 45) + hatch(1, -45) + `</defs>`)
	p.frame(r)
	for i, k := range shown {
		for _, w := range r.Species[k].Wedges {
			p.wedge(r.Species[k].RangeLo, r.Species[k].RangeHi, w, fmt.Sprintf(`fill="url(#hatch%d)" stroke="#1e242c" stroke-width="0.8"`, i))
		}
	}
	p.circle(1, `fill="#fff" stroke="#1e242c" stroke-width="1.6"`)
	p.scaleBar()
	p.WriteString(`</svg>`)
	return template.HTML(p.String()) // numbers only
}

func hatch(k int, turn float64) string {
	gap := []float64{4, 7}[k]
	return fmt.Sprintf(`<pattern id="hatch%d" width="%g" height="%g" patternUnits="userSpaceOnUse" patternTransform="rotate(%g)"><path d="M0 0V5" stroke="#1e242c" stroke-width="%g"/></pattern>`, k, gap, gap, turn, []float64{1.3, 0.7}[k])
}

// frame draws the ring of the background and the compass.
func (p *plan) frame(r *CraterRequest) {
	ref := r.Species[0].Reference
	p.circle(ref[1], `fill="none" stroke="#777" stroke-width="0.7" stroke-dasharray="4 3"`)
	p.circle(ref[0], `fill="none" stroke="#777" stroke-width="0.7" stroke-dasharray="4 3"`)
	for _, t := range []struct {
		x, y         float64
		anchor, word string
	}{{planSide / 2, 9, "middle", "north 0°"}, {planSide, planSide/2 - 3, "end", "90°"}, {planSide / 2, planSide - 8, "middle", "180°"}, {0, planSide/2 - 3, "start", "270°"}} {
		fmt.Fprintf(p, `<text x="%g" y="%g" text-anchor="%s" font-size="9">%s</text>`, t.x, t.y, t.anchor, t.word)
	}
}

func (p *plan) circle(rho float64, style string) {
	fmt.Fprintf(p, `<circle cx="%g" cy="%g" r="%.2f" %s/>`, planSide/2, planSide/2, rho*p.scale, style)
}

func (p *plan) at(rho, az float64) string {
	sin, cos := math.Sincos(az * math.Pi / 180)
	return fmt.Sprintf("%.2f %.2f", planSide/2+rho*p.scale*sin, planSide/2-rho*p.scale*cos)
}

// wedge draws a sector; one of a whole turn becomes two halves.
func (p *plan) wedge(lo, hi float64, w ejecta.Interval, style string) {
	if w.Hi-w.Lo >= 360 {
		d := func(r float64) string {
			return fmt.Sprintf("M%sA%.2f %.2f 0 1 1 %sA%.2f %.2f 0 1 1 %sZ", p.at(r, 0), r*p.scale, r*p.scale, p.at(r, 180), r*p.scale, r*p.scale, p.at(r, 0))
		}
		fmt.Fprintf(p, `<path d="%s%s" fill-rule="evenodd" %s/>`, d(hi), d(lo), style)
		return
	}
	large := 0
	if w.Hi-w.Lo > 180 {
		large = 1
	}
	fmt.Fprintf(p, `<path d="M%sL%sA%.2f %.2f 0 %d 1 %sL%sA%.2f %.2f 0 %d 0 %sZ" %s/>`, p.at(lo, w.Lo), p.at(hi, w.Lo), hi*p.scale, hi*p.scale, large,
		p.at(hi, w.Hi), p.at(lo, w.Hi), lo*p.scale, lo*p.scale, large, p.at(lo, w.Lo), style)
}

// scaleBar marks two radii.
func (p *plan) scaleBar() {
	y := planSide - 6.0
	fmt.Fprintf(p, `<path d="M6 %gh%.2f" stroke="#1e242c" stroke-width="2"/><text x="%.1f" y="%g" font-size="9">2 radii</text>`, y, 2*p.scale, 10+2*p.scale, y+3)
}
