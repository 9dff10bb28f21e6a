package reports

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/emulation"
)

// axeScript runs the checker over the page, sheets that are out of sight
// included, and leaves what it found.
const axeScript = `window.axeFound = null; (async () => {
	document.querySelectorAll(".sheet").forEach(s => { s.style.contentVisibility = "visible"; });
	document.querySelectorAll("details").forEach(d => { d.open = true; });
	const run = await axe.run(document, {resultTypes: ["violations"]});
	window.axeFound = run.violations.map(v => v.id + " (" + v.help + "): " + v.nodes.slice(0, 3).map(n => n.html.slice(0, 120)).join(" | ")).join("\n");
	window.axePassed = run.passes.length;
})(); undefined`

// A checker of accessibility finds nothing to mend in either theme.
func TestReportIsAccessible(t *testing.T) {
	b := openReport(t, fixture(8))
	checker, err := os.ReadFile(filepath.Join(npmTools(t, "AXE", "axe-core"), "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		t.Fatal(err)
	}
	for _, scheme := range []string{"light", "dark"} {
		b.do(t, lookAs(scheme, emulation.SetEmulatedVisionDeficiencyTypeNone), script(string(checker)+"; undefined"), script(axeScript))
		b.await(t, "window.axeFound !== null")
		if found := b.ask(t, "window.axeFound"); found != "" {
			t.Errorf("%s: %s", scheme, found)
		}
		if b.ask(t, "window.axePassed > 20") != "true" {
			t.Errorf("%s: the checker looked at next to nothing", scheme)
		}
	}
}
