package reports

import (
	"math"
	"strings"
	"testing"
)

// All times of day of a crater are drawn within the limits that they share, and
// every value that is drawn is in the table beside the figure.
func TestDayFigureHoldsEveryTime(t *testing.T) {
	s := fixture(12)
	for crater := range 4 {
		list := s.dayEpochs(crater, "water")
		d := day{list: list}
		d.scales()
		rows := 1
		for _, e := range list {
			rows += len(e.Radial) + len(e.Azimuthal)
			for _, v := range e.Azimuthal {
				if v.Mean-v.SE < d.lo || v.Mean+v.SE > d.hi {
					t.Errorf("crater %d: a sector of %g is outside %g..%g", crater, v.Mean, d.lo, d.hi)
				}
			}
			for _, r := range e.Radial {
				if x := r.Mean - e.Background; x-r.SE < d.low || x+r.SE > d.up || r.RhoHi > d.outer {
					t.Errorf("crater %d: a ring of %g is outside %g..%g", crater, x, d.low, d.up)
				}
			}
		}
		fig, ok := dayFigure(s, crater, "water", speciesLook(0))
		if !ok || len(fig.data) != rows {
			t.Errorf("crater %d: %d rows of data, %d values drawn", crater, len(fig.data), rows)
		}
		if !strings.Contains(fig.Alt, s.persistenceOf(crater, "water").Verdict[:4]) && crater%2 == 1 {
			t.Errorf("crater %d: the text for who cannot see it does not say what was found: %s", crater, fig.Alt)
		}
	}
	if _, ok := dayFigure(s, 10, "water", speciesLook(0)); ok {
		t.Error("a crater that no time of day shows has a figure")
	}
}

// Hours divide the day.
func TestHourTicks(t *testing.T) {
	for _, c := range []struct {
		lo, hi float64
		want   string
	}{{5.5, 18.5, "6 9 12 15 18"}, {10.2, 13.9, "11 12 13"}} {
		var got []string
		for _, k := range hourTicks(c.lo, c.hi) {
			got = append(got, k.Label)
		}
		if strings.Join(got, " ") != c.want {
			t.Errorf("%g to %g h: %v", c.lo, c.hi, got)
		}
	}
}

// A survey without local times is drawn by epoch, in its order.
func TestCycleWithoutHours(t *testing.T) {
	s := fixture(12)
	for i := range s.Epochs {
		s.Epochs[i].LocalTime = math.NaN()
	}
	fig, ok := cycleFigure(s)
	if !ok || len(fig.data) != 4 || fig.data[2][1] != "'=noon" {
		t.Errorf("%v", fig.data)
	}
	s.Epochs, s.Persistence = nil, nil
	if _, ok := cycleFigure(s); ok {
		t.Error("a survey of one time of day has a figure of the day")
	}
}
