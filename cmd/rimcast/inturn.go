package main

import (
	"errors"
	"sync"
)

// turns lets workers do numbered parts at once, and what follows each in order.
type turns struct {
	mu    sync.Mutex
	wake  *sync.Cond
	parts int
	next  int // part to be begun
	turn  int // part to be followed
	fault error
}

// inTurn does parts of some work with several workers at once, and what follows
// each part in the order of the parts, one at a time. A worker has one part at a
// time. After a fault, which is returned, nothing more is begun or followed.
func inTurn(workers, parts int, work func(worker, part int) error, then func(worker int) error) error {
	t := &turns{parts: parts}
	t.wake = sync.NewCond(&t.mu)
	fault := parallel(workers, workers, func(w int) {
		for part, ok := t.begin(); ok; part, ok = t.begin() {
			err := guarded(func() error { return work(w, part) })
			t.follow(part, err, func() error { return then(w) })
		}
	})
	return errors.Join(t.fault, fault)
}

// begin returns the next part.
func (t *turns) begin() (part int, ok bool) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.fault != nil || t.next == t.parts {
		return 0, false
	}
	t.next++
	return t.next - 1, true
}

// follow waits until it is the turn of a part and does what follows.
func (t *turns) follow(part int, err error, then func() error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	for t.turn != part && t.fault == nil && err == nil {
		t.wake.Wait()
	}
	if t.fault == nil && err == nil {
		err = guarded(then)
	}
	if t.turn++; t.fault == nil {
		t.fault = err
	}
	t.wake.Broadcast()
}

// guarded calls a function and turns a panic into its error.
func guarded(fn func() error) (err error) {
	defer caught(&err)
	return fn()
}
