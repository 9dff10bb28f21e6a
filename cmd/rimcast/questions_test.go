package main

import (
	"errors"
	"fmt"
	"html"
	"os"
	"path/filepath"
	"regexp"
	"strings"
)

// questionsFile has what the page of the demo answers, as a table to read
// without the demo.
const questionsFile = "../../testdata/questions.md"

const questionsHead = `# What the demo answers

The questions that every survey is asked, the answer that the page of
` + "`rimcast demo`" + ` gives on the whole (part *Questions, and where the answers are*), and
where the answer for each crater stands. Made from that page by

    go test ./cmd/rimcast -run TestScripts/demo -update

and compared with it by the same test: the words must be those of the page, the
numbers may have moved a little since. Nothing here measures ground, and none of
it is for decisions about landing sites or life support.

| question | the page says | for each crater |
|---|---|---|
`

// setQuestions tells a script where the table is, and whether to write it.
func setQuestions(set func(key, value string)) error {
	path, err := filepath.Abs(questionsFile)
	set("QUESTIONS", path)
	if *update {
		set("QUESTIONS_UPDATE", "1")
	}
	return err
}

// questionsMain is a command of the scripts: "questions PAGE" compares the
// answers of a page with the table of the tour.
func questionsMain() {
	page, err := os.ReadFile(os.Args[1])
	if err == nil && os.Getenv("QUESTIONS_UPDATE") != "" {
		err = keepDay(os.Getenv("QUESTIONS"), questionsHead+questionRows(string(page)))
	}
	table, readErr := os.ReadFile(os.Getenv("QUESTIONS"))
	if err = errors.Join(err, readErr); err == nil {
		err = sameQuestions(questionRows(string(page)), string(table))
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, "questions:", err)
		os.Exit(1)
	}
}

var askedRow = regexp.MustCompile(`<tr><th scope="row">([^<]*)</th><td>([^<]*)</td><td><a href="#[^"]*">([^<]*)</a></td></tr>`)

// questionRows are the questions of a page as rows of a table.
func questionRows(page string) string {
	var b strings.Builder
	for _, m := range askedRow.FindAllStringSubmatch(page, -1) {
		fmt.Fprintf(&b, "| %s | %s | %s |\n", html.UnescapeString(m[1]), html.UnescapeString(m[2]), html.UnescapeString(m[3]))
	}
	return b.String()
}

// sameQuestions compares the rows of a page with those of a table.
func sameQuestions(page, table string) error {
	_, table, _ = strings.Cut(table, "|---|---|---|\n")
	table, _, _ = strings.Cut(table, "\n"+dayTitle)
	got, want := strings.Split(page, "\n"), strings.Split(table, "\n")
	if len(got) != len(want) || len(got) != 18+1 {
		return fmt.Errorf("%d rows on the page, %d in the table, want 18", len(got)-1, len(want)-1)
	}
	for i := range got {
		if masked(got[i]) != masked(want[i]) {
			return fmt.Errorf("the page says\n%s\nthe table\n%s", got[i], want[i])
		}
	}
	return nil
}

var (
	someNumber  = regexp.MustCompile(`[0-9]+(\.[0-9]+)?`)
	patternList = regexp.MustCompile(`Findings by pattern: [^|]*`)
)

// masked takes the numbers out of a row, and the patterns that happen to occur.
func masked(row string) string {
	return patternList.ReplaceAllString(someNumber.ReplaceAllString(row, "#"), "patterns ")
}
