package study

import (
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"slices"

	"rimcast/ejecta"
	"rimcast/ejecta/testblanket"
)

// CommonPlan is how much the study of common directions does. Half of the places
// of a map are its null positions, the others its craters.
type CommonPlan struct {
	Seed   uint64
	Radius float64
	Maps   int // catalogues
	Sites  int // places of a map
}

// Of the craters one in ten has a lobe; directions are claimed at the customary
// level and kept at the customary rate.
const (
	lobedShare = 0.1
	commonRate = 0.1
)

// commonGround is ground that makes directions at craters and at null positions
// alike: bright patches at the rim of some of the places, where no other alarm
// tells them from a lobe.
type commonGround struct {
	name   string
	height float64 // of the patches, pixel sigma
	share  float64 // of the places that have one
	lobe   float64 // of the real lobes, in amplitudes that an oracle finds nine times in ten
}

func commonGrounds() []commonGround {
	return []commonGround{
		{"even ground", 0, 0, 1},
		{"patches of 6 sigma at the rim of one place in ten", 6, 0.1, 1},
		{"of one place in four", 6, 0.25, 1},
		{"of one place in four, lobes four times as strong", 6, 0.25, 4},
	}
}

// commonResult counts what one kind of ground does, over all catalogues.
type commonResult struct {
	commonGround
	positions, claims int        // null positions; those with a direction that no alarm of the ground doubts
	bare, lobed       tally      // craters
	falseShare        [2]float64 // mean over the catalogues, without the alarm and with it
}

// tally is craters, those with a direction that stands without the alarm, and with
// it.
type tally struct{ n, named, kept int }

// RunCommon measures every kind of ground; progress is told what begins.
func RunCommon(p CommonPlan, progress func(string)) ([]commonResult, error) {
	w, err := newWorld("exp5", p.Radius, p.Maps, p.Sites, p.Seed)
	if err != nil {
		return nil, err
	}
	a := w.oracleOf(kinds()[0]).amplitude(0.9, w.seed)
	var out []commonResult
	for _, g := range commonGrounds() {
		progress(g.name)
		r := commonResult{commonGround: g}
		for m := range w.maps {
			w.commonMap(m, a, &r)
		}
		for k := range r.falseShare {
			r.falseShare[k] /= float64(len(w.maps))
		}
		out = append(out, r)
	}
	return out, nil
}

// commonMap adds the catalogue of one map.
func (w *world) commonMap(m int, a float64, r *commonResult) {
	var nulls, craters []int
	for i, s := range w.sites {
		if s.m == m && i%2 == 0 {
			nulls = append(nulls, i)
		} else if s.m == m {
			craters = append(craters, i)
		}
	}
	n := w.commonNulls(nulls, r.commonGround)
	r.positions, r.claims = r.positions+n.Positions, r.claims+len(n.P)
	findings := make([]ejecta.Finding, len(craters))
	lobed := int(lobedShare * float64(len(craters)))
	each(len(craters), func(k int) {
		field := w.patchAt(craters[k], r.commonGround)
		if k < lobed {
			b := testblanket.Blanket{Pattern: "one-sided", Amplitude: a * r.lobe, Axis: float64(37*k) + 5}
			field = field.Plus(testblanket.Around(b, testblanket.Place{}, 1))
		}
		findings[k] = w.commonFinding(craters[k], field, n)
	})
	r.count(findings, lobed)
}

// count takes a catalogue whose first craters have lobes.
func (r *commonResult) count(findings []ejecta.Finding, lobed int) {
	before := make([]bool, len(findings))
	for i := range findings {
		before[i] = namedWithout(findings[i])
	}
	ejecta.DoubtCommon(findings, 1, commonRate)
	var named, kept [2]int
	for i := range findings {
		t, bare := &r.lobed, 0
		if i >= lobed {
			t, bare = &r.bare, 1
		}
		t.n++
		if before[i] {
			t.named++
			named[bare]++
		}
		if findings[i].Pattern.Directional() && findings[i].Doubt() == "" {
			t.kept++
			kept[bare]++
		}
	}
	r.falseShare[0] += share(named[1], max(1, named[0]+named[1]))
	r.falseShare[1] += share(kept[1], max(1, kept[0]+kept[1]))
}

