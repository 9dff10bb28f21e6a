package reports

import (
	"fmt"
	"math"
	"math/rand/v2"

	"rimcast/ejecta"
	"rimcast/geom"
)

// hostile are ids and names as a catalogue could bring them.
var hostile = []struct{ id, name string }{
	{"../../etc/passwd", "=HYPERLINK(\"http://example.invalid\",\"x\")"},
	{"<b>7</b>", "</script><script>document.title='pwned'</script>"},
	{"-12", "@SUM(1+1)*cmd|' /C calc'!A0"},
	{"a,b\"c", "two\nlines\tand \"quotes\""},
	{"'=apostrophe", "right\u202eto left \x00 null \x1b[31m"},
	{"0007", "{{.Evil}} ${evil} <!-- --> ]]>"},
	{"é/ж/水", "Ångström–Ж 水 \U0001f311"},
	{"__proto__", "constructor"},
}

// fixture is a survey of n craters with invented numbers: the first eight have
// hostile names, some lie on poles and across 180 degrees, some cannot be
// measured. The numbers follow one model so that figures look like real ones.
func fixture(n int) *Survey {
	s := &Survey{
		Title: "Invented survey of Halven <test>", Body: geom.Sphere("Halven", 412000),
		Species: []SpeciesInfo{{"water", "ppm", "water.tif band 1"}, {"hydroxyl", "ppm", "hydroxyl.tif band 1"}},
		Notes:   []string{"The maps are invented. <b>Nothing here is real.</b>", "2 catalogue entries were refused; see refused.csv."},
	}
	s.Catalogue = geom.Catalogue{Source: "craters.geojson", Refused: []geom.Refusal{{Index: n, ID: "=bad", Reason: "latitude 95 is outside -90..90"}, {Index: n + 1, ID: "", Reason: "radius is missing"}}}
	rng := rand.New(rand.NewPCG(7, 11))
	for i := range n {
		c := fixtureCrater(i, rng)
		s.Catalogue.Craters = append(s.Catalogue.Craters, c)
		for k, sp := range s.Species {
			s.Findings = append(s.Findings, fixtureFinding(i, k, sp, rng))
		}
		s.Contrasts = append(s.Contrasts, fixtureContrast(i, rng))
	}
	fixtureTargets(s, n)
	s.Masked = []MaskedDisc{{0, n - 1, 20000}, {1, 3, 9000}}
	for i := range min(n, 12) {
		for k := range s.Species {
			s.Cutouts = append(s.Cutouts, fixtureCutout(s, i, k, rng))
		}
	}
	s.Nulls = fixtureNulls(rng)
	fixtureEpochs(s, min(n, 12))
	fixtureControls(s)
	s.Manifest = fixtureManifest(n)
	return s
}

func fixtureCrater(i int, rng *rand.Rand) geom.Crater {
	c := geom.Crater{Index: i, ID: fmt.Sprintf("HV-%03d", i), Name: fmt.Sprintf("Dunmore %d", i), Age: math.NaN(), Freshness: math.NaN()}
	if i < len(hostile) {
		c.ID, c.Name = hostile[i].id, hostile[i].name
	}
	lon := 360*rng.Float64() - 180
	lat := math.Asin(2*rng.Float64()-1) * 180 / math.Pi
	places := []geom.LonLat{{Lon: 12, Lat: 89.95}, {Lon: 179.9, Lat: 10}, {Lon: -180, Lat: -20}, {Lon: 0, Lat: -90}, {Lon: 190, Lat: 0}}
	c.Centre = geom.LonLat{Lon: lon, Lat: lat}
	if i < len(places) {
		c.Centre = places[i]
	}
	c.Radius = 3000 * math.Pow(1-0.95*rng.Float64(), -0.5)
	if i%9 == 6 {
		c.SemiMajor, c.SemiMinor, c.RimAzimuth = c.Radius*1.2, c.Radius/1.2, 30
	}
	return c
}

var fixturePatterns = []ejecta.Pattern{ejecta.PatternBilateral, ejecta.PatternSymmetric, ejecta.PatternOneSided, ejecta.PatternRays, ejecta.PatternGap, ejecta.PatternNone, ejecta.PatternNone}

