package main

import (
	"fmt"
	"io"
	"math"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
	"rimcast/reports"
)

// This file draws a crater in characters.

// craterHead says which crater it is and where, in both longitude signs.
func craterHead(w io.Writer, c geom.Crater, t ejecta.Target, below []ejecta.Finding) {
	east := math.Mod(c.Centre.Lon+360, 360)
	fmt.Fprintf(w, "%s  id %s  lat %s  lon %s E = %s W  R = %s km\n", printable(orText(c.Name, "unnamed")), printable(c.ID),
		number(c.Centre.Lat), number(east), number(math.Mod(360-east, 360)), number(c.Radius/1000))
	if t.Rank > 0 {
		fmt.Fprintf(w, "rank %d, score %s%s\n", t.Rank, short(t.Score), unlessBelow(t.Verdict, below))
	}
	if t.Why != "" {
		fmt.Fprintf(w, "why: %s\n", printable(t.Why))
	}
}

// unlessBelow is a verdict that the species do not already say, each for itself.
func unlessBelow(verdict string, below []ejecta.Finding) string {
	for _, f := range below {
		if f.Verdict != "" && strings.Contains(verdict, f.Verdict) {
			return ""
		}
	}
	return ": " + printable(verdict)
}

func orText(s, other string) string {
	if s == "" {
		return other
	}
	return s
}

// short writes a number with three digits, "-" when it could not be measured.
func short(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	return fmt.Sprintf("%.3g", x)
}

// plusMinus writes a number to the second digit of its standard error.
func plusMinus(x, se float64) string {
	if math.IsNaN(x) || math.IsNaN(se) {
		return short(x)
	}
	return reports.ErrorDigits(x, se)
}

// chance writes a p or q with its sign of comparison: below 1e-12 its digits mean
// nothing.
func chance(name string, p float64) string {
	if p < 1e-12 {
		return name + " < 1e-12"
	}
	return name + " " + short(p)
}

// withoutSpecies is a sentence that stands under the name of its species already.
func withoutSpecies(sentence, species string) string {
	rest, ok := strings.CutPrefix(sentence, species)
	if !ok {
		return sentence
	}
	return strings.TrimLeft(rest, ": ")
}

// extentText is how far out a blanket is seen.
func extentText(extent float64) string {
	if math.IsNaN(extent) {
		return "not seen to leave the background"
	}
	return "out to " + short(extent) + " R"
}

// findingText writes all about one species.
func findingText(w io.Writer, f ejecta.Finding) {
	fmt.Fprintf(w, "\n%s, %s: %s\n", strings.ToUpper(printable(f.Species)), orText(printable(f.Unit), "no unit"), printable(withoutSpecies(orText(f.Verdict, string(f.Status)), f.Species)))
	if !f.Status.Measured() {
		fmt.Fprintf(w, "  %s: %s\n", f.Status, printable(f.Note))
		return
	}
	line := func(label, format string, args ...any) {
		fmt.Fprintf(w, "  %-12s %s\n", label, fmt.Sprintf(format, args...))
	}
	line("sample", "%d pixels, %s pixels a radius, %.0f %% covered, as good as %s independent ones", f.Pixels, short(f.PixelsPer), 100*f.Coverage, short(f.NEff))
	line("background", "%s", plusMinus(f.Background, f.BackgroundSE))
	line("excess", "%s over 1.1 to 2.5 R", plusMinus(f.Excess, f.ExcessSE))
	if !math.IsNaN(f.RimExcess) {
		line("blanket", "rim excess %s, %s, %s; decay exponent %s, %s", plusMinus(f.RimExcess, f.RimExcessSE), chance("p", f.ExcessP), chance("q", f.ExcessQ), plusMinus(f.Decay, f.DecaySE), extentText(f.Extent))
	}
	line("pattern", "%s; asymmetry %s, %s, %s", orText(string(f.Pattern), "not tested"), plusMinus(f.Asymmetry, f.AsymmetrySE), chance("p", f.AsymmetryP), chance("q", f.AsymmetryQ))
	if f.Pattern.Directional() {
		line("direction", "%s degrees clockwise from north", plusMinus(f.Axis, f.AxisSE))
		lobeText(w, f)
	}
	line("limits", "found half the time from %s, nearly always from %s; at most %s (95 %%)", short(f.Detectable50), short(f.Detectable95), short(f.UpperLimit95))
	if r := f.Robust; r.Tried > 0 {
		line("robust", "%d of %d other choices give the same verdict%s", r.Tried-len(r.Overturned), r.Tried, butNot(r.Overturned))
	}
	alarmText(w, f.Alarms)
	radialText(w, f.Radial)
	roseText(w, f.Azimuthal)
}

// lobeText writes each direction in which the excess leaves the crater, and how
// wide a gap is.
func lobeText(w io.Writer, f ejecta.Finding) {
	for _, l := range f.Lobes {
		fmt.Fprintf(w, "  %-12s at %.0f degrees, %.0f wide, %s at the rim, %s\n", lobeWord(f.Pattern), l.Azimuth, l.Width, plusMinus(l.Amplitude, l.SE), seenTo(l.Reach))
	}
	if f.Pattern == ejecta.PatternGap {
		fmt.Fprintf(w, "  %-12s %.0f degrees wide\n", "gap", f.GapWidth)
	}
}

func lobeWord(p ejecta.Pattern) string {
	if p == ejecta.PatternRays {
		return "ray"
	}
	return "lobe"
}

func seenTo(reach float64) string {
	if math.IsNaN(reach) {
		return "too faint to follow"
	}
	return "seen to " + short(reach) + " R"
}

