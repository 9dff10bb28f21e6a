package study

import (
	"fmt"
	"io"
	"math"
	"strings"
)

func f2(v float64) string { return number("%.2f", v) }
func f3(v float64) string { return number("%.3f", v) }

func number(format string, v float64) string {
	if math.IsNaN(v) {
		return "-"
	}
	return fmt.Sprintf(format, v)
}

// table writes one Markdown table.
type table struct{ out io.Writer }

func (t table) head(cells ...string) {
	t.row(cells...)
	t.row(strings.Split(strings.Repeat("---|", len(cells)-1)+"---", "|")...)
}

func (t table) row(cells ...string) {
	fmt.Fprintf(t.out, "| %s |\n", strings.Join(cells, " | "))
}

// Markdown writes all tables.
func (r *Results) Markdown(out io.Writer) {
	fmt.Fprintf(out, "Seed %d, crater radius %g pixels, %d maps of %d x %d pixels with %d sites each for every noise type.\n",
		r.Plan.Seed, r.Plan.Radius, r.Plan.Maps, mapSide, mapSide, r.Plan.PerMap)
	for _, s := range []struct {
		title string
		write func(table)
	}{
		{"Targets", r.writeTargets},
		{"Size: share of p below .05 / .01 / .001 with nothing directional", r.writeSizes},
		{"Size of each family at .05", r.writeFamilies},
		{"Size at other crater radii", r.writeOthers},
		{"Power at p < .01, amplitude set by the oracle", r.writePowers},
		{"Axis of the detected, right class", r.writeAxes},
		{"Amplitude and exponent of symmetric blankets, b of 2.5 to 3.5", r.writeAmplitudes},
		{"Pattern classes, row = planted", r.writeConfusions},
		{"Species contrast, nominal .05", r.writeContrasts},
		{"Catalogues, 5 % enriched with z of 2 to 8, rate 0.1", r.writeCatalogues},
	} {
		fmt.Fprintf(out, "\n### %s\n\n", s.title)
		s.write(table{out})
	}
}

func (s sizes) String() string {
	if s.n == 0 {
		return "-"
	}
	return fmt.Sprintf("%s / %s / %.4f", f3(s.share(0)), f3(s.share(1)), s.share(2))
}

func (r *Results) writeSizes(t table) {
	t.head("noise", "sites", "no blanket", "blanket of 4 sigma_A", "blanket of 5 pixel sigma", "enrichment", "null scale", "not testable")
	var sum sizeResult
	for _, s := range r.Sizes {
		t.row(s.world, fmt.Sprint(s.plain.n), s.plain.String(), s.faint.String(), s.strong.String(), s.enrichment.String(),
			fmt.Sprintf("%s..%s", f2(s.scaleLo), f2(s.scaleHi)), fmt.Sprint(s.untested))
		sum.plain.merge(s.plain)
		sum.faint.merge(s.faint)
		sum.strong.merge(s.strong)
		sum.enrichment.merge(s.enrichment)
	}
	t.row("pooled", fmt.Sprint(sum.plain.n), sum.plain.String(), sum.faint.String(), sum.strong.String(), sum.enrichment.String(), "", "")
}

func (r *Results) writeFamilies(t table) {
	if len(r.Sizes) == 0 {
		return
	}
	names := r.Sizes[0].names
	t.head(append([]string{"noise"}, names...)...)
	for _, s := range r.Sizes {
		row := []string{s.world}
		for _, n := range names {
			row = append(row, f3(s.families[n].share(0)))
		}
		t.row(row...)
	}
}

func (r *Results) writeOthers(t table) {
	t.head("noise", "radius", "sites", "direction", "enrichment", "null scale")
	for _, s := range r.OtherSizes {
		t.row(s.world, fmt.Sprint(s.radius), fmt.Sprint(s.plain.n), s.plain.String(), s.enrichment.String(), fmt.Sprintf("%s..%s", f2(s.scaleLo), f2(s.scaleHi)))
	}
}

