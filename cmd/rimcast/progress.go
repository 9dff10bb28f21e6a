package main

import (
	"fmt"
	"sync"
	"time"

	"github.com/schollz/progressbar/v3"
)

// progress receives the advance of a long run. All methods may be called from
// several goroutines.
type progress interface {
	// Stage starts a named stage of total steps (0 when unknown) and ends the
	// one before.
	Stage(name string, total int)
	// Add advances the stage by n steps.
	Add(n int)
	// Note tells what was guessed or chosen; shown with -v.
	Note(format string, args ...any)
	// Warn tells what may make numbers wrong; shown always.
	Warn(format string, args ...any)
	// Done ends the last stage.
	Done()
}

// newProgress returns a bar on a terminal, plain lines with rates in a log,
// and silence with -q.
func newProgress(m *messages) progress {
	switch {
	case m.verbosity < 0:
		return &silentProgress{m}
	case m.terminal:
		return &barProgress{m: m}
	}
	return &logProgress{m: m, now: time.Now, every: 10 * time.Second}
}

type silentProgress struct{ m *messages }

func (p *silentProgress) Stage(string, int)               {}
func (p *silentProgress) Add(int)                         {}
func (p *silentProgress) Done()                           {}
func (p *silentProgress) Note(format string, args ...any) { p.m.note(format, args...) }
func (p *silentProgress) Warn(format string, args ...any) { p.m.warn(format, args...) }

// barProgress draws one bar per stage and removes it at the end of the stage.
type barProgress struct {
	m   *messages
	mu  sync.Mutex
	bar *progressbar.ProgressBar
}

func (p *barProgress) Stage(name string, total int) {
	p.Done()
	if total <= 0 {
		total = -1 // a spinner
	}
	bar := progressbar.NewOptions(total,
		progressbar.OptionSetWriter(p.m.w),
		progressbar.OptionSetDescription(fmt.Sprintf("%-24s", printable(name))),
		progressbar.OptionSetWidth(24),
		progressbar.OptionShowCount(),
		progressbar.OptionShowIts(),
		progressbar.OptionThrottle(100*time.Millisecond),
		progressbar.OptionClearOnFinish())
	p.mu.Lock()
	p.bar = bar
	p.mu.Unlock()
	p.m.mu.Lock()
	p.m.beforeLog = func() { _ = bar.Clear() }
	p.m.mu.Unlock()
}

func (p *barProgress) Add(n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar != nil {
		_ = p.bar.Add(n) // a terminal that cannot be written is no reason to stop
	}
}

func (p *barProgress) Done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.bar == nil {
		return
	}
	_ = p.bar.Finish()
	p.bar = nil
	p.m.mu.Lock()
	p.m.beforeLog = nil
	p.m.mu.Unlock()
}

func (p *barProgress) Note(format string, args ...any) { p.m.note(format, args...) }
func (p *barProgress) Warn(format string, args ...any) { p.m.warn(format, args...) }

// logProgress prints a line at the start and the end of a stage and, in a long
// one, a line with the rate every so often.
type logProgress struct {
	m     *messages
	now   func() time.Time
	every time.Duration

	mu          sync.Mutex
	name        string
	total, done int
	start, last time.Time
}

func (p *logProgress) Stage(name string, total int) {
	p.Done()
	p.mu.Lock()
	defer p.mu.Unlock()
	p.name, p.total, p.done = name, total, 0
	p.start = p.now()
	p.last = p.start
}

func (p *logProgress) Add(n int) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done += n
	if now := p.now(); p.name != "" && now.Sub(p.last) >= p.every {
		p.last = now
		p.m.say("%s: %s, %s", p.name, p.count(), p.rate(now))
	}
}

func (p *logProgress) Done() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.name == "" {
		return
	}
	now := p.now()
	p.m.say("%s: %s in %s", p.name, p.count(), roundTime(now.Sub(p.start)))
	p.name = ""
}

func (p *logProgress) count() string {
	switch {
	case p.total <= 0 && p.done == 0:
		return "done"
	case p.total <= 0:
		return fmt.Sprintf("%d done", p.done)
	}
	return fmt.Sprintf("%d of %d (%d %%)", p.done, p.total, 100*p.done/p.total)
}

func (p *logProgress) rate(now time.Time) string {
	perSecond := float64(p.done) / max(now.Sub(p.start).Seconds(), 1e-3)
	text := fmt.Sprintf("%.3g a second", perSecond)
	// The first steps of a stage wait for its first blocks and tell nothing yet.
	if left := p.total - p.done; left > 0 && 100*p.done >= p.total {
		text += fmt.Sprintf(", about %s left", roundTime(time.Duration(float64(left)/perSecond*1e9)))
	}
	return text
}

func (p *logProgress) Note(format string, args ...any) { p.m.note(format, args...) }
func (p *logProgress) Warn(format string, args ...any) { p.m.warn(format, args...) }

// roundTime keeps a duration readable: tenths below ten seconds, whole seconds
// above.
func roundTime(d time.Duration) time.Duration {
	if d < 10*time.Second {
		return d.Round(100 * time.Millisecond)
	}
	return d.Round(time.Second)
}