// butNot lists what overturns a verdict.
func butNot(choices []string) string {
	if len(choices) == 0 {
		return ""
	}
	return "; not " + strings.Join(choices, ", ")
}

// alarmText lists the alarms that fired, and those that could not run by what
// kept them.
func alarmText(w io.Writer, alarms []ejecta.Alarm) {
	for _, a := range alarms {
		if a.Raised {
			fmt.Fprintf(w, "  %-12s %s: %s (%s)\n", "alarm", a.Name, printable(a.Detail), alarmAmount(a))
		}
	}
	for _, line := range notRunLines(alarms) {
		fmt.Fprintf(w, "  %-12s %s\n", "not run", printable(line))
	}
}

// notRunLines are the alarms that could not run, a line for each reason and one
// for all that lack a layer.
func notRunLines(alarms []ejecta.Alarm) (lines []string) {
	var reasons []string
	names := map[string][]string{}
	for _, a := range alarms {
		if a.NotRun == "" {
			continue
		}
		reason, name := lackOf(a)
		if names[reason] == nil {
			reasons = append(reasons, reason)
		}
		names[reason] = append(names[reason], name)
	}
	for _, r := range reasons {
		lines = append(lines, r+": "+strings.Join(names[r], ", "))
	}
	return lines
}

// lackOf is why an alarm did not run and its name, with the layer that it lacks.
func lackOf(a ejecta.Alarm) (reason, name string) {
	reason, layer, ok := strings.Cut(a.NotRun, ": ")
	if !ok {
		return a.NotRun, a.Name
	}
	return reason, a.Name + " (" + layer + ")"
}

// alarmAmount is the number of an alarm beside its limit.
func alarmAmount(a ejecta.Alarm) string {
	if a.Unit == "p" {
		return chance("p", a.Value) + ", limit " + short(a.Limit)
	}
	return strings.TrimSpace(short(a.Value) + ", limit " + short(a.Limit) + " " + a.Unit)
}

// barWidth is the length of the longest bar of the radial profile.
const barWidth = 32

// radialText draws the excess of each ring as a bar, with two standard errors
// as a thinner tail.
func radialText(w io.Writer, rings []ejecta.RingValue) {
	scale := 0.0
	for _, r := range rings {
		if x := math.Abs(r.Excess) + 2*r.SE; x > scale { // false for NaN
			scale = x
		}
	}
	if scale == 0 || math.IsInf(scale, 0) {
		return
	}
	fmt.Fprintf(w, "  range, R         excess          = one, - two standard errors; full width %s\n", short(scale))
	for _, r := range rings {
		if math.IsNaN(r.Excess) {
			fmt.Fprintf(w, "  %5.2f - %5.2f  no data\n", r.RhoLo, r.RhoHi)
			continue
		}
		fmt.Fprintf(w, "  %5.2f - %5.2f  %7s ± %-7s %s\n", r.RhoLo, r.RhoHi, short(r.Excess), short(r.SE), strings.TrimRight(bar(r.Excess, r.SE, scale), " "))
	}
}

// bar draws |x| with '#', to which the range of one standard error adds '=' and
// that of two '-'; a negative excess is marked in front.
func bar(x, se, scale float64) string {
	at := func(v float64) int {
		return int(math.Round(math.Max(0, math.Min(v/scale, 1)) * barWidth))
	}
	size, sign := math.Abs(x), " "
	if x < 0 {
		sign = "-"
	}
	if math.IsNaN(se) {
		se = 0
	}
	full, one, two := at(size), at(size+se), at(size+2*se)
	return sign + "|" + strings.Repeat("#", full) + strings.Repeat("=", one-full) + strings.Repeat("-", two-one)
}

// The rose: rows and columns of characters. A character is about twice as high
// as wide.
const (
	roseRows = 13
	roseCols = 27
	roseHole = 0.35 // the rim, as a share of the rose's radius
)

// roseText draws the sectors round the crater, north up, each shaded by how
// many standard errors its excess is away from nothing.
func roseText(w io.Writer, sectors []ejecta.SectorValue) {
	if len(sectors) == 0 {
		return
	}
	fmt.Fprintln(w, "  north up, in standard errors: - below -2, . to 2, : to 4, + to 8, # above")
	fmt.Fprintf(w, "      %*s\n", roseCols/2+1, "N")
	for row := range roseRows {
		line := make([]byte, roseCols)
		for col := range line {
			line[col] = roseChar(sectors, row, col)
		}
		fmt.Fprintf(w, "      %s\n", strings.TrimRight(string(line), " "))
	}
}

func roseChar(sectors []ejecta.SectorValue, row, col int) byte {
	north := 1 - 2*(float64(row)+0.5)/roseRows
	east := 2*(float64(col)+0.5)/roseCols - 1
	r := math.Hypot(north, east)
	switch {
	case r > 1:
		return ' '
	case r < roseHole:
		return 'o'
	}
	az := math.Mod(math.Atan2(east, north)*180/math.Pi+360, 360)
	for _, s := range sectors {
		if inSector(az, s) {
			return shade(s.Mean / s.SE)
		}
	}
	return ' '
}

// inSector reports whether an azimuth lies in a sector, which may reach across
// north.
func inSector(az float64, s ejecta.SectorValue) bool {
	d := math.Mod(az-s.AzLo+720, 360)
	return d < s.AzHi-s.AzLo
}

// shade is the character for a number of standard errors.
func shade(z float64) byte {
	switch {
	case math.IsNaN(z):
		return ' '
	case z < -2:
		return '-'
	case z <= 2:
		return '.'
	case z <= 4:
		return ':'
	case z <= 8:
		return '+'
	}
	return '#'
}
