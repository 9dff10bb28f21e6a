package study

import (
	"fmt"
	"math"
	"strings"

	"rimcast/ejecta"
)

// target is one line of the table of targets: a quantity with the range that
// it should have and the range that it was found in, over the noise types.
type target struct {
	quantity string
	lo, hi   float64 // wanted; infinite when open
	from, to float64 // found
	failing  []string
}

func newTarget(quantity string, lo, hi float64) *target {
	return &target{quantity: quantity, lo: lo, hi: hi, from: math.Inf(1), to: math.Inf(-1)}
}

func (t *target) add(where string, v float64) {
	if math.IsNaN(v) {
		return
	}
	t.from, t.to = math.Min(t.from, v), math.Max(t.to, v)
	if v < t.lo || v > t.hi {
		t.failing = append(t.failing, fmt.Sprintf("%s %.3g", where, v))
	}
}

func (t *target) wanted() string {
	switch {
	case math.IsInf(t.hi, 1):
		return fmt.Sprintf(">= %g", t.lo)
	case math.IsInf(t.lo, -1):
		return fmt.Sprintf("<= %g", t.hi)
	}
	return fmt.Sprintf("%g..%g", t.lo, t.hi)
}

func (r *Results) writeTargets(t table) {
	t.head("quantity", "wanted", "found", "outside")
	for _, x := range r.targets() {
		if x.from > x.to {
			continue
		}
		t.row(x.quantity, x.wanted(), fmt.Sprintf("%.3g..%.3g", x.from, x.to), strings.Join(x.failing, ", "))
	}
}

// hard reports the noise types with the wider limits: heavy tails and gaps.
func hard(world string) bool {
	return strings.Contains(world, "t4") || strings.Contains(world, "gap")
}

func (r *Results) targets() []*target {
	var out []*target
	out = append(out, r.sizeTargets()...)
	out = append(out, r.powerTargets()...)
	out = append(out, r.blanketTargets()...)
	out = append(out, r.classTargets()...)
	return append(out, r.contrastTargets()...)
}

func (r *Results) sizeTargets() []*target {
	easy := newTarget("size of p_dir at .05, Gaussian, full coverage", 0.04, 0.06)
	rough := newTarget("size of p_dir at .05, heavy tails or 40 % gaps", 0.03, 0.07)
	one := newTarget("size of p_dir at .01, pooled", 0.007, 0.013)
	tail := newTarget("size of p_dir at .001, pooled", 0.0005, 0.002)
	excess := newTarget("size of enrichment at .05", 0.04, 0.06)
	far := newTarget("size of enrichment at .001, pooled", 0.0005, 0.002)
	var pooled, enriched sizes
	for _, s := range r.Sizes {
		for _, v := range []struct {
			name string
			sizes
		}{{"", s.plain}, {" + faint blanket", s.faint}, {" + strong blanket", s.strong}} {
			if v.n == 0 {
				continue
			}
			pooled.merge(v.sizes)
			if hard(s.world) {
				rough.add(s.world+v.name, v.share(0))
			} else {
				easy.add(s.world+v.name, v.share(0))
			}
		}
		excess.add(s.world, s.enrichment.share(0))
		enriched.merge(s.enrichment)
	}
	one.add("pooled", pooled.share(1))
	tail.add("pooled", pooled.share(2))
	far.add("pooled", enriched.share(2))
	return []*target{easy, rough, one, tail, excess, far}
}

