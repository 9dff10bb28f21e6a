package main

import (
	"math"
	"strings"
	"testing"
)

func TestWithinLon(t *testing.T) {
	for _, c := range []struct {
		lon, west, east float64
		want            bool
	}{
		{175, 170, -170, true}, {-175, 170, -170, true}, {0, 170, -170, false}, {-10, 350, 20, true}, {20, 350, 20, true},
		{21, 350, 20, false}, {100, -180, 180, true}, {5, 0, 360, true}, {5, 5, 5, true}, {6, 5, 5, false},
	} {
		if got := withinLon(c.lon, c.west, c.east); got != c.want {
			t.Errorf("%g within %g..%g: %v", c.lon, c.west, c.east, got)
		}
	}
}

func TestWindowsAreText(t *testing.T) {
	if _, err := readWindows(strings.NewReader("crater_id,from\nA,\xff\xfe\n")); err == nil || !strings.Contains(err.Error(), "UTF-8") {
		t.Errorf("bytes that are no text: %v", err)
	}
}

func FuzzReadWindows(f *testing.F) {
	f.Add("crater_id,from,to,min_incidence,max_incidence,local_time\nA,1,2,10,20,9\nA,,,,,\n")
	f.Add("\ufeffcrater_id,local_time\n'=x,24\n")
	f.Add("local_time,crater_id\n1e400,A\n")
	f.Fuzz(func(t *testing.T, text string) {
		windows, err := readWindows(strings.NewReader(text))
		if err != nil {
			return
		}
		for id, list := range windows {
			for _, w := range list {
				if id == "" || w.LocalTime > 24 || w.MinIncidence > w.MaxIncidence || math.IsInf(w.LocalTime, 0) {
					t.Errorf("accepted %q: %+v", id, w)
				}
			}
		}
	})
}
