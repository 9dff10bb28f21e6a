package ejecta

import (
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"unsafe"
)

// sievedCatalogue is findings of two species of n craters, most of them left out by
// a sieve or too small, in full.
func sievedCatalogue(n int, rng *rand.Rand) (list []Finding, quick []QuickP) {
	quick = make([]QuickP, 2*n)
	for i := range n {
		kind := rng.IntN(10)
		for s, name := range []string{"water", "hydroxyl"} {
			q := &quick[2*i+s]
			if *q = NoQuickP(); kind > 1 && rng.IntN(5) > 0 {
				*q = QuickP{math.Ceil(rng.Float64()*50) / 50, rng.Float64(), [2]float64{rng.Float64(), rng.Float64()}}
			}
			list = append(list, sievedFinding(i, kind, name, q, rng))
		}
	}
	return list, quick
}

// sievedFinding is too small for kind 0, measured for 1 to 3, and else left out.
func sievedFinding(crater, kind int, species string, q *QuickP, rng *rand.Rand) Finding {
	f := Finding{CraterIndex: crater, Species: species, Unit: "ppm"}
	BlankNumbers(&f)
	if !math.IsNaN(q.Excess) {
		f.Quick = q
	}
	switch {
	case kind == 0:
		f.Status, f.Note = StatusTooSmall, []string{"rim radius 1.10 pixels", "rim radius 1.20 pixels"}[crater%2]
	case kind > 3:
		f.Status = StatusSieved
	default:
		f.Status, f.ScaleDoubt = StatusOK, species == "water"
		f.ExcessP, f.AsymmetryP = math.Ceil(rng.Float64()*50)/50, rng.Float64()
		f.Excess, f.ExcessSE, f.Extent = rng.NormFloat64(), 1, 2
		f.Pattern = PatternNone
		if f.AsymmetryP < 0.02 {
			f.Pattern, f.Alarms = PatternOneSided, []Alarm{{Name: commonAlarm, Value: rng.Float64() / 50, Limit: 0.1}}
		}
	}
	return f
}

// split takes the bare craters out of a list of two species.
func split(list []Finding, quick []QuickP) (rest []Finding, bare *Bare) {
	bare = NewBare(list[:2], quick)
	for i := 0; i < len(list); i += 2 {
		if f := &list[i]; f.IsBare() && list[i+1].IsBare() {
			bare.Add(f.CraterIndex, f.Status, f.Note)
		} else {
			rest = append(rest, list[i], list[i+1])
		}
	}
	return rest, bare
}

// joined puts them back.
func joined(rest []Finding, bare *Bare, n int) (list []Finding) {
	for i := range n {
		if k, ok := bare.Find(i); ok {
			list = append(list, Finding{}, Finding{})
			bare.Fill(&list[2*i], k, 0)
			bare.Fill(&list[2*i+1], k, 1)
			continue
		}
		list, rest = append(list, rest[0], rest[1]), rest[2:]
	}
	return list
}

func inputsOf(list []Finding, crater func(i int) bool) (in []RankInput) {
	for i := 0; i < len(list); i += 2 {
		if crater(list[i].CraterIndex) {
			in = append(in, RankInput{CraterIndex: list[i].CraterIndex, Findings: list[i : i+2], Freshness: freshOf(list[i].CraterIndex)})
		}
	}
	return in
}

func freshOf(crater int) float64 { return []float64{math.NaN(), 0.5, 1}[crater%3] }

// same compares with NaN equal to itself, by the bits of what is written.
func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if !reflect.DeepEqual(fmt.Sprintf("%+v", got), fmt.Sprintf("%+v", want)) {
		t.Errorf("%s differ: %v and %v", what, got, want)
	}
}

// TestBareCratersChangeNothing: a catalogue without its bare craters in full is
// corrected, doubted, described and ranked as with them, to the last bit.
func TestBareCratersChangeNothing(t *testing.T) {
	for seed := range uint64(4) {
		const n = 900
		full, quick := sievedCatalogue(n, rand.New(rand.NewPCG(seed, 1)))
		rest, bare := split(slices.Clone(full), quick)
		for i := range rest { // alarms are changed in place
			rest[i].Alarms = slices.Clone(rest[i].Alarms)
		}
		if bare.Len() < n/2 || len(rest)+2*bare.Len() != len(full) {
			t.Fatalf("%d of %d craters are bare", bare.Len(), n)
		}
		e1, d1 := Correct(full, 2)
		e2, d2 := CorrectBeside(rest, bare, 2)
		same(t, "tests", []int{e2, d2}, []int{e1, d1})
		DoubtCommon(full, 2, 0.1)
		DoubtCommonBeside(rest, bare, 2, 0.1)
		for i := range full {
			full[i].Describe(1e-3)
		}
		for i := range rest {
			rest[i].Describe(1e-3)
		}
		same(t, "findings", joined(rest, bare, n), full)
		var fresh []float64
		for k := range bare.Len() {
			fresh = append(fresh, freshOf(bare.Crater(k)))
		}
		all := Rank(inputsOf(full, func(int) bool { return true }), nil, seed)
		few := RankBeside(inputsOf(rest, func(int) bool { return true }), bare, fresh, nil, seed)
		same(t, "targets", few, all)
	}
}

// TestBareTakesLittle: what is held of a bare crater of two species, with its looks.
func TestBareTakesLittle(t *testing.T) {
	const limit = 80
	held := unsafe.Sizeof(bareCrater{}) + 2*unsafe.Sizeof(QuickP{})
	t.Logf("a bare crater of two species takes %d bytes, two findings %d", held, 2*unsafe.Sizeof(Finding{}))
	if held > limit {
		t.Errorf("a bare crater takes %d bytes, more than %d", held, limit)
	}
	if b := NewBare(make([]Finding, 2), nil); len(b.reasons) != 0 {
		t.Error("reasons before any crater")
	}
	b := NewBare(make([]Finding, 2), nil)
	for i := range 1000 {
		b.Add(i, StatusSieved, "not measured")
	}
	if len(b.reasons) != 1 {
		t.Errorf("%d reasons for one status", len(b.reasons))
	}
}

func TestBareCratersComeInOrder(t *testing.T) {
	b := NewBare(nil, nil)
	b.Add(3, StatusSieved, "")
	defer func() {
		if recover() == nil {
			t.Error("an earlier crater was taken")
		}
	}()
	b.Add(3, StatusSieved, "")
}
