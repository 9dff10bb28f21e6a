package reports

import (
	"image"
	"image/color"
	"math"

	"golang.org/x/text/encoding/charmap"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/vgpdf"
)

// pdfCanvas corrects four habits of the PDF canvas: it takes text for
// Windows-1252 without converting it, darkens transparent colours by reading
// them premultiplied, loses the joints of arcs inside a path, and puts pictures
// upside down.
type pdfCanvas struct{ *vgpdf.Canvas }

// FillString implements vg.Canvas.
func (c pdfCanvas) FillString(f font.Face, pt vg.Point, s string) {
	c.Canvas.FillString(f, pt, windows1252(s))
}

// SetColor implements vg.Canvas.
func (c pdfCanvas) SetColor(clr color.Color) {
	c.Canvas.SetColor(straight{color.NRGBAModel.Convert(clr).(color.NRGBA)})
}

// Stroke implements vg.Canvas.
func (c pdfCanvas) Stroke(p vg.Path) { c.Canvas.Stroke(flat(p)) }

// Fill implements vg.Canvas.
func (c pdfCanvas) Fill(p vg.Path) { c.Canvas.Fill(flat(p)) }

// DrawImage implements vg.Canvas.
func (c pdfCanvas) DrawImage(r vg.Rectangle, img image.Image) {
	b := img.Bounds()
	turned := image.NewNRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			turned.Set(x, b.Dy()-1-y, img.At(b.Min.X+x, b.Min.Y+y))
		}
	}
	c.Canvas.DrawImage(r, turned)
}

// straight is a colour whose components are not multiplied by its opacity.
type straight struct{ c color.NRGBA }

// RGBA implements color.Color, but for the premultiplication.
func (s straight) RGBA() (r, g, b, a uint32) {
	return uint32(s.c.R) * 0x101, uint32(s.c.G) * 0x101, uint32(s.c.B) * 0x101, uint32(s.c.A) * 0x101
}

// windows1252 encodes text, with a question mark for what it cannot say.
func windows1252(s string) string {
	var out []byte
	for _, r := range s {
		b, ok := charmap.Windows1252.EncodeRune(r)
		if !ok {
			b = '?'
		}
		out = append(out, b)
	}
	return string(out)
}

// flat replaces arcs by chords of at most 3 degrees.
func flat(p vg.Path) vg.Path {
	var out vg.Path
	for i, part := range p {
		if part.Type != vg.ArcComp {
			out = append(out, part)
			continue
		}
		from := 90 - part.Start*180/math.Pi
		for k, pt := range arcPoints(part.Pos, part.Radius, from, from-part.Angle*180/math.Pi) {
			if i == 0 && k == 0 {
				out.Move(pt)
				continue
			}
			out.Line(pt)
		}
	}
	return out
}
