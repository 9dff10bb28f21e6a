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

// add takes a value with its standard error. What misses by less than two of
// them is not told from a hit, and is marked.
func (t *target) add(where string, v, se float64) {
	if math.IsNaN(v) {
		return
	}
	t.from, t.to = math.Min(t.from, v), math.Max(t.to, v)
	miss := math.Max(t.lo-v, v-t.hi)
	switch {
	case miss > 2*se:
		t.failing = append(t.failing, fmt.Sprintf("**%s %.3g**", where, v))
	case miss > 0:
		t.failing = append(t.failing, fmt.Sprintf("%s %.3g", where, v))
	}
}

// addShare takes a share of n.
func (t *target) addShare(where string, k, n int) {
	p := share(k, n)
	t.add(where, p, math.Sqrt(math.Max(p*(1-p), 0.25/float64(max(n, 1)))/float64(max(n, 1))))
}

// addRatio takes the ratio of two counts among the same n draws. The error is
// that of independent counts: too large for counts that go together, so that
// fewer misses are marked than there may be.
func (t *target) addRatio(where string, k, of, n int) {
	r := share(k, of)
	rel := (1-share(k, n))/float64(max(k, 1)) + (1-share(of, n))/float64(max(of, 1))
	t.add(where, r, r*math.Sqrt(math.Max(rel, 0)))
}

// addSize takes the share of p below one of the levels.
func (t *target) addSize(where string, s sizes, level int) {
	if s.n == 0 {
		return // the table was not asked for
	}
	p := s.share(level)
	t.add(where, p, math.Sqrt(math.Max(p, t.lo)*(1-p)/float64(s.n)))
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
	t.head("quantity", "wanted", "found", "outside (bold: by more than two standard errors)")
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
				rough.addSize(s.world+v.name, v.sizes, 0)
			} else {
				easy.addSize(s.world+v.name, v.sizes, 0)
			}
		}
		excess.addSize(s.world, s.enrichment, 0)
		enriched.merge(s.enrichment)
	}
	one.addSize("pooled", pooled, 1)
	tail.addSize("pooled", pooled, 2)
	far.addSize("pooled", enriched, 2)
	return []*target{easy, rough, one, tail, excess, far}
}

func (r *Results) powerTargets() []*target {
	open := math.Inf(1)
	family := newTarget("own family / oracle, 90 % point", 0.97, open)
	near := newTarget("all tests / oracle, 90 % point: one-sided, bilateral, gap", 0.83, open)
	rays := newTarget("all tests / oracle, 90 % point: irregular rays", 0.45, open)
	half := newTarget("all tests / oracle, 50 % point: one-sided, bilateral", 0.62, open)
	halfGap := newTarget("all tests / oracle, 50 % point: gap", 0.68, open)
	for _, p := range r.Powers {
		where := p.world + " " + p.kind
		if strings.Contains(p.world, "t4") {
			continue // the oracle's covariance is not the whole truth there
		}
		switch {
		case p.target < 0.7 && p.kind == "gap":
			halfGap.addRatio(where, p.whole, p.oracle, p.n)
		case p.target < 0.7 && p.kind != "irregular rays":
			half.addRatio(where, p.whole, p.oracle, p.n)
		case p.target < 0.7:
		case p.kind == "irregular rays":
			rays.addRatio(where, p.whole, p.oracle, p.n)
		default:
			near.addRatio(where, p.whole, p.oracle, p.n)
			family.addRatio(where, p.family, p.oracle, p.n)
		}
	}
	return append([]*target{family, near, rays, half, halfGap}, r.axisTargets()...)
}

func (r *Results) axisTargets() []*target {
	axis := newTarget("axis rms / bound, detected, 90 % point, full coverage", 0, 1.10)
	gaps := newTarget("axis rms / bound, detected, 90 % point, 40 % gaps", 0, 1.4)
	low := newTarget("axis interval 68 %, all craters of the right class, 90 % point", 0.64, 0.72)
	wide := newTarget("axis interval 95 %, all craters of the right class, 90 % point", 0.93, 0.97)
	for _, p := range r.Powers {
		if p.target < 0.7 || p.kind != "one-sided" && p.kind != "bilateral" || strings.Contains(p.world, "t4") {
			continue
		}
		where := p.world + " " + p.kind
		rms, _ := p.rms()
		se := rms / p.bound / math.Sqrt(2*float64(max(p.direct, 1)))
		if hard(p.world) {
			gaps.add(where, rms/p.bound, se)
		} else {
			axis.add(where, rms/p.bound, se)
		}
		low.addShare(where, p.all68, p.all)
		wide.addShare(where, p.all95, p.all)
	}
	return []*target{axis, gaps, low, wide}
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
		bias.add(where, a.bias, 1.25/a.snr/math.Sqrt(float64(max(a.n, 1))))
		low.addShare(where, a.cover68, a.n)
		wide.addShare(where, a.cover95, a.n)
		decay.addShare(where, a.knownCover95, a.known)
		if a.snr == 12 {
			spread.add(where, a.decaySD, a.decaySD/math.Sqrt(2*float64(max(a.withDecay, 1))))
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
			n, claimed := 0, 0
			for j, q := range classes {
				n += c.count[i][j]
				if q.Directional() {
					claimed += c.count[i][j]
				}
			}
			switch {
			case !p.Directional():
				wrong.addShare(where, claimed, n)
			case c.z == 8:
				right.addShare(where, c.count[i][i], n)
			case c.z == 5 && p == ejecta.PatternGap:
				gap.addShare(where, c.count[i][i], n)
			case c.z == 5 && p != ejecta.PatternRays:
				early.addShare(where, c.count[i][i], n)
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
		switch {
		case strings.HasPrefix(c.truth, "same"), strings.HasPrefix(c.truth, "both"):
			size.addShare(where, c.tested, c.n)
		case c.z == 8 && strings.Contains(c.truth, "one-sided"):
			one.addShare(where, c.tested, c.n)
		case c.z == 8:
			two.addShare(where, c.tested, c.n)
		}
	}
	return append([]*target{size, one, two}, r.catalogueTargets()...)
}

// catalogueTargets judge the false shares one by one and together. The sites
// come back in every catalogue: the error is that of the sites ever called
// falsely.
func (r *Results) catalogueTargets() []*target {
	fdp := newTarget("false share of BH at q = .1", 0, 0.11)
	mean := newTarget("false share of BH at q = .1, mean of the noise types", 0, 0.11)
	found := newTarget("found share of BH at q = .1", 0.85, math.Inf(1))
	sum, sites := 0.0, 0
	for _, c := range r.Catalogues {
		fdp.add(c.world, c.bhFalse, c.bhFalse/math.Sqrt(float64(max(c.falseSites, 1))))
		found.add(c.world, c.bhFound, 0.01)
		sum += c.bhFalse
		sites += c.falseSites
	}
	if n := float64(len(r.Catalogues)); n > 0 {
		mean.add("mean", sum/n, sum/n/math.Sqrt(float64(max(sites, 1))))
	}
	return []*target{fdp, mean, found}
}
