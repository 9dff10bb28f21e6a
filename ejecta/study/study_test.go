package study

import (
	"bytes"
	"flag"
	"os"
	"slices"
	"strings"
	"testing"
)

var (
	whole = flag.Bool("study", false, "run the whole study and print its tables")
	seed  = flag.Uint64("study.seed", 1, "seed of the study")
	part  = flag.Float64("study.part", 1, "share of the draws to do")
	noise = flag.String("study.noise", "", "noise types to do, with commas; empty does all")
	parts = flag.String("study.tables", "", "kinds of tables to make, with commas: "+strings.Join(TableKinds(), ", ")+"; empty makes all")
	out   = flag.String("study.out", "", "file for the tables of the whole study")
)

// TestStudy runs the whole study when asked to.
func TestStudy(t *testing.T) {
	if !*whole {
		t.Skip("-study runs the whole study")
	}
	plan := Full(*seed).Part(*part)
	if *noise != "" {
		plan.Noise = strings.Split(*noise, ",")
	}
	if *parts != "" {
		plan.Tables = strings.Split(*parts, ",")
	}
	for _, k := range plan.Tables {
		if !slices.Contains(TableKinds(), k) {
			t.Fatalf("no table of the kind %q", k)
		}
	}
	r, err := Run(plan, func(s string) { t.Log(s) })
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	r.Markdown(&b)
	t.Log("\n" + b.String())
	if *out != "" {
		if err := os.WriteFile(*out, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestQuickStudy holds the engine to bounds that chance alone breaks less than
// once in thousands of seeds, and a mistake in whitening, templates, intervals
// or scale breaks at once.
func TestQuickStudy(t *testing.T) {
	r, err := Run(Quick(3), nil)
	if err != nil {
		t.Fatal(err)
	}
	bounds := func(what string, got, lo, hi float64) {
		if !(got >= lo && got <= hi) {
			t.Errorf("%s = %.3f, want %g..%g", what, got, lo, hi)
		}
	}
	for _, s := range r.Sizes {
		// Binomial with n = 150: 0.05 has sd 0.018, 0.01 has 0.008.
		bounds(s.world+": size at .05", s.plain.share(0), 0, 0.13)
		bounds(s.world+": size at .01", s.plain.share(1), 0, 0.05)
		bounds(s.world+": enrichment size at .05", s.enrichment.share(0), 0, 0.13)
		bounds(s.world+": null scale, lowest", s.scaleLo, 0.8, 1.25)
		bounds(s.world+": null scale, highest", s.scaleHi, 0.8, 1.25)
	}
	for _, p := range r.Powers {
		bounds(p.kind+": oracle", share(p.oracle, p.n), 0.75, 1)
		bounds(p.kind+": all tests over the oracle", share(p.whole, p.oracle), 0.4, 1.05)
		if p.kind == "one-sided" || p.kind == "bilateral" {
			rms, _ := p.rms()
			bounds(p.kind+": own family over the oracle", share(p.family, p.oracle), 0.8, 1.1)
			bounds(p.kind+": axis error over bound", rms/p.bound, 0.6, 1.6)
			bounds(p.kind+": axis interval 95", share(p.cover95, p.direct), 0.75, 1)
			// Binomial with n = 28: 0.68 has sd 0.09.
			bounds(p.kind+": axis interval 68, detected or not", share(p.all68, p.all), 0.42, 0.94)
			bounds(p.kind+": axis interval 95, detected or not", share(p.all95, p.all), 0.82, 1)
		}
	}
	for _, a := range r.Amplitudes {
		bounds("median bias of A", a.bias, -0.06, 0.06)
		bounds("interval of A 68", share(a.cover68, a.n), 0.54, 0.80)
		bounds("interval of A 95", share(a.cover95, a.n), 0.88, 0.995)
		bounds("interval of b 95", share(a.knownCover95, a.known), 0.88, 0.995)
	}
	for _, c := range r.Confusions {
		for i, p := range classes {
			bounds("class "+string(p), c.share(i, i), 0.75, 1)
		}
	}
	for _, c := range r.Contrasts {
		if strings.HasPrefix(c.truth, "second one-sided") {
			bounds("contrast, "+c.truth, share(c.tested, c.n), 0.75, 1)
		} else if strings.HasPrefix(c.truth, "same") || strings.HasPrefix(c.truth, "both") {
			bounds("contrast, "+c.truth, share(c.tested, c.n), 0, 0.15)
		}
	}
	for _, c := range r.Catalogues {
		bounds("BH false share", c.bhFalse, 0, 0.25)
		bounds("BH found", c.bhFound, 0.7, 1)
	}
	var b bytes.Buffer
	r.Markdown(&b)
	if n := strings.Count(b.String(), "\n### "); n != 10 {
		t.Errorf("%d tables of 10:\n%s", n, b.String())
	}
}

// The same seed gives the same tables, whatever the processors do.
func TestStudyIsReproducible(t *testing.T) {
	text := func() string {
		p := Quick(5)
		p.PerMap, p.Power, p.Depth = 20, nil, nil
		r, err := Run(p, nil)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		r.Markdown(&b)
		return b.String()
	}
	if a, b := text(), text(); a != b {
		t.Errorf("two runs differ:\n%s\n%s", a, b)
	}
}