// namedWithout reports whether a direction would stand without the alarm of common
// directions.
func namedWithout(f ejecta.Finding) bool {
	f.Alarms = slices.DeleteFunc(slices.Clone(f.Alarms), func(a ejecta.Alarm) bool { return a.Name == "common_direction" })
	return f.Pattern.Directional() && f.Doubt() == ""
}

// commonNulls asks the null positions, as a screening does.
func (w *world) commonNulls(places []int, g commonGround) *ejecta.NullClaims {
	claims := make([]float64, len(places))
	each(len(places), func(k int) {
		i := places[k]
		claims[k] = math.NaN()
		if e, m := w.commonSite(i, w.patchAt(i, g)); m.Finding.AsymmetryP < ejecta.DefaultAlpha {
			claims[k] = e.NullClaim(ejecta.Settings{Outer: outerRange}, w.commonInputs(i, nil))
		}
	})
	n := &ejecta.NullClaims{}
	for _, p := range claims {
		n.Add(p)
	}
	return n
}

// commonFinding is a crater with its alarms.
func (w *world) commonFinding(i int, field testblanket.Ground, n *ejecta.NullClaims) ejecta.Finding {
	e, m := w.commonSite(i, field)
	if m.Finding.Pattern.Directional() {
		m.Finding.Alarms = e.Alarms(&m, ejecta.Settings{Outer: outerRange}, w.commonInputs(i, n))
	}
	return m.Finding
}

func (w *world) commonInputs(i int, n *ejecta.NullClaims) ejecta.AlarmInputs {
	s := &w.sites[i]
	return ejecta.AlarmInputs{NullScale: s.scale, Noise: w.noise[s.m], Seed: w.seed + uint64(i), Nulls: n,
		SunAzimuth: math.NaN(), TrackAzimuth: math.NaN()}
}

// commonSite measures a place with a field added.
func (w *world) commonSite(i int, field testblanket.Ground) (*ejecta.Evidence, ejecta.Measurement) {
	s := &w.sites[i]
	noise, set := w.noise[s.m], ejecta.Settings{Outer: outerRange}
	site := ejecta.Site{Samples: w.frames[s.frame].samples, Values: w.plus(s, field), Noise: noise, KeepGround: true,
		Variance: noise.Variance(float64(s.x), float64(s.y))}
	e := ejecta.Collect(site, set)
	return e, e.Measure(set, s.scale, w.seed+uint64(i))
}

// patchAt is the ground at a place: a patch at the rim, or none.
func (w *world) patchAt(i int, g commonGround) testblanket.Ground {
	rng := rand.New(rand.NewPCG(w.seed, 0x57e+uint64(i)))
	if rng.Float64() >= g.share {
		return even(0)
	}
	middle, size := at(360*rng.Float64(), 1.2+0.6*rng.Float64()), 0.5+0.4*rng.Float64()
	height := g.height * (0.5 + rng.Float64())
	return func(p testblanket.Place) float64 {
		d := math.Hypot(p.East-middle.East, p.North-middle.North) / size
		return height * math.Exp(-d*d)
	}
}

// WriteCommon writes the table.
func WriteCommon(out io.Writer, p CommonPlan, list []commonResult) {
	fmt.Fprintf(out, "Seed %d, crater radius %g pixels, %d maps with %d places each, half of them null positions, half craters of which a tenth have a lobe.\n\n", p.Seed, p.Radius, p.Maps, p.Sites)
	t := table{out}
	t.head("ground", "null positions with a direction", "bare craters with one, other alarms only", "with common_direction too",
		"lobes named, other alarms only", "with common_direction too", "points lost", "false share, other alarms only", "with common_direction too")
	for _, r := range list {
		b, l := r.bare, r.lobed
		t.row(r.name, f3(share(r.claims, r.positions)), f3(share(b.named, b.n)), f3(share(b.kept, b.n)), f3(share(l.named, l.n)), f3(share(l.kept, l.n)),
			number("%.0f", 100*(share(l.named, l.n)-share(l.kept, l.n))), f3(r.falseShare[0]), f3(r.falseShare[1]))
	}
}
