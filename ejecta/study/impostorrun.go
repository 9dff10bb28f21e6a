package study

import (
	"fmt"
	"io"
	"math/rand/v2"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// Levels of the impostor study: of the false claims, and of the lobes found.
const (
	claimLevel = 0.05
	lobeLevel  = 0.01
)

// impostorResult counts what one impostor does.
type impostorResult struct {
	impostor
	n        int
	plain    int // claims at .05 without the remedy, nothing directional there
	remedied int // with it, by p alone
	claimed  int // with it, and no alarm against the direction
	clean    int // real lobes found at .01 with neither impostor nor remedy
	across   int // found across the impostor with the remedy, no alarm against
	along    int // the same along it
}

// ImpostorPlan is how much the impostor study does.
type ImpostorPlan struct {
	Seed   uint64
	Radius float64
	Sites  int
	Names  []string // impostors to do; nil does all
}

// RunImpostors measures every impostor; progress is told what begins.
func RunImpostors(p ImpostorPlan, progress func(string)) ([]impostorResult, error) {
	worlds := map[string]*world{}
	var out []impostorResult
	for _, im := range impostors() {
		if p.Names != nil && !contains(p.Names, im.name) {
			continue
		}
		if worlds[im.noise] == nil {
			w, err := newWorld(im.noise, p.Radius, (p.Sites+199)/200, min(p.Sites, 200), p.Seed)
			if err != nil {
				return nil, err
			}
			worlds[im.noise] = w
		}
		if progress != nil {
			progress(im.name)
		}
		out = append(out, worlds[im.noise].impostorOf(im))
	}
	return out, nil
}

// impostorOf measures one impostor at every site of a world.
func (w *world) impostorOf(im impostor) impostorResult {
	r := impostorResult{impostor: im}
	a := w.oracleOf(kinds()[0]).amplitude(0.9, w.seed)
	found := make([][6]bool, len(w.sites))
	each(len(w.sites), func(i int) { found[i] = w.oneImpostor(im, i, a) })
	for _, f := range found {
		r.n++
		for k, to := range []*int{&r.plain, &r.remedied, &r.claimed, &r.clean, &r.across, &r.along} {
			if f[k] {
				*to++
			}
		}
	}
	return r
}

// oneImpostor measures one site: without and with the remedy, by p and by
// claim, and the lobes.
func (w *world) oneImpostor(im impostor, i int, a float64) (out [6]bool) {
	turn := float64(i%24)*15 + 4
	side := turn
	if im.fixed {
		side = 90
	}
	f := w.frames[w.sites[i].frame]
	lobe := func(axis float64) testblanket.Ground {
		return testblanket.Around(testblanket.Blanket{Pattern: "one-sided", Amplitude: a, Axis: axis}, testblanket.Place{}, 1)
	}
	ground := im.ground(turn)
	both := func(axis float64) testblanket.Ground { return ground.Plus(lobe(axis)) }
	if im.lobed != nil {
		lobe, both = im.alone, func(axis float64) testblanket.Ground { return im.lobed(turn, axis) }
	}
	bare := im
	bare.remedy = nil
	plain, _ := w.claim(bare, i, turn, claimLevel, f.sample(ground))
	p, claimed := w.claim(im, i, turn, claimLevel, f.sample(ground))
	clean, _ := w.claim(bare, i, turn, lobeLevel, f.sample(lobe(side+90)))
	_, across := w.claim(im, i, turn, lobeLevel, f.sample(both(side+90)))
	_, along := w.claim(im, i, turn, lobeLevel, f.sample(both(side)))
	return [6]bool{plain, p, claimed, clean, across, along}
}

// claim measures a site with a field added: whether p passes the level, and
// whether the direction is claimed too, no alarm being against it.
func (w *world) claim(im impostor, i int, turn, level float64, field []float64) (passes, claimed bool) {
	s := &w.sites[i]
	f := w.frames[s.frame]
	values := w.values(s, nil, 0)
	for k, v := range field {
		values[k] += float32(v)
	}
	noise := w.noise[s.m]
	site := ejecta.Site{Samples: f.samples, Values: values, Noise: noise, KeepGround: true, CentreSigma: 1e-9,
		Variance: noise.Variance(float64(s.x), float64(s.y))}
	for _, known := range []func(*scene){im.given, im.remedy} {
		if known != nil {
			known(&scene{&site, f, turn, rand.New(rand.NewPCG(w.seed, uint64(i)))})
		}
	}
	set := ejecta.Settings{Outer: outerRange, Alpha: level}
	e := ejecta.Collect(site, set)
	m := e.Measure(set, s.scale, w.seed+uint64(i))
	if !(m.Finding.AsymmetryP < level) {
		return false, false
	}
	m.Finding.Alarms = e.Alarms(&m, set, ejecta.AlarmInputs{NullScale: s.scale, Noise: noise, Seed: w.seed + uint64(i), StripLayer: site.Strips != nil})
	return true, m.Finding.Doubt() == ""
}

// WriteImpostors writes the table.
func WriteImpostors(out io.Writer, p ImpostorPlan, list []impostorResult) {
	fmt.Fprintf(out, "Seed %d, crater radius %g pixels, %d sites. The lobe is one-sided, of the amplitude that an oracle finds nine times in ten.\n\n", p.Seed, p.Radius, p.Sites)
	t := table{out}
	t.head("impostor", "noise", "p < .05 plain", "with the remedy", "and no alarm", "lobe at p < .01, no impostor", "across it, with the remedy", "points lost", "along it")
	for _, r := range list {
		t.row(r.name, r.noise, f3(share(r.plain, r.n)), f3(share(r.remedied, r.n)), f3(share(r.claimed, r.n)),
			f3(share(r.clean, r.n)), f3(share(r.across, r.n)), number("%.0f", 100*(share(r.clean, r.n)-share(r.across, r.n))), f3(share(r.along, r.n)))
	}
}
