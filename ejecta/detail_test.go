package ejecta

import (
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// drawnFinding is a finding with a detail of any make.
func drawnFinding(t *rapid.T) Finding {
	f := Finding{Species: "water", Status: StatusOK, Excess: 3, Layers: &LayerEffect{Layers: []string{"temperature"}}}
	for range rapid.IntRange(0, 3).Draw(t, "rings") {
		f.Radial = append(f.Radial, RingValue{RhoLo: 1, RhoHi: 2, Mean: rapid.Float64().Draw(t, "mean")})
		f.Azimuthal = append(f.Azimuthal, SectorValue{AzHi: 30, Pixels: 7})
		f.Families = append(f.Families, FamilyTest{Name: "gap", P: 0.5})
		f.Conditions = append(f.Conditions, Condition{Name: "heat", Mean: 200})
	}
	if rapid.Bool().Draw(t, "sums") {
		f.Sums = &Sums{Score: []float64{1, 2}}
	}
	for range rapid.IntRange(0, 6).Draw(t, "alarms") {
		f.Alarms = append(f.Alarms, rapid.SampledFrom([]Alarm{
			{Name: "thermal", Raised: true, Value: 4}, {Name: "gap_fits"}, {Name: commonAlarm, Limit: 0.1, Value: 0.02},
			{Name: commonAlarm, Limit: math.Inf(1), NotRun: "no null positions"}, {Name: "one_strip", NotRun: "no such layer"},
		}).Draw(t, "alarm"))
	}
	return f
}

func TestDetailComesBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		f := drawnFinding(t)
		whole := f
		d := f.Detach()
		if f.Radial != nil || f.Azimuthal != nil || f.Families != nil || f.Conditions != nil || (f.Sums != nil) != (whole.Sums != nil) {
			t.Fatal("something of the detail is left")
		}
		if !slices.Equal(f.RaisedAlarms(), whole.RaisedAlarms()) || (f.common() == nil) != (whole.common() == nil) {
			t.Fatal("an alarm that the catalogue looks at is gone")
		}
		f.Attach(&d)
		if !reflect.DeepEqual(f, whole) {
			t.Fatalf("%+v\nis not\n%+v", f, whole)
		}
	})
}

// What the catalogue does to a detached finding is in the whole one.
func TestDetailKeepsWhatCame(t *testing.T) {
	f := Finding{Alarms: []Alarm{{Name: "a"}, {Name: "b", Raised: true}, {Name: commonAlarm, Limit: 0.1}, {Name: "c"}}}
	d := f.Detach()
	f.common().Raised = true
	f.Alarms = append(f.Alarms, Alarm{Name: "late"})
	f.ExcessQ = 0.25
	f.Attach(&d)
	var list []string
	for _, a := range f.Alarms {
		list = append(list, a.Name)
	}
	if !slices.Equal(list, []string{"a", "b", commonAlarm, "c", "late"}) || !f.Alarms[2].Raised || f.ExcessQ != 0.25 {
		t.Errorf("%v %+v", list, f)
	}
}
