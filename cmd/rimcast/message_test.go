package main

import (
	"errors"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestMessages(t *testing.T) {
	var b strings.Builder
	m := newMessages(&b)
	m.fail(&cliError{code: 3, problem: "water.tif has no CRS", remedy: "add --raster-crs"})
	m.warn("%d craters are missing", 3)
	m.say("screening")
	m.note("guessed")
	want := "rimcast: error: water.tif has no CRS\nrimcast: hint: add --raster-crs\nrimcast: warning: 3 craters are missing\nrimcast: screening\n"
	if b.String() != want {
		t.Errorf("messages %q, want %q", b.String(), want)
	}
	b.Reset()
	m.verbosity = -1
	m.say("screening")
	m.note("guessed")
	if b.String() != "" {
		t.Errorf("quiet messages %q", b.String())
	}
	m.verbosity = 1
	m.note("guessed")
	if b.String() != "rimcast: note: guessed\n" {
		t.Errorf("verbose message %q", b.String())
	}
}

func TestColourOnlyOnATerminal(t *testing.T) {
	var b strings.Builder
	m := newMessages(&b)
	m.fail(errors.New("x"))
	m.colour = true
	m.fail(errors.New("x"))
	if want := "rimcast: error: x\nrimcast: \x1b[1;31merror\x1b[0m: x\n"; b.String() != want {
		t.Errorf("%q", b.String())
	}
}

func TestPrintable(t *testing.T) {
	for text, want := range map[string]string{
		"plain äöü 月 ± ":     "plain äöü 月 ± ",
		"a\nrimcast: error":  `a\nrimcast: error`,
		"\x1b[31mred":        `\x1b[31mred`,
		"abc\u202edef":       `abc\u202edef`,
		"zero\u200bwidth":    `zero\u200bwidth`,
		"bad \xff byte":      "bad \uFFFD byte",
		"bad \xff\x00 bytes": "bad \uFFFD\\x00 bytes",
	} {
		if got := printable(text); got != want {
			t.Errorf("printable(%q) = %q, want %q", text, got, want)
		}
	}
}

func TestPrintableNeverMovesTheCursor(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		got := printable(string(rapid.SliceOf(rapid.Byte()).Draw(t, "bytes")))
		if strings.ContainsFunc(got, hidden) {
			t.Fatalf("%q", got)
		}
	})
}

func TestLogProgress(t *testing.T) {
	var b strings.Builder
	now := time.Unix(0, 0)
	p := &logProgress{m: newMessages(&b), now: func() time.Time { return now }, every: 10 * time.Second}
	p.Stage("sweep", 400)
	for range 4 {
		now = now.Add(6 * time.Second)
		p.Add(60)
	}
	p.Stage("reports", 0)
	p.Add(2)
	now = now.Add(1500 * time.Millisecond)
	p.Done()
	p.Done()
	want := "rimcast: sweep: 120 of 400 (30 %), 10 a second, about 28s left\n" +
		"rimcast: sweep: 240 of 400 (60 %), 10 a second, about 16s left\n" +
		"rimcast: sweep: 240 of 400 (60 %) in 24s\n" +
		"rimcast: reports: 2 done in 1.5s\n"
	if b.String() != want {
		t.Errorf("log\n%s\nwant\n%s", b.String(), want)
	}
}

func TestBarProgressCleansUp(t *testing.T) {
	var b strings.Builder
	m := newMessages(&b)
	m.terminal = true
	p := newProgress(m)
	p.Stage("sweep", 3)
	p.Add(1)
	p.Warn("a message between")
	p.Add(2)
	p.Done()
	if m.beforeLog != nil {
		t.Error("the bar is still known after its end")
	}
	if !strings.Contains(b.String(), "rimcast: warning: a message between\n") {
		t.Errorf("the warning is lost: %q", b.String())
	}
}
