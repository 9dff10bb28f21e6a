package ejecta

import "math"

// Detail is the part of a finding that is looked at together with its crater
// only: profiles, sums, and the alarms that are silent. Nothing that is worked out
// over a catalogue needs it, so that it can be kept elsewhere than in memory.
type Detail struct {
	Radial     []RingValue
	Azimuthal  []SectorValue
	Families   []FamilyTest
	Conditions []Condition
	Layers     *LayerEffect
	Sums       *Sums
	Silent     []Alarm // neither raised, nor ever raised over the catalogue
	SilentAt   []int32 // their places among all alarms
}

// keptSums stands in a detached finding for its sums.
var keptSums = &Sums{}

// Detach takes the detail out of a finding. What is left is whole for everything
// over a catalogue; its Sums are empty ones where it had some.
func (f *Finding) Detach() Detail {
	d := Detail{Radial: f.Radial, Azimuthal: f.Azimuthal, Families: f.Families, Conditions: f.Conditions, Layers: f.Layers, Sums: f.Sums}
	f.Radial, f.Azimuthal, f.Families, f.Conditions, f.Layers = nil, nil, nil, nil, nil
	if f.Sums != nil {
		f.Sums = keptSums
	}
	f.Alarms = d.silence(f.Alarms)
	return d
}

// silence takes the silent alarms and returns the others.
func (d *Detail) silence(all []Alarm) (heard []Alarm) {
	for i, a := range all {
		if a.Raised || a.catalogued() {
			heard = append(heard, a)
			continue
		}
		d.Silent, d.SilentAt = append(d.Silent, a), append(d.SilentAt, int32(i))
	}
	return heard
}

// catalogued reports whether an alarm is one that the catalogue may raise, see
// [DoubtCommon].
func (a *Alarm) catalogued() bool {
	return a.Name == commonAlarm && a.NotRun == "" && !math.IsNaN(a.Limit)
}

// Attach gives a detached finding its detail back. What was done to it in the
// meantime stays, and alarms that were added come last.
func (f *Finding) Attach(d *Detail) {
	f.Radial, f.Azimuthal, f.Families, f.Conditions, f.Layers, f.Sums = d.Radial, d.Azimuthal, d.Families, d.Conditions, d.Layers, d.Sums
	f.Alarms = d.heardWith(f.Alarms)
}

// heardWith puts the silent alarms back among those that were kept.
func (d *Detail) heardWith(kept []Alarm) []Alarm {
	if len(d.Silent) == 0 {
		return kept
	}
	all := make([]Alarm, 0, len(kept)+len(d.Silent))
	for k, at := range d.SilentAt {
		for len(all) < int(at) && len(kept) > 0 {
			all, kept = append(all, kept[0]), kept[1:]
		}
		all = append(all, d.Silent[k])
	}
	return append(all, kept...)
}
