package reports

import (
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// legendEntry is a sample and what it means.
type legendEntry struct {
	label string
	draw  func(p pen, lo, hi vg.Point)
}

const legendLine = 10 * vg.Length(1) // from one line of a legend to the next

// width is the room of an entry with its sample and the gap behind it, for a
// wider font than ours.
func (e legendEntry) width() vg.Length {
	return 17 + 1.15*textStyle(smallText, inkColour, 0, 0).Width(e.label) + 8
}

// legend writes entries on one line from the left, each with a sample 14 pt
// wide, and returns where the line ends.
func (p pen) legend(from vg.Point, entries []legendEntry) vg.Length {
	x := from.X
	for _, e := range entries {
		e.draw(p, at(x, from.Y-2), at(x+14, from.Y+2))
		p.write(e.label, at(x+17, from.Y), smallText, inkColour, text.XLeft, text.YCenter)
		x += e.width()
	}
	return x
}

// legendBlock is a legend of as many lines as its width asks for.
type legendBlock [][]legendEntry

func newLegend(width vg.Length, entries []legendEntry) (b legendBlock) {
	room := vg.Length(0)
	for _, e := range entries {
		if len(b) == 0 || e.width() > room {
			b, room = append(b, nil), width
		}
		b[len(b)-1] = append(b[len(b)-1], e)
		room -= e.width()
	}
	return b
}

// extra is the height of all lines but the first.
func (b legendBlock) extra() vg.Length { return legendLine * vg.Length(max(len(b)-1, 0)) }

// draw writes the lines, the last one at the given place.
func (b legendBlock) draw(p pen, last vg.Point) {
	for i, line := range b {
		p.legend(at(last.X, last.Y+legendLine*vg.Length(len(b)-1-i)), line)
	}
}
