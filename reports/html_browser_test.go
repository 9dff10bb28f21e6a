package reports

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
)

// browser is a headless browser with a report open, and what went wrong in it.
type browser struct {
	context.Context
	mu       sync.Mutex
	trouble  []string
	requests []string
}

// step is something done to the page.
type step = chromedp.Action[chromedp.Void]

// openReport opens the report of a survey; the test is skipped where there is
// no browser.
func openReport(t *testing.T, s *Survey) *browser {
	t.Helper()
	program := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome", "chrome"} {
		if path, err := exec.LookPath(name); err == nil {
			program = path
			break
		}
	}
	if program == "" {
		t.Skip("no chromium on this machine: the report is not tried in a browser (apt-get install chromium)")
	}
	dir := t.TempDir()
	write := func(w io.Writer) error { return WriteReport(w, s, Options{SheetTop: 9}) }
	if err := writeFile(filepath.Join(dir, "report.html"), write); err != nil {
		t.Fatal(err)
	}
	options := []chromedp.ExecAllocatorOption{chromedp.ExecPath(program), chromedp.Headless, chromedp.NoSandbox, chromedp.DisableGPU, chromedp.NoFirstRun,
		chromedp.UserDataDir(t.TempDir()), chromedp.WindowSize(1280, 900), chromedp.Flag("disable-quic", true),
		chromedp.Flag("disable-background-networking", true), chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true)}
	ctx, stop := context.WithTimeout(context.Background(), 3*patience)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewExecAllocator(ctx, options...)
	t.Cleanup(stop)
	ctx, stop = chromedp.NewContext(ctx)
	t.Cleanup(stop)
	t.Cleanup(func() { chromedp.Cancel(ctx) })
	b := &browser{Context: ctx}
	if err := chromedp.Listen(ctx, b.note); err != nil {
		t.Fatal(err)
	}
	enable := chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		if _, err := cdp.Call(ctx, target, network.Enable, network.EnableParams{}); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, target, log.Enable, cdp.Empty{})
		return err
	})
	b.do(t, enable, chromedp.Navigate("file://"+filepath.Join(dir, "report.html")), chromedp.WaitReady(chromedp.CSS("#rows .open")))
	return b
}

// note records errors and requests.
func (b *browser) note(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.trouble = append(b.trouble, fmt.Sprintf("%+v", e.ExceptionDetails))
	case *runtime.EventConsoleAPICalled:
		b.trouble = append(b.trouble, "console "+string(e.Type))
	case *log.EventEntryAdded:
		b.trouble = append(b.trouble, e.Entry.Text)
	case *network.EventRequestWillBeSent:
		if !strings.HasPrefix(e.Request.URL, "data:") {
			b.requests = append(b.requests, e.Request.URL)
		}
	}
}

func (b *browser) do(t *testing.T, steps ...step) {
	t.Helper()
	if err := chromedp.Do(b, steps...); err != nil {
		t.Fatal(err)
	}
}

func script(text string) step { return chromedp.Evaluate[chromedp.Void](text) }

// ask evaluates an expression to text.
func (b *browser) ask(t *testing.T, expression string) string {
	t.Helper()
	answer, err := chromedp.Run(b, chromedp.Evaluate[string]("String("+expression+")"))
	if err != nil {
		t.Fatal(err)
	}
	return answer
}

// patience is how long a page may take over what a quiet machine does at once.
const patience = 2 * time.Minute

// awaitText waits until an expression has a text.
func (b *browser) awaitText(t *testing.T, expression, want string) {
	t.Helper()
	b.await(t, fmt.Sprintf("String(%s) === %q", expression, want))
}

// rowCount is what the page says about the rows in the table.
const rowCount = `document.getElementById("count").textContent`

// clear empties the filter and waits for all rows.
func (b *browser) clear(t *testing.T, rows int) {
	t.Helper()
	b.do(t, chromedp.Click(chromedp.CSS(`#tools button[type=reset]`)))
	b.await(t, fmt.Sprintf(`%s.startsWith("%d of %d rows")`, rowCount, rows, rows))
}

// await waits until an expression is true: a busy machine is no fault.
func (b *browser) await(t *testing.T, expression string) {
	t.Helper()
	for until := time.Now().Add(patience); time.Now().Before(until); time.Sleep(50 * time.Millisecond) {
		if b.ask(t, expression) == "true" {
			return
		}
	}
	t.Fatalf("never true: %s", expression)
}

