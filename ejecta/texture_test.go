package ejecta

import (
	"math"
	"testing"

	"rimcast/ejecta/testblanket"
)

// patches is ground with spots of other levels all over, and none near the rim
// but one.
func patches(rho, az float64) float64 {
	east, north := rho*math.Sin(az), rho*math.Cos(az)
	return 3 * math.Sin(2.1*east) * math.Cos(1.7*north+0.6)
}

// Patchy ground makes directions, and none is claimed without an alarm; even
// ground under a blanket raises none.
func TestUnevenGround(t *testing.T) {
	found := 0
	for seed := range uint64(4) {
		e, m := planted(seed, patches)
		if !m.Finding.Pattern.Directional() {
			continue
		}
		found++
		m.Finding.Alarms = e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
		a := alarmNamed(t, m.Finding.Alarms, textureAlarm)
		if ratio := e.texture(&m, Settings{}, 1); !(ratio > 3) || !(a.Value > m.Finding.AsymmetryP) || m.Finding.Doubt() == "" {
			t.Errorf("patches have a ratio of %.2f, %+v", ratio, a)
		}
	}
	if found == 0 {
		t.Error("no patch made a direction")
	}
}

func TestEvenGroundIsNotUneven(t *testing.T) {
	for _, pattern := range []string{"one-sided", "bilateral"} {
		for seed := range uint64(4) {
			e, m := planted(seed, blanketField(testblanket.Blanket{Pattern: pattern, Amplitude: 2, Axis: 40}))
			a := alarmNamed(t, e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1}), textureAlarm)
			if a.Raised || a.NotRun != "" || a.Value > 1e-4 {
				t.Errorf("%s: %+v", pattern, a)
			}
		}
	}
}

// Ghosts see what the noise model says where it is right: a mean of one.
func TestGhostsOnWhiteNoise(t *testing.T) {
	sum := 0.0
	for seed := range uint64(12) {
		e, m := planted(seed, func(rho, az float64) float64 { return 0 })
		sum += e.texture(&m, Settings{}, 1) / 12
	}
	if math.Abs(sum-1) > 0.15 {
		t.Errorf("mean ratio %.3f", sum)
	}
}

// One spot beside the rim passes for a lobe, and is called one, but for what is
// left by chance.
func TestSpotIsCalledOne(t *testing.T) {
	k := contact{75, 2, 0.8}.brush()
	found, passed := 0, 0
	for seed := range uint64(6) {
		e, m := planted(seed, func(rho, az float64) float64 {
			return 4 * k.height(rho*math.Sin(az), rho*math.Cos(az))
		})
		if m.Finding.Pattern.Directional() {
			found++
		}
		m.Finding.Alarms = e.Alarms(&m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1})
		if m.Finding.Pattern.Directional() && m.Finding.Doubt() == "" {
			passed++
		}
	}
	if found < 6 || passed > 1 {
		t.Errorf("%d spots of 6 made a direction, %d passed", found, passed)
	}
}

// Claims of null positions speak against a direction that is no plainer, and
// only where there are too many of them.
func TestCommonDirection(t *testing.T) {
	lobe := blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 40})
	e, m := planted(1, lobe)
	_, faint := planted(1, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 40}))
	faint.Blanket.P = 0.4
	for _, c := range []struct {
		name   string
		m      Measurement
		claims []float64
		n      int
		raised bool
		ran    bool
	}{
		{"a plain one on a map of many", m, repeated(1e-3, 20), 200, false, true},
		{"a common one", m, repeated(1e-300, 20), 200, true, true},
		{"as many as chance", m, repeated(1e-300, 2), 200, false, true},
		{"one without an excess", faint, repeated(1e-3, 20), 200, true, true},
		{"no excess, few claims", faint, repeated(1e-3, 2), 200, false, true},
		{"few positions", m, repeated(1e-300, 20), 60, false, false},
	} {
		var n NullClaims
		for i := range c.n {
			p := math.NaN()
			if i < len(c.claims) {
				p = c.claims[i]
			}
			n.Add(p)
		}
		a := commonAlarmOf(&c.m, Settings{}, AlarmInputs{NullScale: 1, Seed: 1, Nulls: &n})
		if a.Raised != c.raised || (a.NotRun == "") != c.ran {
			t.Errorf("%s: %+v", c.name, a)
		}
	}
	if e.ground == nil {
		t.Error("no ground")
	}
}

func repeated(v float64, n int) (out []float64) {
	for range n {
		out = append(out, v)
	}
	return out
}

func TestNullClaimsAreSorted(t *testing.T) {
	var n NullClaims
	for _, p := range []float64{0.3, math.NaN(), 0.1, 0.2} {
		n.Add(p)
	}
	if n.Positions != 4 || len(n.P) != 3 || n.P[0] != 0.1 || n.P[2] != 0.3 {
		t.Errorf("%+v", n)
	}
	if s := n.share(0.2); s != 0.6 {
		t.Errorf("share %g", s)
	}
}

// A null position on even ground claims nothing; one beside a lobe does; one
// without its ground cannot.
func TestNullClaim(t *testing.T) {
	e, _ := planted(1, blanketField(testblanket.Blanket{Pattern: "one-sided", Amplitude: 2, Axis: 40}))
	in := AlarmInputs{NullScale: 1, Seed: 1}
	if p := e.NullClaim(Settings{}, in); !(p < 1e-4) {
		t.Errorf("lobe: %g", p)
	}
	e.ground = nil
	if p := e.NullClaim(Settings{}, in); !math.IsNaN(p) {
		t.Errorf("no ground: %g", p)
	}
	e, _ = planted(2, func(rho, az float64) float64 { return 0 })
	if p := e.NullClaim(Settings{}, in); !math.IsNaN(p) {
		t.Errorf("even: %g", p)
	}
}