// model is the invented truth of a finding: amplitude, decay, pattern, axis.
type model struct {
	a, b    float64
	pattern ejecta.Pattern
	axis    float64
}

func fixtureModel(i, k int) model {
	m := model{a: 90 / (1 + 0.08*float64(i)), b: 2.2 + 0.1*float64(i%5), pattern: fixturePatterns[(i+k)%len(fixturePatterns)], axis: math.Mod(37*float64(i)+20, 180)}
	switch {
	case k == 1 && i%3 == 1:
		m.pattern, m.a = ejecta.PatternSymmetric, m.a*0.8
	case m.pattern == ejecta.PatternNone:
		m.a = 0
	}
	return m
}

// shape is the azimuthal factor of a pattern at az degrees.
func (m model) shape(az float64) float64 {
	d := (az - m.axis) * math.Pi / 180
	switch m.pattern {
	case ejecta.PatternOneSided:
		return 1 + 0.9*math.Cos(d)
	case ejecta.PatternBilateral:
		return 1 + 0.9*math.Cos(2*d)
	case ejecta.PatternRays:
		return 1 + 0.8*math.Cos(3*d)
	case ejecta.PatternGap:
		if math.Cos(d) > 0.7 {
			return 0.05
		}
	}
	return 1
}

func fixtureFinding(i, k int, sp SpeciesInfo, rng *rand.Rand) ejecta.Finding {
	nan := math.NaN()
	f := ejecta.Finding{CraterIndex: i, Species: sp.Name, Unit: sp.Unit, Status: ejecta.StatusOK, Excess: nan, ExcessSE: nan, ExcessP: nan, ExcessQ: nan,
		Background: nan, BackgroundSE: nan, RimExcess: nan, RimExcessSE: nan, Decay: nan, DecaySE: nan, Extent: nan, Asymmetry: nan, AsymmetrySE: nan, AsymmetryP: nan,
		AsymmetryQ: nan, Axis: nan, AxisSE: nan, GapWidth: nan, Detectable50: nan, Detectable95: nan, UpperLimit95: nan, LocalFDR: nan, PatternLead: nan, Envelope: nan}
	if i%11 == 10 {
		f.Status, f.Note = ejecta.StatusNotCovered, "no valid pixel within 8 crater radii"
		f.Verdict = "Not measurable: the map has no data here."
		return f
	}
	fixtureNumbers(&f, fixtureModel(i, k), rng)
	f.Alarms = []ejecta.Alarm{
		{Name: "axis_near_sun", NotRun: "no sun azimuth layer", Value: nan, Limit: 15, Unit: "deg"},
		{Name: "coverage_can_fake", Raised: i%4 == 0, Value: 0.31, Limit: 0.2, Unit: "1", Detail: "a symmetric blanket through these holes would show 0.31"},
		{Name: "neighbour_overlap", Raised: i == 2, Value: 0.4, Limit: 0.3, Unit: "1", Detail: "40 % of the rings belong to <neighbours>"},
	}
	return f
}

