package study

import (
	"fmt"
	"io"
	"math"
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

	done func([]impostorResult) // told the rows so far after each of them; may be nil
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
		if p.done != nil {
			p.done(out)
		}
	}
	return out, nil
}

// impostorOf measures one impostor at every site of a world.
func (w *world) impostorOf(im impostor) impostorResult {
	r := impostorResult{impostor: im}
	a := w.oracleOf(kinds()[0]).amplitude(0.9, w.seed)
	clean := w.cleanOf(im, a)
	found := make([][6]bool, len(w.sites))
	each(len(w.sites), func(i int) { found[i] = w.oneImpostor(im, i, a, clean[i]) })
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

// turnOf is the azimuth of an impostor at a site, and that along which a lobe
// lies along it.
func turnOf(im impostor, i int) (turn, along float64) {
	turn = float64(i%24)*15 + 4
	if im.fixed {
		return turn, 90
	}
	return turn, turn
}

// lobes are the real lobe alone and with the impostor, by azimuth.
func (im *impostor) lobes(turn, a float64) (alone, both func(axis float64) testblanket.Ground) {
	if im.lobed != nil {
		return im.alone, func(axis float64) testblanket.Ground { return im.lobed(turn, axis) }
	}
	alone = func(axis float64) testblanket.Ground {
		return testblanket.Around(testblanket.Blanket{Pattern: "one-sided", Amplitude: a, Axis: axis}, testblanket.Place{}, 1)
	}
	return alone, func(axis float64) testblanket.Ground { return im.ground(turn).Plus(alone(axis)) }
}

// cleanOf finds the lobes without impostor and remedy; rows whose lobes are
// alike share them.
func (w *world) cleanOf(im impostor, a float64) []bool {
	shared := im.given == nil && im.lobed == nil
	if shared && w.clean[im.fixed] != nil {
		return w.clean[im.fixed]
	}
	bare := im.bare()
	out := make([]bool, len(w.sites))
	each(len(w.sites), func(i int) {
		turn, along := turnOf(im, i)
		alone, _ := im.lobes(turn, a)
		out[i], _ = w.claim(bare, i, turn, lobeLevel, alone(along+90))
	})
	if shared {
		if w.clean == nil {
			w.clean = map[bool][]bool{}
		}
		w.clean[im.fixed] = out
	}
	return out
}

// bare is the impostor without its remedy; nobody asks the alarms.
func (im impostor) bare() impostor {
	im.remedy, im.silent = nil, true
	return im
}

// oneImpostor measures one site: without and with the remedy, by p and by
// claim, and the lobes.
func (w *world) oneImpostor(im impostor, i int, a float64, clean bool) [6]bool {
	turn, side := turnOf(im, i)
	ground := im.ground(turn)
	_, both := im.lobes(turn, a)
	p, claimed := w.claim(im, i, turn, claimLevel, ground)
	plain := p
	if im.remedy != nil {
		plain, _ = w.claim(im.bare(), i, turn, claimLevel, ground)
	}
	_, across := w.claim(im, i, turn, lobeLevel, both(side+90))
	_, along := w.claim(im, i, turn, lobeLevel, both(side))
	return [6]bool{plain, p, claimed, clean, across, along}
}

// claim measures a site with a field added: whether p passes the level, and
// whether the direction is claimed too, no alarm being against it.
func (w *world) claim(im impostor, i int, turn, level float64, field testblanket.Ground) (passes, claimed bool) {
	s := &w.sites[i]
	f, noise, seed := w.frames[s.frame], w.noise[s.m], w.seed+uint64(i)
	site := ejecta.Site{Samples: f.samples, Values: w.plus(s, field), Noise: noise, KeepGround: !im.silent, CentreSigma: 1e-9,
		Variance: noise.Variance(float64(s.x), float64(s.y))}
	for _, known := range []func(*scene){im.given, im.remedy} {
		if known != nil {
			known(&scene{&site, f, turn, rand.New(rand.NewPCG(w.seed, uint64(i)))})
		}
	}
	set := ejecta.Settings{Outer: outerRange, Alpha: level}
	e := ejecta.Collect(site, set)
	m := e.Measure(set, s.scale, seed)
	if passes = m.Finding.AsymmetryP < level; !passes || im.silent {
		return passes, false
	}
	m.Finding.Alarms = e.Alarms(&m, set, ejecta.AlarmInputs{NullScale: s.scale, Noise: noise, Seed: seed,
		StripLayer: site.Strips != nil, SunAzimuth: math.NaN(), TrackAzimuth: math.NaN()})
	return true, m.Finding.AsymmetryP < level && m.Finding.Doubt() == ""
}

// plus is the map round a site with a field added.
func (w *world) plus(s *site, field testblanket.Ground) []float32 {
	values := w.values(s, nil, 0)
	for k, v := range w.frames[s.frame].sample(field) {
		values[k] += float32(v)
	}
	return values
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
