package reports

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"html"
	"io"
	"iter"
	"regexp"
	"slices"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgpdf"
	"gonum.org/v1/plot/vg/vgsvg"
)

// Column widths of journals.
const (
	oneColumn  = 85 * vg.Millimeter
	twoColumns = 180 * vg.Millimeter
)

// figureDPI is the resolution of PNG figures.
const figureDPI = 300

// A Figure is a drawing with what it shows as a table and in words.
type Figure struct {
	Name   string // file name without extension
	Title  string
	Alt    string // what a person who cannot see it should know
	Width  vg.Length
	Height vg.Length

	draw func(pen)
	data [][]string         // header first
	rows iter.Seq[[]string] // in place of data, for a long table
}

// Write renders the figure as "svg", "pdf" or "png". Text stays text in SVG
// and PDF. There is no clock in the bytes.
func (f Figure) Write(w io.Writer, format string) error {
	switch format {
	case "svg":
		return f.writeSVG(w)
	case "pdf":
		return f.writePDF(w)
	case "png":
		return f.writePNG(w)
	}
	return fmt.Errorf("figure format %q is not svg, pdf or png", format)
}

// WriteData writes the table behind the figure.
func (f Figure) WriteData(w io.Writer) error {
	out := csv.NewWriter(w)
	for row := range f.table() {
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

// table is the table behind the figure, header first.
func (f Figure) table() iter.Seq[[]string] {
	if f.rows != nil {
		return f.rows
	}
	return slices.Values(f.data)
}

func (f Figure) onto(c vg.Canvas) {
	p := pen{draw.NewCanvas(c, f.Width, f.Height)}
	p.fill(paperColour, rectangle(p.Min, p.Max))
	f.draw(p)
}

func (f Figure) writeSVG(w io.Writer) error {
	c := vgsvg.New(f.Width, f.Height)
	f.onto(c)
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	_, err := w.Write(f.tidySVG(b.Bytes()))
	return err
}

var svgHead = regexp.MustCompile(`(?s)^.*?<svg `)

// tidySVG names fallback fonts, corrects the type of pictures, and gives the
// drawing a title and a description.
func (f Figure) tidySVG(svg []byte) []byte {
	svg = bytes.ReplaceAll(svg, []byte("font-family:Liberation Sans"), []byte("font-family:'Liberation Sans',Arial,Helvetica,sans-serif"))
	svg = bytes.ReplaceAll(svg, []byte("data:image/jpg;"), []byte("data:image/png;"))
	svg = svgHead.ReplaceAllLiteral(svg, []byte("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<svg role=\"img\" "))
	head, body, _ := bytes.Cut(svg, []byte("<g "))
	about := fmt.Sprintf("<title>%s</title>\n<desc>%s</desc>\n<g ", html.EscapeString(f.Title), html.EscapeString(f.Alt))
	return slices.Concat(head, []byte(about), body)
}

// pdfDate finds the dates in PDF files, which would make every run differ.
var pdfDate = regexp.MustCompile(`\(D:\d{14}`)

// writePDF relies on there being at most one picture in a figure: the PDF
// library writes several in the order of a map.
func (f Figure) writePDF(w io.Writer) error {
	c := vgpdf.New(f.Width, f.Height)
	f.onto(pdfCanvas{c})
	var b bytes.Buffer
	if _, err := c.WriteTo(&b); err != nil {
		return err
	}
	_, err := w.Write(pdfDate.ReplaceAllLiteral(b.Bytes(), []byte("(D:20000101000000")))
	return err
}

func (f Figure) writePNG(w io.Writer) error {
	c := vgimg.NewWith(vgimg.UseWH(f.Width, f.Height), vgimg.UseDPI(figureDPI))
	f.onto(c)
	_, err := vgimg.PngCanvas{Canvas: c}.WriteTo(w)
	return err
}