func fixtureNumbers(f *ejecta.Finding, m model, rng *rand.Rand) {
	const level, noise = 120.0, 3.0
	f.Pixels, f.PixelsPer, f.Coverage, f.MaskShare, f.NEff = 2400+f.CraterIndex, 14.2, 0.93, 0.05, 61
	f.Background, f.BackgroundSE = level+0.5*rng.NormFloat64(), 0.8
	for k := range 14 {
		lo := 0.25 * math.Pow(1.28, float64(k))
		mid := lo * 1.14
		r := ejecta.RingValue{RhoLo: lo, RhoHi: lo * 1.28, SE: noise / math.Sqrt(1+mid*4), Pixels: 40 * (k + 1), Coverage: 0.95, Model: math.NaN()}
		truth := m.a * math.Pow(max(mid, 1), -m.b)
		if mid < 1 {
			truth *= 0.3
		}
		r.Excess = truth + r.SE*rng.NormFloat64()
		r.Mean = f.Background + r.Excess
		if mid > 1 {
			r.Model = f.Background + truth
		}
		f.Radial = append(f.Radial, r)
	}
	f.Radial[0].Mean, f.Radial[0].Excess, f.Radial[0].SE = math.NaN(), math.NaN(), math.NaN()
	f.Envelope = 9
	f.Layers = layerEffect().Kept()
	f.Robust = ejecta.Robustness{Tried: 14, Overturned: []string{"the first ring left out", "a decay exponent of 4"}}
	for k := range 24 {
		v := ejecta.SectorValue{AzLo: 15 * float64(k), AzHi: 15 * float64(k+1), SE: 4, Pixels: 50, Coverage: 1}
		v.Mean = 0.4*m.a*m.shape(v.AzLo+7.5) + v.SE*rng.NormFloat64()
		f.Azimuthal = append(f.Azimuthal, v)
	}
	f.Azimuthal[5] = ejecta.SectorValue{AzLo: 75, AzHi: 90, Mean: math.NaN(), SE: math.NaN()}
	f.Excess, f.ExcessSE = 0.4*m.a+rng.NormFloat64(), 1.3
	f.ExcessP = math.Erfc(f.Excess/f.ExcessSE/math.Sqrt2) / 2
	f.ExcessQ, f.LocalFDR = min(1, 3*f.ExcessP), min(1, 5*f.ExcessP)
	f.RimExcess, f.RimExcessSE, f.RimExcess95 = m.a, 4.2, [2]float64{m.a - 8, m.a + 9}
	f.Decay, f.DecaySE, f.Decay95, f.Extent = m.b, 0.3, [2]float64{m.b - 0.6, m.b + 0.7}, 4.5
	f.Detectable50, f.Detectable95, f.UpperLimit95 = 14, 21, m.a+8
	f.Families = []ejecta.FamilyTest{{Name: "one axis", Z: 5.1, P: 2e-6}, {Name: "one side", Z: 1.2, P: 0.4}, {Name: "omnibus", Z: 31, P: 0.0004}}
	f.Verdict = "Excess of " + number(f.Excess) + " " + f.Unit + ", " + string(m.pattern) + "."
	f.Pattern, f.RunnerUp, f.PatternLead, f.Asymmetry, f.AsymmetrySE, f.AsymmetryP, f.AsymmetryQ = m.pattern, ejecta.PatternSymmetric, 6, 0.1, 0.1, rng.Float64(), 0.8
	if m.pattern.Directional() {
		fixtureDirection(f, m)
	}
}

func fixtureDirection(f *ejecta.Finding, m model) {
	f.Asymmetry, f.AsymmetryP, f.AsymmetryQ, f.Axis, f.AxisSE = 0.9, 2e-5, 3e-4, m.axis, 6
	f.Axis95 = []ejecta.Interval{{Lo: m.axis - 13, Hi: m.axis + 12}}
	turns := map[ejecta.Pattern][]float64{ejecta.PatternOneSided: {0}, ejecta.PatternBilateral: {0, 180}, ejecta.PatternRays: {0, 120, 240}}[m.pattern]
	for _, t := range turns {
		f.Lobes = append(f.Lobes, ejecta.Lobe{Azimuth: math.Mod(m.axis+t, 360), Width: 50, Amplitude: m.a, SE: 5, Reach: 3.2})
	}
	if m.pattern == ejecta.PatternGap {
		f.GapWidth = 90
	}
}

func fixtureContrast(i int, rng *rand.Rand) ejecta.Contrast {
	c := ejecta.Contrast{CraterIndex: i, SpeciesA: "water", SpeciesB: "hydroxyl", Status: ejecta.StatusOK, Statistic: 9 * rng.Float64(), P: rng.Float64(), Q: 0.9,
		AmplitudeRatio: 0.8, AxisDifference: math.NaN(), AxisDifferenceSE: math.NaN(), UpperLimitA: 20, UpperLimitB: 25, Sentence: "No difference seen."}
	if i%3 == 1 {
		c.Claimed, c.P, c.Q, c.Sentence = true, 1e-4, 2e-3, "Water follows one axis, hydroxyl does not."
	}
	return c
}

