package reports

import (
	"fmt"
	"strconv"

	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"

	"rimcast/ejecta"
)

const (
	rankRow   = 4.2 * vg.Millimeter
	rankNames = 56 * vg.Millimeter
	rankMost  = 30
)

// ranksFigure draws the rank intervals of the best targets.
func ranksFigure(s *Survey) (Figure, bool) {
	list := s.topTargets(rankMost)
	last := 1
	for _, t := range list {
		last = max(last, t.Rank, t.RankHi)
	}
	fig := Figure{
		Name: "ranks", Title: "How firm the ranks are", Alt: "Rank and rank interval under other draws of the noise for the best targets.",
		Width: twoColumns, Height: vg.Length(len(list))*rankRow + 18*vg.Millimeter, data: s.ranksData(list),
	}
	fig.draw = func(p pen) {
		left, right := p.Min.X+rankNames, p.Max.X-22*vg.Millimeter
		x := func(rank float64) vg.Length {
			return left + (right-left)*vg.Length((rank-0.5)/float64(last))
		}
		top, bottom := p.Max.Y-7*vg.Millimeter, p.Max.Y-8*vg.Millimeter-vg.Length(len(list))*rankRow
		rankAxis(p, x, float64(last), top, bottom)
		for i, t := range list {
			s.rankRow(p, t, x, top-vg.Length(float64(i)+0.7)*rankRow)
		}
	}
	return fig, len(list) > 0
}

func rankAxis(p pen, x func(float64) vg.Length, last float64, top, bottom vg.Length) {
	p.fill(bandColour, rectangle(at(x(0.5), bottom), at(x(min(10.5, last+0.5)), top)))
	p.write("best ten", at(x(min(10.5, last+0.5))-2, top+2), smallText, softColour, text.XRight, text.YBottom)
	p.line(stroke(softColour, 0.5), at(x(0.5), bottom), at(x(last+0.5), bottom))
	for _, v := range append([]float64{1}, roundValues(1, last, 6)...) {
		if v != float64(int(v)) || v < 1 {
			continue
		}
		p.line(stroke(softColour, 0.5), at(x(v), bottom), at(x(v), bottom-2.5))
		p.write(strconv.Itoa(int(v)), at(x(v), bottom-4), smallText, inkColour, text.XCenter, text.YTop)
	}
	p.write("rank under other draws of the noise", at(x((last+1)/2), bottom-13), plainText, inkColour, text.XCenter, text.YTop)
	p.write("in best ten", at(p.Max.X-4, top+2), smallText, softColour, text.XRight, text.YBottom)
}

func (s *Survey) rankRow(p pen, t ejecta.Target, x func(float64) vg.Length, y vg.Length) {
	c := s.crater(t.CraterIndex)
	pattern := craterPattern(s.findingsOf(t.CraterIndex))
	p.write(fmt.Sprintf("%d  %s", t.Rank, shorten(label(c.ID, c.Name), 40)), at(p.Min.X+rankNames-5, y), smallText, inkColour, text.XRight, text.YCenter)
	p.line(stroke(softColour, 1.6), at(x(float64(t.RankLo)-0.4), y), at(x(float64(t.RankHi)+0.4), y))
	p.mark(patternShape(string(pattern)), at(x(float64(t.Rank)), y), 2.6, patternColour(pattern))
	p.write(fmt.Sprintf("%.0f %%", 100*t.PTop10), at(p.Max.X-4, y), smallText, inkColour, text.XRight, text.YCenter)
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