// check fails when the page complained or asked for anything but itself.
func (b *browser) check(t *testing.T) {
	t.Helper()
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.trouble) > 0 {
		t.Errorf("the page complained: %q", b.trouble)
	}
	if len(b.requests) != 1 {
		t.Errorf("requests %q, want the page alone", b.requests)
	}
}

// cells is the text of the n-th column (from 1) of the rows in sight.
func cells(n int) string {
	return fmt.Sprintf(`[...document.querySelectorAll("#rows tr:not(.gap) td:nth-child(%d)")].map(d => d.textContent).join("|")`, n)
}

func TestReportInABrowser(t *testing.T) {
	b := openReport(t, fixture(60))
	t.Run("sort", func(t *testing.T) { browserSorts(t, b) })
	t.Run("filter", func(t *testing.T) { browserFilters(t, b) })
	t.Run("open", func(t *testing.T) { browserOpens(t, b) })
	b.check(t)
}

func browserSorts(t *testing.T, b *browser) {
	if got := b.ask(t, cells(1)); !strings.HasPrefix(got, "1|1|2|2|3|3") {
		t.Errorf("ranks at the start: %s", got)
	}
	b.do(t, chromedp.Click(chromedp.CSS("#head th:nth-child(1) button")))
	b.await(t, cells(1)+`.startsWith("60|60|59|59")`)
	b.do(t, chromedp.Click(chromedp.CSS("#head th:nth-child(14) button")))
	b.awaitText(t, `document.querySelector("#head th:nth-child(14)").getAttribute("aria-sort")`, "ascending")
	b.do(t, chromedp.Click(chromedp.CSS("#head th:nth-child(7) button")), chromedp.Click(chromedp.CSS("#head th:nth-child(7) button")))
	b.awaitText(t, `document.querySelector("#head th:nth-child(7)").getAttribute("aria-sort")`, "descending")
	if got := b.ask(t, `document.querySelector("#rows tr:nth-child(2) td:nth-child(7)").textContent`); got == "–" {
		t.Error("a missing value came first")
	}
	b.do(t, chromedp.Click(chromedp.CSS("#head th:nth-child(1) button")))
}

func browserFilters(t *testing.T, b *browser) {
	b.do(t, chromedp.SendKeys(chromedp.CSS("#f-text"), "hv-02"))
	b.await(t, rowCount+`.startsWith("20 of 120 rows")`)
	b.clear(t, 120)
	b.do(t, chromedp.SetValue(chromedp.CSS("#f-pattern"), "0"), script(`document.getElementById("tools").dispatchEvent(new Event("input"))`))
	b.await(t, "!"+rowCount+`.startsWith("120 of")`)
	got := b.ask(t, cells(5))
	if got == "" || strings.ReplaceAll(strings.ReplaceAll(got, "bilateral", ""), "|", "") != "" {
		t.Errorf("after the pattern filter: %s", got)
	}
	b.clear(t, 120)
}

func browserOpens(t *testing.T, b *browser) {
	b.do(t, chromedp.Focus(chromedp.CSS("#rows .open")), chromedp.KeyEvent("\r"))
	b.awaitText(t, `location.hash + " " + document.activeElement.id`, "#crater-0 crater-0")
	b.do(t, script(`document.querySelector(".links a:nth-child(3)").dispatchEvent(new MouseEvent("click", {bubbles: true}))`))
	b.awaitText(t, "location.hash", "#crater-2")
	b.do(t, chromedp.SendKeys(chromedp.CSS("#f-text"), "hv-040"))
	b.await(t, rowCount+`.startsWith("2 of")`)
	b.do(t, chromedp.Focus(chromedp.CSS("#rows .open")), chromedp.KeyEvent("\r")) // the page may still be scrolling under a pointer
	b.await(t, `document.getElementById("card").open`)
	b.awaitText(t, `document.getElementById("card-h").textContent`, "Dunmore 40 (HV-040)")
	b.do(t, chromedp.Focus(chromedp.CSS("#card button")), chromedp.KeyEvent("\r"))
	b.await(t, `!document.getElementById("card").open`)
	if got := b.ask(t, "document.title"); strings.Contains(got, "pwned") {
		t.Error("a name was run as a script")
	}
}