func share(k, n int) float64 {
	if n == 0 {
		return math.NaN()
	}
	return float64(k) / float64(n)
}

func (r *Results) writePowers(t table) {
	t.head("noise", "pattern", "at", "amplitude / pixel sigma", "oracle", "own family", "all but irregular rays", "all tests", "with centre error", "family / oracle", "all / oracle")
	for _, p := range r.Powers {
		t.row(p.world, p.kind, fmt.Sprintf("%.0f %%", 100*p.target), f2(p.amplitude), f2(share(p.oracle, p.n)), f2(share(p.family, p.n)),
			f2(share(p.bank, p.n)), f2(share(p.whole, p.n)), p.priorShare(), f2(share(p.family, p.oracle)), f2(share(p.whole, p.oracle)))
	}
}

func (r powerResult) priorShare() string {
	if !r.withPrior {
		return "-"
	}
	return f2(share(r.prior, r.n))
}

func (r *Results) writeAxes(t table) {
	t.head("noise", "pattern", "at", "bound, deg", "n", "rms / bound", "1.48 MAD / bound", "cover 68", "cover 95", "n, detected or not", "cover 68", "cover 95")
	for _, p := range r.Powers {
		if p.direct == 0 {
			continue
		}
		rms, robust := p.rms()
		t.row(p.world, p.kind, fmt.Sprintf("%.0f %%", 100*p.target), number("%.1f", p.bound), fmt.Sprint(p.direct),
			f2(rms/p.bound), f2(robust/p.bound), f2(share(p.cover68, p.direct)), f2(share(p.cover95, p.direct)),
			fmt.Sprint(p.all), f2(share(p.all68, p.all)), f2(share(p.all95, p.all)))
	}
}

func (r *Results) writeAmplitudes(t table) {
	t.head("noise", "S/N", "n", "median bias of A", "cover A 68", "cover A 95", "cover b 95", "n with b itself", "bias b", "sd b", "cover b 95")
	for _, a := range r.Amplitudes {
		t.row(a.world, fmt.Sprint(a.snr), fmt.Sprint(a.n), number("%+.1f %%", 100*a.bias), f3(share(a.cover68, a.n)), f3(share(a.cover95, a.n)),
			f3(share(a.knownCover95, a.known)), fmt.Sprint(a.withDecay), number("%+.2f", a.decayBias), f2(a.decaySD), f3(share(a.decayCover95, a.withDecay)))
	}
}

func (r *Results) writeConfusions(t table) {
	head := []string{"noise", "z", "planted"}
	for _, c := range classes {
		head = append(head, string(c))
	}
	t.head(append(head, "ambiguous")...)
	for _, c := range r.Confusions {
		for i, p := range classes {
			row := []string{c.world, fmt.Sprint(c.z), string(p)}
			n := 0
			for j := range classes {
				row = append(row, f2(c.share(i, j)))
				n += c.count[i][j]
			}
			t.row(append(row, f2(share(c.vague[i], n)))...)
		}
	}
}

func (r *Results) writeContrasts(t table) {
	t.head("noise", "truth", "z", "pairs", "contrast below .05", "and harmonics of the second below .05", "second only (no evidence)")
	for _, c := range r.Contrasts {
		t.row(c.world, c.truth, fmt.Sprint(c.z), fmt.Sprint(c.n), f3(share(c.tested, c.n)), f3(share(c.claimed, c.n)), f3(share(c.naive, c.n)))
	}
}

func (r *Results) writeCatalogues(t table) {
	t.head("noise", "catalogues", "BH false share", "BH found", "local rate false share", "local rate found")
	for _, c := range r.Catalogues {
		t.row(c.world, fmt.Sprint(c.catalogues), f3(c.bhFalse), f2(c.bhFound), f3(c.localFalse), f2(c.localFound))
	}
}
