package reports

import (
	"slices"
	"strings"
)

// An explanation tells a person what a word in the results means.
type explanation struct {
	term  string
	kind  string // one of [TermKinds]
	short string // one line
	long  string // one paragraph
}

// Explain returns one line and one paragraph about a word that appears in
// the results: a status, a pattern, an alarm, a verdict, a rule or the name of a
// number. Case does not matter, and blanks and hyphens count as underscores.
// ok is false for a word it does not know; [Terms] lists those it does.
func Explain(term string) (short, long string, ok bool) {
	e, ok := lookUp(term)
	return e.short, e.long, ok
}

// TermKinds are the kinds of words, in the order in which they should be read.
func TermKinds() []string {
	return []string{"verdict", "status", "pattern", "alarm", "state", "flag", "rule", "axis through the day", "number"}
}

// ExplainKind returns the kind of a term, one of [TermKinds]; empty for a word
// it does not know.
func ExplainKind(term string) string {
	e, _ := lookUp(term)
	return e.kind
}

// Terms returns the words that [Explain] knows, of one kind or, when kind is
// empty, of all kinds, in the order in which they should be read.
func Terms(kind string) []string {
	var out []string
	for _, e := range explanations() {
		if kind == "" || e.kind == kind {
			out = append(out, e.term)
		}
	}
	return out
}

func lookUp(term string) (explanation, bool) {
	want := normalTerm(term)
	list := explanations()
	at := slices.IndexFunc(list, func(e explanation) bool { return normalTerm(e.term) == want })
	if at < 0 {
		return explanation{}, false
	}
	return list[at], true
}

func normalTerm(s string) string {
	return strings.NewReplacer(" ", "_", "-", "_").Replace(strings.ToLower(strings.TrimSpace(s)))
}

func explanations() []explanation {
	return slices.Concat(explainVerdicts, explainStatuses, explainPatterns, explainAlarms, explainEpochs, explainRules, explainNumbers, explainMore, explainFollowUp)
}
