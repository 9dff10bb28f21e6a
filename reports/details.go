package reports

import (
	"iter"
	"sync"

	"rimcast/ejecta"
)

// Details gives the details of the findings of a survey, by their places in
// Findings. It may be asked from several goroutines.
type Details interface {
	Detail(i int) (ejecta.Detail, error)
}

// detached is where the details are, with the first fault of reading them.
type detached struct {
	from Details

	mu  sync.Mutex
	err error

	counted sync.Once
	counts  map[string]alarmCount
}

// ReadDetails tells a survey that its findings are detached, and where their
// details are. Writers read them one by one, in the order of the findings.
func (s *Survey) ReadDetails(from Details) { s.apart = &detached{from: from} }

// Whole is finding i with its detail.
func (s *Survey) Whole(i int) (ejecta.Finding, error) {
	f := s.Findings[i]
	if s.apart == nil {
		return f, nil
	}
	d, err := s.apart.from.Detail(i)
	if err != nil {
		s.apart.fail(err)
		return f, err
	}
	f.Attach(&d)
	return f, nil
}

// whole is Whole without a copy where the findings hold their details.
func (s *Survey) whole(i int) (*ejecta.Finding, error) {
	if s.apart == nil {
		return &s.Findings[i], nil
	}
	f, err := s.Whole(i)
	return &f, err
}

func (d *detached) fail(err error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.err == nil {
		d.err = err
	}
}

// Lost is the first fault of reading a detail: what was written is not whole.
func (s *Survey) Lost() error {
	if s.apart == nil {
		return nil
	}
	s.apart.mu.Lock()
	defer s.apart.mu.Unlock()
	return s.apart.err
}

// wholeFindings yields the findings of measured craters with their details; it ends early at a fault,
// which [Survey.Lost] tells.
func (s *Survey) wholeFindings() iter.Seq2[int, *ejecta.Finding] {
	return func(yield func(int, *ejecta.Finding) bool) {
		for i := range s.Findings {
			f, err := s.whole(i)
			if err != nil || !yield(i, f) {
				return
			}
		}
	}
}