func fixtureTargets(s *Survey, n int) {
	for i := range n {
		lo, hi := max(1, i-i/3), min(n, i+3+i/3)
		t := ejecta.Target{CraterIndex: i, Rank: i + 1, Score: 10 - 0.1*float64(i), RankLo: lo, RankHi: hi, PTop10: math.Exp(-0.1 * float64(i)),
			Components: []ejecta.Component{{Name: "excess", Value: 6}, {Name: "direction", Value: 4 - 0.1*float64(i)}},
			Verdict:    "Enriched in water along one axis.", Why: "Large excess, firm direction & no raised alarm."}
		s.Targets = append(s.Targets, t)
	}
}

func fixtureCutout(s *Survey, i, k int, rng *rand.Rand) Cutout {
	const size, half = 96, 4.0
	m := fixtureModel(i, k)
	c := Cutout{CraterIndex: i, Species: s.Species[k].Name, Unit: s.Species[k].Unit, Size: size, HalfWidth: half, Values: make([]float32, size*size), Masked: make([]bool, size*size)}
	for y := range size {
		for x := range size {
			u, v := half*(2*float64(x)+1-size)/size, -half*(2*float64(y)+1-size)/size
			rho, az := math.Hypot(u, v), math.Atan2(u, v)*180/math.Pi
			value := 120 + 3*rng.NormFloat64()
			if rho > 1 {
				value += m.a * math.Pow(rho, -m.b) * m.shape(az)
			}
			at := y*size + x
			c.Values[at] = float32(value)
			if u-v > 5.5 || (i == 1 && math.Abs(u+1.5) < 0.15) {
				c.Values[at] = float32(math.NaN())
			}
			c.Masked[at] = math.Hypot(u+2.6, v+2.2) < 0.9
		}
	}
	return c
}

func fixtureNulls(rng *rand.Rand) []NullSummary {
	var out []NullSummary
	for _, name := range []string{"water", "hydroxyl"} {
		for _, lo := range []float64{3, 8} {
			n := NullSummary{Species: name, RadiusLo: lo, RadiusHi: 2.5 * lo, Count: 300, Scale: 1.07}
			for range 300 {
				n.PValues = append(n.PValues, rng.Float64())
				n.ExcessPValues = append(n.ExcessPValues, math.Pow(rng.Float64(), 1.1))
			}
			out = append(out, n)
		}
	}
	return out
}

func fixtureManifest(n int) Manifest {
	return Manifest{Tool: "rimcast", Version: "test", Command: []string{"rimcast", "screen", "<survey>.toml"}, Seed: 42,
		Settings: map[string]any{"tests.alpha": 0.001, "sampling.outer": 8, "note": "</script><b>x"},
		Inputs:   []Input{{"species", "water.tif", 1234, "ab"}, {"catalogue", "craters.geojson", 99, "cd"}},
		CRS:      map[string]string{"body": "Halven", "radius_m": "412000"}, Counts: map[string]int{"craters": n, "refused": 2}}
}

// layerEffect is a crater without and with an invented layer of temperature,
// one ring and no direction without it.
func layerEffect() ejecta.LayerEffect {
	around := make([]float64, 24)
	se := make([]float64, 24)
	for i := range around {
		around[i], se[i] = 8*math.Cos(float64(i)*math.Pi/6), 2
	}
	view := ejecta.LayerView{RimExcess: 40, RimExcessSE: 5, Score: 8, DirectionP: 1e-5, Ring: []float64{30, 12, math.NaN(), 1}, RingSE: []float64{3, 3, math.NaN(), 2}, Around: around, AroundSE: se}
	bare := ejecta.LayerView{RimExcess: 55, RimExcessSE: 5, Score: 11, DirectionP: math.NaN(), Ring: []float64{41, 19, 8, 1}, RingSE: []float64{3, 3, 3, 2}}
	return ejecta.LayerEffect{Layers: []string{"temperature <i>"}, Slope: []float64{-0.75}, SlopeSE: []float64{0.08}, Edges: []float64{1.1, 1.6, 2.2, 3.1, 4.4}, Without: bare, With: view}
}
