package reports

import "rimcast/ejecta"

// alarmCount is how often an alarm was raised, ran, and what it first lacked.
type alarmCount struct {
	raised, ran int
	lacking     string
}

// alarmCounts counts the alarms of all findings by name. Where the details are
// elsewhere it reads them once.
func (s *Survey) alarmCounts() map[string]alarmCount {
	if s.apart == nil {
		return s.countAlarms()
	}
	s.apart.counted.Do(func() { s.apart.counts = s.countAlarms() })
	return s.apart.counts
}

func (s *Survey) countAlarms() map[string]alarmCount {
	counts := map[string]alarmCount{}
	for _, f := range s.wholeFindings() {
		for i := range f.Alarms {
			a := &f.Alarms[i]
			counts[a.Name] = counts[a.Name].with(a)
		}
	}
	return counts
}

// with counts one more.
func (c alarmCount) with(a *ejecta.Alarm) alarmCount {
	switch {
	case a.NotRun != "" && c.lacking == "":
		c.lacking = a.NotRun
	case a.NotRun != "":
	case a.Raised:
		c.raised, c.ran = c.raised+1, c.ran+1
	default:
		c.ran++
	}
	return c
}
