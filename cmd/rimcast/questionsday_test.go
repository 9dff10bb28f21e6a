package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The demo has one time of day. What it cannot be asked stands in a second part
// of the table of questions, from the invented day.

const dayTitle = "## With several times of day\n"

const dayHead = dayTitle + `
The demo has one time of day. The scenario ` + "`day`" + ` has three, and

    rimcast synth day -o day
    rimcast screen day/survey.toml -o day-result --nulls 60

answers as follows. Made from that page and its ` + "`persistence.csv`" + ` by

    go test ./cmd/rimcast -run DayIsFound -update

and compared with them by the same test.

| question | the page says | for each crater |
|---|---|---|
`

const dayCraters = `
| crater | what was planted | what is said |
|---|---|---|
`

// keepDay writes the part of the demo before that of the day.
func keepDay(path, demo string) error {
	old, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	if _, day, found := strings.Cut(string(old), dayTitle); found {
		demo += "\n" + dayTitle + day
	}
	return os.WriteFile(path, []byte(demo), 0o666)
}

// dayQuestions are the rows of a page that the times of day answer.
func dayQuestions(page string) (rows string) {
	for row := range strings.Lines(questionRows(page)) {
		if strings.Contains(row, "time of day") || strings.Contains(row, "that of the sun") {
			rows += row
		}
	}
	return rows
}

// dayWords are the craters that have a blanket, with what was planted and said.
func dayWords(t *testing.T, survey, result string) (rows string) {
	said, order := map[string]string{}, []string{}
	notes := map[string]string{}
	for _, r := range readTable(t, filepath.Join(survey, "truth.csv")) {
		notes[r["crater_id"]] = r["note"]
	}
	for _, r := range readTable(t, filepath.Join(result, "persistence.csv")) {
		if r["name"] == "" { // nothing planted
			continue
		}
		key := fmt.Sprintf("| %s (%s) | %s |", r["name"], r["crater_id"], notes[r["crater_id"]])
		if said[key] == "" {
			order = append(order, key)
		} else {
			said[key] += "; "
		}
		said[key] += r["sentence"]
	}
	for _, key := range order {
		rows += key + " " + said[key] + " |\n"
	}
	return rows
}

// checkDayQuestions compares the answers of the invented day with the table.
func checkDayQuestions(t *testing.T, survey, result string) {
	t.Helper()
	asked := dayQuestions(readText(t, filepath.Join(result, "report.html")))
	if n := strings.Count(asked, "\n"); n != 2 || strings.Contains(asked, "Not asked") {
		t.Errorf("%d questions of the day are answered:\n%s", n, asked)
	}
	part := dayHead + asked + dayCraters + dayWords(t, survey, result)
	demo, table, _ := strings.Cut(readText(t, questionsFile), dayTitle)
	if *update {
		if err := os.WriteFile(questionsFile, []byte(strings.TrimRight(demo, "\n")+"\n\n"+part), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	if want := dayTitle + table; masked(part) != masked(want) {
		t.Errorf("the invented day says\n%s\n%s has\n%s", part, questionsFile, want)
	}
}