func TestReportStaysQuick(t *testing.T) {
	b := openReport(t, many(100000))
	if got := b.ask(t, `document.querySelectorAll("#rows tr").length`); len(got) > 2 {
		t.Errorf("%s rows exist at once", got)
	}
	b.await(t, rowCount+`.startsWith("200000 of 200000 rows")`)
	b.do(t, script(`{ const g = document.getElementById("grid"); g.scrollTop = g.scrollHeight; }`))
	b.await(t, `document.querySelector("#rows tr:nth-last-child(2)").getAttribute("aria-rowindex") === "200001"`)
	t.Logf("sorting 200000 rows took %s ms", b.timed(t, `document.querySelector("#head th:nth-child(8) button").click()`))
	b.do(t, script(`document.getElementById("f-text").value = "hv-0123"`))
	t.Logf("filtering by name took %s ms", b.timed(t, `document.getElementById("tools").dispatchEvent(new Event("input")); await until(() => !said().startsWith("200000 of"))`))
	b.clear(t, 200000)
	t.Logf("a page of %s MB was ready after %s ms, with", b.ask(t, `(document.documentElement.outerHTML.length / 1e6).toFixed(1)`),
		b.ask(t, `Math.round(performance.getEntriesByType("navigation")[0].domContentLoadedEventEnd)`))
	t.Logf("%s MB of script memory", b.ask(t, `Math.round(performance.memory.usedJSHeapSize / 1e6)`))
	b.check(t)
}

// timed is the time in milliseconds that something done to the page takes.
func (b *browser) timed(t *testing.T, what string) string {
	t.Helper()
	b.do(t, script(`window.took = ""; (async () => {
		const said = () => document.getElementById("count").textContent;
		const until = async yes => { while (!yes()) await new Promise(r => setTimeout(r, 5)); };
		const start = performance.now();
		`+what+`;
		window.took = String(Math.round(performance.now() - start));
	})(); undefined`))
	b.await(t, `window.took !== ""`)
	return b.ask(t, "window.took")
}

// TestReportPreview takes pictures of the page where RIMCAST_PREVIEW says.
func TestReportPreview(t *testing.T) {
	dir := os.Getenv("RIMCAST_PREVIEW")
	if dir == "" {
		t.Skip("RIMCAST_PREVIEW names no directory")
	}
	b := openReport(t, fixture(60))
	for _, view := range []struct {
		name, scheme string
		width        int64
		sight        emulation.SetEmulatedVisionDeficiencyType
	}{
		{"light", "light", 1280, emulation.SetEmulatedVisionDeficiencyTypeNone},
		{"dark", "dark", 1280, emulation.SetEmulatedVisionDeficiencyTypeNone},
		{"grey", "light", 1280, emulation.SetEmulatedVisionDeficiencyTypeAchromatopsia},
		{"deutan", "light", 1280, emulation.SetEmulatedVisionDeficiencyTypeDeuteranopia},
		{"narrow", "light", 390, emulation.SetEmulatedVisionDeficiencyTypeNone},
	} {
		b.do(t, chromedp.EmulateViewport(view.width, 1400), lookAs(view.scheme, view.sight))
		for part, goal := range map[string]string{"top": "header", "map": "#map", "all": "#all", "sheet": "#crater-0", "trust": "#trust"} {
			b.do(t, script(`document.querySelector("`+goal+`").scrollIntoView({behavior: "instant"})`), chromedp.Sleep(300*time.Millisecond))
			picture, err := chromedp.Run(b, chromedp.CaptureScreenshot())
			b.keep(t, filepath.Join(dir, "page-"+view.name+"-"+part+".png"), picture, err)
		}
	}
	pdf, err := chromedp.Run(b, chromedp.PrintToPDF())
	b.keep(t, filepath.Join(dir, "page.pdf"), pdf, err)
}

func (b *browser) keep(t *testing.T, path string, data []byte, err error) {
	t.Helper()
	if err == nil {
		err = os.WriteFile(path, data, 0o666)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// lookAs sets the colour scheme and simulates a colour vision deficiency.
func lookAs(scheme string, sight emulation.SetEmulatedVisionDeficiencyType) step {
	return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		media := emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: scheme}}}
		if _, err := cdp.Call(ctx, target, emulation.SetEmulatedMedia, media); err != nil {
			return err
		}
		_, err := cdp.Call(ctx, target, emulation.SetEmulatedVisionDeficiency, emulation.SetEmulatedVisionDeficiencyParams{Type: sight})
		return err
	})
}
