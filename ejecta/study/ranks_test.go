package study

import (
	"bytes"
	"math"
	"os"
	"testing"
)

// TestRankStudy ranks invented catalogues of 2000 craters when asked to.
func TestRankStudy(t *testing.T) {
	if !*whole {
		t.Skip("-study runs the whole study")
	}
	var b bytes.Buffer
	RunRanks(RankPlan{Seed: *seed, Craters: 2000, Catalogues: max(4, int(40**part))}).Markdown(&b)
	t.Log("\n" + b.String())
	if *out != "" {
		if err := os.WriteFile(*out, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// TestQuickRanks holds a few catalogues to bounds: better than a plain sort,
// false ones as expected, intervals that hold, scores without the winner's
// curse.
func TestQuickRanks(t *testing.T) {
	r := RunRanks(RankPlan{Seed: 3, Craters: 2000, Catalogues: 6})
	p10, p50 := r.Precision[10], r.Precision[50]
	if p10[0] < 0.95 || p50[0] < 0.85 || p50[0] < p50[1]+0.2 {
		t.Errorf("precision %v of the first ten, %v of the first fifty", p10, p50)
	}
	if e, f := r.Expected[150], r.False[150]; f < 10 || math.Abs(e-f) > 0.25*f {
		t.Errorf("%.1f false ones expected in the first 150, %.1f found", e, f)
	}
	if r.HeldTop < 0.82 || r.HeldTop > 0.96 {
		t.Errorf("intervals hold %.2f of the first fifty", r.HeldTop)
	}
	if r.RawBias < 0.3 || math.Abs(r.TrueBias) > 0.2 { // one standard error is 1/sqrt(6*50)
		t.Errorf("bias %.2f as observed, %.2f drawn back", r.RawBias, r.TrueBias)
	}
}
