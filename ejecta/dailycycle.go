package ejecta

import "math"

// DayLevel is a species at one time of day over the catalogue. All means are
// over the craters that are measured at every time of day, so that one time of
// day can be compared with another.
type DayLevel struct {
	Species, Epoch, Unit     string
	LocalTime                float64 // hours, mean over the craters; NaN when not told
	Craters                  int
	Background, BackgroundSE float64 // mean of the craters' backgrounds
	With                     int     // craters with a blanket at some time of day
	Blanket, BlanketSE       float64 // their mean rim excess at one exponent, random effects
	Others                   int     // the other craters, which serve as controls
	Without, WithoutSE       float64 // their mean rim excess
}

// DailyCycle is every species that was mapped several times, at each time of
// day, in the order in which the epochs come.
func DailyCycle(epochs []EpochFinding, persistence []Persistence) []DayLevel {
	with, use, count := map[dayKey]bool{}, map[dayKey]bool{}, map[dayKey]int{}
	for i := range epochs {
		count[dayKey{epochs[i].CraterIndex, epochs[i].Species}]++
	}
	for _, p := range persistence {
		k := dayKey{p.CraterIndex, p.Species}
		with[k], use[k] = p.Seen > 0, p.Status == StatusOK && p.Epochs == count[k]
	}
	var out []DayLevel
	for _, name := range epochNames(epochs) {
		var list []*EpochFinding
		for i := range epochs {
			if e := &epochs[i]; e.Species == name[0] && e.Epoch == name[1] && use[dayKey{e.CraterIndex, e.Species}] {
				list = append(list, e)
			}
		}
		out = append(out, dayLevel(name, list, with))
	}
	return out
}

// dayKey is a crater and species.
type dayKey struct {
	crater  int
	species string
}

// epochNames lists species and epoch in the order in which they come.
func epochNames(epochs []EpochFinding) (names [][2]string) {
	seen := map[[2]string]bool{}
	for i := range epochs {
		if n := [2]string{epochs[i].Species, epochs[i].Epoch}; !seen[n] {
			seen[n] = true
			names = append(names, n)
		}
	}
	return names
}

func dayLevel(name [2]string, list []*EpochFinding, with map[dayKey]bool) DayLevel {
	d := DayLevel{Species: name[0], Epoch: name[1], Craters: len(list)}
	var hours []float64
	var background, blanket, without []Estimate
	for _, e := range list {
		d.Unit = e.Unit
		hours = append(hours, e.LocalTime)
		if e.BackgroundSE > 0 {
			background = append(background, Estimate{e.Background, e.BackgroundSE * e.BackgroundSE})
		}
		x := Estimate{e.Blanket, e.BlanketSE * e.BlanketSE}
		if with[dayKey{e.CraterIndex, e.Species}] {
			blanket = append(blanket, x)
		} else {
			without = append(without, x)
		}
	}
	d.LocalTime, _ = HourMean(hours, nil)
	d.With, d.Others = len(blanket), len(without)
	d.Background, d.BackgroundSE, _ = RandomEffects(background)
	d.Blanket, d.BlanketSE, _ = RandomEffects(blanket)
	d.Without, d.WithoutSE, _ = RandomEffects(without)
	return d
}

// HoursKnown reports whether all times of day of a species have a local time.
func HoursKnown(levels []DayLevel) bool {
	for _, d := range levels {
		if math.IsNaN(d.LocalTime) {
			return false
		}
	}
	return len(levels) > 0
}
