package study

import (
	"bytes"
	"os"
	"testing"
)

// TestCommonStudy measures catalogues on ground that makes directions when asked
// to.
func TestCommonStudy(t *testing.T) {
	if !*whole {
		t.Skip("-study runs the whole study")
	}
	p := CommonPlan{Seed: *seed, Radius: 8, Maps: max(1, int(8**part)), Sites: 240}
	list, err := RunCommon(p, func(s string) { t.Log(s) })
	if err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	WriteCommon(&b, p, list)
	t.Log("\n" + b.String())
	if *out != "" {
		if err := os.WriteFile(*out, b.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// The alarm never adds a direction, and takes none where null positions behave;
// its counts add up.
func TestCommonCounts(t *testing.T) {
	p := CommonPlan{Seed: 2, Radius: 5, Maps: 1, Sites: 60}
	list, err := RunCommon(p, func(string) {})
	if err != nil || len(list) != len(commonGrounds()) {
		t.Fatal(len(list), err)
	}
	for _, r := range list {
		if r.bare.kept > r.bare.named || r.lobed.kept > r.lobed.named || r.positions != 30 || r.bare.n+r.lobed.n != 30 {
			t.Errorf("%s: %+v", r.name, r)
		}
	}
	if even := list[0]; even.bare.kept != even.bare.named || even.lobed.kept != even.lobed.named {
		t.Errorf("on even ground the alarm takes directions: %+v", even)
	}
	if list[3].lobed.named < list[0].lobed.named {
		t.Errorf("strong lobes are named less often: %+v, %+v", list[3].lobed, list[0].lobed)
	}
}
