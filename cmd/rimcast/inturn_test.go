package main

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestInTurn: what follows the parts comes in their order, with any number of
// workers and whichever part takes longest.
func TestInTurn(t *testing.T) {
	for workers := 1; workers <= 4; workers++ {
		at, seen := make([]int, workers), []int{}
		err := inTurn(workers, 25, func(w, part int) error {
			time.Sleep(time.Duration(part*7%5) * time.Millisecond / 5)
			at[w] = part
			return nil
		}, func(w int) error {
			seen = append(seen, at[w])
			return nil
		})
		if err != nil || len(seen) != 25 || !slices.IsSorted(seen) {
			t.Errorf("%d workers: %v, %v", workers, seen, err)
		}
	}
}

// TestInTurnEnds: a fault of a part, a panic, and a fault of what follows end the
// work; parts that were not reached have no result.
func TestInTurnEnds(t *testing.T) {
	boom := errors.New("boom")
	for what, c := range map[string]struct {
		work func(part int) error
		then error
		want string
		upTo int
	}{
		"fault":  {work: func(part int) error { return map[bool]error{true: boom}[part == 5] }, want: "boom", upTo: 5},
		"panic":  {work: func(part int) error { return []error{nil, nil, nil}[part] }, want: "internal error", upTo: 3},
		"follow": {work: func(int) error { return nil }, then: boom, want: "boom", upTo: 1},
	} {
		followed := 0
		err := inTurn(3, 1000, func(_, part int) error { return c.work(part) }, func(int) error {
			followed++
			return c.then
		})
		if err == nil || !strings.Contains(err.Error(), c.want) || followed > c.upTo {
			t.Errorf("%s: followed %d parts, %v", what, followed, err)
		}
	}
}