func (r *Results) powerTargets() []*target {
	open := math.Inf(1)
	family := newTarget("own family / oracle, 90 % point", 0.97, open)
	near := newTarget("all tests / oracle, 90 % point: one-sided, bilateral, gap", 0.83, open)
	rays := newTarget("all tests / oracle, 90 % point: irregular rays", 0.45, open)
	half := newTarget("all tests / oracle, 50 % point: one-sided, bilateral", 0.62, open)
	halfGap := newTarget("all tests / oracle, 50 % point: gap", 0.68, open)
	axis := newTarget("axis rms / bound, detected, 90 % point, full coverage", 0, 1.10)
	gaps := newTarget("axis rms / bound, detected, 90 % point, 40 % gaps", 0, 1.4)
	low := newTarget("axis interval 68 %, detected, 90 % point", 0.62, 0.72)
	wide := newTarget("axis interval 95 %, detected, 90 % point", 0.92, 0.97)
	for _, p := range r.Powers {
		where := p.world + " " + p.kind
		all := share(p.whole, p.oracle)
		if strings.Contains(p.world, "t4") {
			continue // the oracle's covariance is not the whole truth there
		}
		switch {
		case p.target < 0.7 && p.kind == "gap":
			halfGap.add(where, all)
		case p.target < 0.7 && p.kind != "irregular rays":
			half.add(where, all)
		case p.target < 0.7:
		case p.kind == "irregular rays":
			rays.add(where, all)
		default:
			near.add(where, all)
			family.add(where, share(p.family, p.oracle))
		}
		if p.target > 0.7 && (p.kind == "one-sided" || p.kind == "bilateral") {
			rms, _ := p.rms()
			if hard(p.world) {
				gaps.add(where, rms/p.bound)
			} else {
				axis.add(where, rms/p.bound)
			}
			low.add(where, share(p.cover68, p.direct))
			wide.add(where, share(p.cover95, p.direct))
		}
	}
	return []*target{family, near, rays, half, halfGap, axis, gaps, low, wide}
}

func (r *Results) blanketTargets() []*target {
	bias := newTarget("median bias of A at S/N >= 6", -0.03, 0.03)
	low := newTarget("interval of A, 68 %", 0.65, 0.72)
	wide := newTarget("interval of A, 95 %", 0.93, 0.97)
	spread := newTarget("sd of b at S/N 12", 0, 0.55)
	decay := newTarget("interval of b, 95 %", 0.93, 0.97)
	for _, a := range r.Amplitudes {
		where := fmt.Sprintf("%s S/N %g", a.world, a.snr)
		if a.snr < 6 {
			continue
		}
		bias.add(where, a.bias)
		low.add(where, share(a.cover68, a.n))
		wide.add(where, share(a.cover95, a.n))
		decay.add(where, share(a.decayCover95, a.withDecay))
		if a.snr == 12 {
			spread.add(where, a.decaySD)
		}
	}
	return []*target{bias, low, wide, spread, decay}
}

func (r *Results) classTargets() []*target {
	open := math.Inf(1)
	right := newTarget("right class at z = 8", 0.95, open)
	early := newTarget("right class at z = 5: one-sided, bilateral", 0.75, open)
	gap := newTarget("right class at z = 5: gap", 0.70, open)
	wrong := newTarget("direction claimed where there is none", 0, 0.03)
	for _, c := range r.Confusions {
		for i, p := range classes {
			where := fmt.Sprintf("%s z %g %s", c.world, c.z, p)
			claimed := 0.0
			for j, q := range classes {
				if q.Directional() {
					claimed += c.share(i, j)
				}
			}
			switch {
			case !p.Directional():
				wrong.add(where, claimed)
			case c.z == 8:
				right.add(where, c.share(i, i))
			case c.z == 5 && p == ejecta.PatternGap:
				gap.add(where, c.share(i, i))
			case c.z == 5 && p != ejecta.PatternRays:
				early.add(where, c.share(i, i))
			}
		}
	}
	return []*target{right, early, gap, wrong}
}

func (r *Results) contrastTargets() []*target {
	open := math.Inf(1)
	size := newTarget("size of the species contrast at .05", 0.04, 0.06)
	one := newTarget("power of the contrast at z = 8: one-sided", 0.95, open)
	two := newTarget("power of the contrast at z = 8: bilateral", 0.75, open)
	for _, c := range r.Contrasts {
		where := fmt.Sprintf("%s %s z %g", c.world, c.truth, c.z)
		v := share(c.tested, c.n)
		switch {
		case strings.HasPrefix(c.truth, "same"), strings.HasPrefix(c.truth, "both"):
			size.add(where, v)
		case c.z == 8 && strings.Contains(c.truth, "one-sided"):
			one.add(where, v)
		case c.z == 8:
			two.add(where, v)
		}
	}
	fdp := newTarget("false share of BH at q = .1", 0, 0.11)
	found := newTarget("found share of BH at q = .1", 0.85, open)
	for _, c := range r.Catalogues {
		fdp.add(c.world, c.bhFalse)
		found.add(c.world, c.bhFound)
	}
	return []*target{size, one, two, fdp, found}
}
