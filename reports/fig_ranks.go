package reports

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"

	"rimcast/ejecta"
)

const (
	rankRow   = 4.2 * vg.Millimeter
	rankNames = 56 * vg.Millimeter // most room for names
	rankMost  = 30
)

// ranksFigure draws the rank intervals of the best targets. The axis is
// logarithmic: whether a crater is second or fifth matters, whether it is
// eightieth or ninetieth does not.
func ranksFigure(s *Survey) (Figure, bool) {
	r := newRanks(s)
	fig := Figure{
		Name: "ranks", Title: "How firm the ranks are", Alt: "Rank of the best targets, and the interval of their ranks in repeated measurements.",
		Width: twoColumns, Height: vg.Length(len(r.list))*rankRow + 28*vg.Millimeter, data: s.ranksData(r.list),
	}
	fig.draw = r.draw
	return fig, len(r.list) > 0
}

// rankPlot is the rank figure with its scale.
type rankPlot struct {
	s           *Survey
	list        []ejecta.Target
	last        float64 // the worst rank on the axis
	left, right vg.Length
	top, bottom vg.Length
}

func newRanks(s *Survey) *rankPlot {
	r := &rankPlot{s: s, list: s.topTargets(rankMost), last: 10}
	for _, t := range r.list {
		r.last = max(r.last, float64(t.Rank), float64(t.RankHi))
	}
	return r
}

func (r *rankPlot) draw(p pen) {
	p.title("How firm the ranks are")
	r.layout(p)
	r.axis(p)
	for i, t := range r.list {
		r.row(p, t, r.top-vg.Length(float64(i)+0.7)*rankRow)
	}
	r.keys(p)
}

// layout settles the frame of the figure.
func (r *rankPlot) layout(p pen) {
	r.left, r.right = p.Min.X+r.nameRoom(), p.Max.X-22*vg.Millimeter
	r.top = p.Max.Y - 11*vg.Millimeter
	r.bottom = r.top - vg.Length(len(r.list))*rankRow - 1*vg.Millimeter
}

// nameRoom is the width that the longest name needs.
func (r *rankPlot) nameRoom() vg.Length {
	width := vg.Length(0)
	for _, t := range r.list {
		width = max(width, textStyle(smallText, inkColour, 0, 0).Width(r.name(t)))
	}
	return min(1.12*width+14, rankNames)
}

func (r *rankPlot) name(t ejecta.Target) string {
	c := r.s.crater(t.CraterIndex)
	return fmt.Sprintf("%d  %s", t.Rank, shorten(label(c.ID, c.Name), 40))
}

// x is where a rank lies.
func (r *rankPlot) x(rank float64) vg.Length {
	from, to := math.Log(0.8), math.Log(1.1*r.last)
	return r.left + (r.right-r.left)*vg.Length((math.Log(max(rank, 0.8))-from)/(to-from))
}

func (r *rankPlot) axis(p pen) {
	p.fill(bandColour, rectangle(at(r.x(0.8), r.bottom), at(r.x(10.5), r.top)))
	p.write("best ten", at(r.x(10.5)-2, r.top+2), smallText, softColour, text.XRight, text.YBottom)
	p.write("in best ten", at(p.Max.X-4, r.top+2), smallText, softColour, text.XRight, text.YBottom)
	p.line(stroke(softColour, 0.5), at(r.x(0.8), r.bottom), at(r.right, r.bottom))
	for _, v := range rankTicks(r.last) {
		r.tick(p, v)
	}
	p.write("rank, and 90 % of the ranks in repeated measurements (logarithmic)", at((r.left+r.right)/2, r.bottom-13), plainText, inkColour, text.XCenter, text.YTop)
}

func (r *rankPlot) tick(p pen, v float64) {
	p.line(stroke(gridColour, 0.4), at(r.x(v), r.bottom), at(r.x(v), r.top))
	p.line(stroke(softColour, 0.5), at(r.x(v), r.bottom), at(r.x(v), r.bottom-2.5))
	p.write(strconv.Itoa(int(v)), at(r.x(v), r.bottom-4), smallText, inkColour, text.XCenter, text.YTop)
}

// rankTicks are 1, 2, 5, 10, 20, 50 and so on, up to the last rank.
func rankTicks(last float64) []float64 {
	var out []float64
	for e := 1.0; e <= last; e *= 10 {
		for _, k := range []float64{1, 2, 5} {
			if k*e <= last {
				out = append(out, k*e)
			}
		}
	}
	return out
}

func (r *rankPlot) row(p pen, t ejecta.Target, y vg.Length) {
	pattern := craterPattern(r.s.findingsOf(t.CraterIndex))
	p.write(r.name(t), at(r.left-5, y), smallText, inkColour, text.XRight, text.YCenter)
	p.interval(r.x(float64(t.RankLo)), r.x(float64(t.RankHi)), y)
	p.patternMark(pattern, at(r.x(float64(t.Rank)), y), 2.6)
	p.write(fmt.Sprintf("%.0f %%", 100*t.PTop10), at(p.Max.X-4, y), smallText, inkColour, text.XRight, text.YCenter)
}

// interval draws a bar with caps.
func (p pen) interval(lo, hi, y vg.Length) {
	p.line(stroke(softColour, 1.6), at(lo, y), at(hi, y))
	for _, x := range []vg.Length{lo, hi} {
		p.line(stroke(softColour, 0.8), at(x, y-2.4), at(x, y+2.4))
	}
}

// keys names the marks that occur.
func (r *rankPlot) keys(p pen) {
	var seen []ejecta.Pattern
	for _, t := range r.list {
		seen = append(seen, craterPattern(r.s.findingsOf(t.CraterIndex)))
	}
	var entries []legendEntry
	for _, pattern := range allPatterns {
		if slices.Contains(seen, pattern) {
			entries = append(entries, legendEntry{patternText(pattern), patternSample(pattern)})
		}
	}
	p.legend(at(p.Min.X+8, p.Min.Y+8), entries)
}

// shorten cuts text to n characters.
func shorten(s string, n int) string {
	if r := []rune(s); len(r) > n {
		return string(r[:n-1]) + "…"
	}
	return s
}

func (s *Survey) ranksData(list []ejecta.Target) [][]string {
	rows := [][]string{{"rank", "crater_id", "rank_lo", "rank_hi", "p_top10", "score"}}
	for _, t := range list {
		rows = append(rows, []string{strconv.Itoa(t.Rank), NeutralText(s.crater(t.CraterIndex).ID), strconv.Itoa(t.RankLo), strconv.Itoa(t.RankHi), number(t.PTop10), number(t.Score)})
	}
	return rows
}
