package main

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"rimcast/geom"
)

// print shows an inspection on one screen.
func (r *inspection) print(w io.Writer) error {
	b := bufio.NewWriter(w)
	if r.Survey != "" {
		row(b, "survey", r.Survey)
	}
	if r.Body != nil {
		code := r.BodyCode
		if code == "" {
			code = "no IAU code"
		}
		row(b, "body", fmt.Sprintf("%s, %s; %s", *r.Body, code, r.BodyHow))
	}
	if r.Catalogue != nil {
		r.Catalogue.print(b)
	}
	for _, l := range r.Layers {
		l.print(b)
	}
	if s := r.Sizes; s != nil {
		row(b, "sizes", s.String())
	}
	if r.Output != "" {
		row(b, "output", r.Output)
	}
	if len(r.Faults) == 0 {
		row(b, "faults", "none found; nothing was measured or written")
	} else {
		row(b, "faults", fmt.Sprintf("%d, see below; screen would stop", len(r.Faults)))
	}
	return b.Flush()
}

func (s *sizeCounts) String() string {
	text := fmt.Sprintf("on %s: %d craters large enough for a direction, %d for a radial profile only, %d too small, %d off the map",
		s.Layer, s.Directional, s.RadialOnly, s.TooSmall, s.OffTheMap)
	if s.TooLarge > 0 {
		text += fmt.Sprintf(", %d too large (their rings would reach round the body)", s.TooLarge)
	}
	if s.TooSmall > 0 && s.TooSmall+s.OffTheMap == s.all() {
		text += "; is the unit of the radius right?"
	}
	if s.Distorted > 0 {
		text += fmt.Sprintf(", %d where the map's pixels are stretched too much", s.Distorted)
	}
	return text
}

func (s *sizeCounts) all() int {
	return s.Directional + s.RadialOnly + s.TooSmall + s.OffTheMap + s.TooLarge + s.Distorted
}

// row prints one line: a short label and a text.
func row(w io.Writer, label, text string) { fmt.Fprintf(w, "%-10s %s\n", label, printable(text)) }

// maxRefusedShown bounds the refused entries on the screen.
const maxRefusedShown = 5

func (c *inspectedCatalogue) print(w io.Writer) {
	row(w, "catalogue", fmt.Sprintf("%s: %d craters, %d refused", c.Path, c.Craters, len(c.Refused)))
	if len(c.RadiiKm) > 0 {
		row(w, "", "radius "+radiiText(c.RadiiKm)+" km")
	}
	if c.First != nil {
		row(w, "", firstText(*c.First))
	}
	for i, f := range c.Refused {
		if i == maxRefusedShown {
			row(w, "", fmt.Sprintf("and %d more refused", len(c.Refused)-i))
			break
		}
		row(w, "", fmt.Sprintf("refused: feature %d, id %s: %s", f.Index, geom.Quote(f.ID), f.Reason))
	}
	for _, n := range c.Notes {
		row(w, "", "note: "+n)
	}
}

func radiiText(radii []float64) string {
	texts := make([]string, len(radii))
	for i, x := range radii {
		texts[i] = number(x)
	}
	if len(radii) == 6 {
		texts[3] = "... " + texts[3]
	}
	return strings.Join(texts, " ")
}

// firstText shows where the first crater lies, in both longitude signs, so
// that a mirrored catalogue is seen.
func firstText(c geom.Crater) string {
	east := math.Mod(c.Centre.Lon+360, 360)
	west := math.Mod(360-east, 360)
	name := ""
	if c.Name != "" {
		name = " " + geom.Quote(c.Name)
	}
	return fmt.Sprintf("first crater %s%s at lat %s, %s E = %s W; were it west-positive it would lie at %s E",
		geom.Quote(c.ID), name, number(c.Centre.Lat), number(east), number(west), number(west))
}

func (l *inspectedLayer) print(w io.Writer) {
	row(w, strings.Fields(l.Label)[0], strings.Join(strings.Fields(l.Label)[1:], " ")+": "+l.Facts[0])
	for _, f := range l.Facts[1:] {
		row(w, "", f)
	}
	for _, n := range l.Notes {
		row(w, "", "note: "+n)
	}
	for _, n := range l.Warnings {
		row(w, "", "warning: "+n)
	}
}

// layerFacts writes what was found in a file, one line for the file, one for
// the reference system, one for the values.
func layerFacts(l inspectedLayer) []string {
	i := l.Info
	file := fmt.Sprintf("%s, band %d of %d", i.Path, i.Band, max(len(i.BandNames), i.Band))
	if i.BandName != "" {
		file += " " + geom.Quote(i.BandName)
	}
	file += fmt.Sprintf(", %d x %d %s, blocks %d x %d, %s", i.Width, i.Height, i.DataType, i.BlockWidth, i.BlockHeight, i.Driver)
	place := fmt.Sprintf("%s (from the %s); pixel %s m%s", projectionText(i.Projection), i.CRSSource, number(i.PixelSize), gridText(l))
	if l.SameGrid == "same" {
		place = fmt.Sprintf("on the grid of the first layer (reference system from the %s)%s", i.CRSSource, pointText(i.PixelIsPoint))
	}
	values := "unit " + unitText(i.Unit, i.UnitSource)
	if i.Scale != 1 || i.Offset != 0 {
		values += fmt.Sprintf(", value = stored x %s + %s", number(i.Scale), number(i.Offset))
	}
	values += ", missing: " + missingText(i.NoData, i.MaskBand)
	if s := l.Sample; s != nil {
		values += fmt.Sprintf("; sample: %s %% valid, min %s, median %s, max %s", number(100*s.ValidShare), number(s.Min), number(s.Median), number(s.Max))
	}
	return []string{file, place, values}
}

// projectionText leaves out the parameters that are zero and say nothing.
func projectionText(name string) string {
	var kept []string
	for _, word := range strings.Fields(name) {
		if word != "1/f=0" && word != "false_easting=0" && word != "false_northing=0" {
			kept = append(kept, word)
		}
	}
	return strings.Join(kept, " ")
}

func pointText(point bool) string {
	if point {
		return ", pixel is point"
	}
	return ""
}

func gridText(l inspectedLayer) string {
	i, text := l.Info, ""
	if i.LonDomain != "" {
		text += ", longitudes " + i.LonDomain
	}
	if i.LonWest {
		text += " positive west"
	}
	if i.Global {
		text += ", goes round the body"
	}
	text += pointText(i.PixelIsPoint)
	if l.SameGrid == "other" {
		text += ", not the grid of the first layer"
	}
	return text
}

func unitText(unit, source string) string {
	if unit == "" {
		return "not given"
	}
	return fmt.Sprintf("%s (from the %s)", unit, source)
}

func missingText(values []float64, mask bool) string {
	if mask {
		return "by the mask band"
	}
	if len(values) == 0 {
		return "NaN only"
	}
	texts := make([]string, len(values))
	for i, v := range values {
		texts[i] = number(v)
	}
	return strings.Join(texts, ", ")
}

// number writes a value with at most six digits.
func number(x float64) string { return strconv.FormatFloat(x, 'g', 6, 64) }
