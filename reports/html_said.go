package reports

import (
	"cmp"
	"html/template"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// said sets the sentences of a verdict as a list, one for each species or pair,
// with what it is about first and heavier.
func said(s *Survey, verdict string) template.HTML {
	var b strings.Builder
	b.WriteString(`<ul class="verdict">`)
	for _, l := range verdictLines(s, verdict) {
		b.WriteString("<li>")
		if l.lead != "" {
			b.WriteString("<strong>" + template.HTMLEscapeString(l.lead) + "</strong>")
		}
		b.WriteString(string(firmNumbers(l.rest)) + "</li>")
	}
	b.WriteString("</ul>")
	return template.HTML(b.String()) // every text in it is escaped
}

// verdictLine is what is said about a species or a pair of them.
type verdictLine struct{ lead, rest string }

// verdictLines takes a verdict apart. What begins with no species belongs to the
// line before; pairs that differ share a line.
func verdictLines(s *Survey, verdict string) (lines []verdictLine) {
	var unlike []string
	for part := range strings.SplitSeq(verdict, "; ") {
		lead := leadOf(s, part)
		l := verdictLine{lead, part[len(lead):]}
		switch p, differ := strings.CutPrefix(l.rest, unlikeWords); {
		case lead != "" && differ:
			unlike = append(unlike, lead+p)
		case lead == "" && len(lines) > 0:
			lines[len(lines)-1].rest += "; " + part
		default:
			lines = append(lines, l)
		}
	}
	return append(lines, unlikeLine(unlike)...)
}

// unlikeWords is how a verdict says that two species differ.
const unlikeWords = " differ in shape"

// unlikeLine is one line about all pairs that differ.
func unlikeLine(pairs []string) []verdictLine {
	switch len(pairs) {
	case 0:
		return nil
	case 1:
		lead, p, _ := strings.Cut(pairs[0], " (")
		return []verdictLine{{lead, unlikeWords + " (" + p}}
	}
	return []verdictLine{{"Different shapes:", " " + strings.Join(pairs, ", ")}}
}

// leadOf is the species or the pair of species with which a sentence begins;
// empty when it begins otherwise.
func leadOf(s *Survey, part string) string {
	first := speciesAtStart(s, part)
	if first == "" {
		return ""
	}
	rest, pair := strings.CutPrefix(part[len(first):], " and ")
	if second := speciesAtStart(s, rest); pair && second != "" {
		return first + " and " + second
	}
	return first
}

// speciesAtStart is the longest name of a species that a text begins with.
func speciesAtStart(s *Survey, text string) string {
	var names []string
	for _, sp := range s.Species {
		if strings.HasPrefix(text, sp.Name+" ") || strings.HasPrefix(text, sp.Name+":") {
			names = append(names, sp.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return slices.MaxFunc(names, func(a, b string) int { return cmp.Compare(len(a), len(b)) })
}

var exponent = regexp.MustCompile(`(?:\b[pq] )?(?:(?:&lt;|=) )?[0-9.]+e[-+][0-9]+|\b[pq] (?:(?:&lt;|=) )?[0-9.]+|[-0-9.]+ ± [0-9.]+|[0-9.]+ %`)

// firmNumbers keeps on one line what a browser would break: numbers with an
// exponent, their sign of comparison, and per cent.
func firmNumbers(text string) template.HTML {
	safe := template.HTMLEscapeString(text)
	return template.HTML(exponent.ReplaceAllString(safe, `<span class="nb">$0</span>`))
}

// sentence is a text of ours in which names occur: not cut, and with a capital.
func sentence(text string) template.HTML { return firmNumbers(capital(text)) }

func capital(text string) string {
	clean := cleanText(text)
	first, size := utf8.DecodeRuneInString(clean)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + clean[size:]
}
