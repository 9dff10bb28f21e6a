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
	for part := range strings.SplitSeq(verdict, "; ") {
		lead := leadOf(s, part)
		b.WriteString("<li>")
		if lead != "" {
			b.WriteString("<strong>" + template.HTMLEscapeString(lead) + "</strong>")
		}
		b.WriteString(string(firmNumbers(part[len(lead):])) + "</li>")
	}
	b.WriteString("</ul>")
	return template.HTML(b.String()) // every text in it is escaped
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
		if strings.HasPrefix(text, sp.Name+" ") {
			names = append(names, sp.Name)
		}
	}
	if len(names) == 0 {
		return ""
	}
	return slices.MaxFunc(names, func(a, b string) int { return cmp.Compare(len(a), len(b)) })
}

var exponent = regexp.MustCompile(`[0-9.]+e[-+][0-9]+`)

// firmNumbers keeps numbers with an exponent, which a browser breaks at the
// sign, on one line.
func firmNumbers(text string) template.HTML {
	safe := template.HTMLEscapeString(text)
	return template.HTML(exponent.ReplaceAllString(safe, `<span class="nb">$0</span>`))
}

// sentence is a text of ours in which names occur: not cut, and with a capital.
func sentence(text string) template.HTML {
	clean := cleanText(text)
	first, size := utf8.DecodeRuneInString(clean)
	if size == 0 {
		return ""
	}
	return firmNumbers(string(unicode.ToUpper(first)) + clean[size:])
}
