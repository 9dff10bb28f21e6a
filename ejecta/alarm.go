package ejecta

import (
	"fmt"
	"math"
)

// AlarmInputs is what the alarms need beyond the evidence.
type AlarmInputs struct {
	NullScale     float64
	Noise         *Noise
	SigmaCentre   float64 // crater radii, 0 unknown
	SigmaRadius   float64 // share of the radius, 0 unknown
	RimAxes       [2]float64
	RimAzimuth    float64
	NearDuplicate bool
	SunAzimuth    float64 // degrees, NaN without such a layer
	TrackAzimuth  float64 // degrees, NaN without such a layer
	StripLayer    bool    // the survey has one
	Seed          uint64
	Nulls         *NullClaims // what ground without a crater claims; nil unknown
	Without       LayerScales // scales without the covariates of an alarm; the null scale where unknown
}

// Limits of the alarms.
const (
	scaleLow, scaleHigh = 0.8, 1.25
	overlapLimit        = 0.15
	axisLimit           = 15.0 // degrees
	anisotropyLimit     = 1.5
	ellipseLimit        = 1.1
	spreadLimit         = 2.0
	centreLimit         = 0.05 // crater radii
	radiusLimit         = 0.05 // of the radius
)

const noLayer = "no such layer"

// Alarms runs every alarm that can be run at a measured site and lists those
// that cannot, with what they would need.
func (e *Evidence) Alarms(m *Measurement, set Settings, in AlarmInputs) []Alarm {
	if e.Gram == nil {
		return nil
	}
	contact := e.contactAlarmOf(m, set, in)
	f := &m.Finding
	list := []Alarm{
		e.nullScaleAlarm(in),
		over("neighbour_overlap", e.MaskShare, overlapLimit, "share", "%.0f %% of the rings are masked because of neighbours", 100*e.MaskShare),
		e.neighbourAlarm(m, set, in),
		e.coverageAlarm(m, set, in),
		gapAlarm(m),
		e.backgroundAlarm(m),
		centreAlarm(e.CentreSigma, in),
		radiusAlarm(m, in),
		ellipseAlarm(f, in),
		flag("near_duplicate", in.NearDuplicate, "another entry of the catalogue has nearly the same place and size"),
		noiseAlarm(in.Noise),
		trackAlarm(f, in),
		sunAlarm(f, in),
		e.seamAlarmOf(m, set, in),
		e.oneStripAlarmOf(m, set, in),
		contact,
		e.deficitAlarmOf(m),
		e.textureAlarmOf(m, set, in),
		commonAlarmOf(m, set, in),
	}
	return append(list, e.covariateAlarms(m, set, in)...)
}

func over(name string, value, limit float64, unit, format string, args ...any) Alarm {
	return Alarm{Name: name, Raised: value > limit, Value: value, Limit: limit, Unit: unit, Detail: fmt.Sprintf(format, args...)}
}

func flag(name string, raised bool, detail string) Alarm {
	a := Alarm{Name: name, Raised: raised, Value: 0, Limit: 0}
	if raised {
		a.Value, a.Detail = 1, detail
	}
	return a
}

func notRun(name, why string) Alarm {
	return Alarm{Name: name, NotRun: why, Value: math.NaN(), Limit: math.NaN()}
}

func (e *Evidence) nullScaleAlarm(in AlarmInputs) Alarm {
	a := over("null_scale", in.NullScale, scaleHigh, "ratio", "the spread at null positions is %.2f times what the noise model says", in.NullScale)
	a.Raised = a.Raised || in.NullScale < scaleLow
	return a
}

// neighbourAlarm refits without the neighbours' blankets.
func (e *Evidence) neighbourAlarm(m *Measurement, set Settings, in AlarmInputs) Alarm {
	const name = "changed_by_neighbour"
	if len(e.Neighbours) == 0 {
		return notRun(name, "no neighbour near enough")
	}
	variance := e.Variance * in.NullScale
	nuisance := lessColumns(e.nuisance(set), append(e.neighbourColumns(), e.sideColumns()...))
	sw := e.Gram.Without([]int{colConst}, span(colPlane, colPlane+2), nuisance)
	without := fitBlanket(sw, variance)
	change := math.Abs(without.Z*without.Sigma-m.Blanket.Z*m.Blanket.Sigma) / m.Blanket.Sigma
	a := over(name, change, 1, "standard errors", "the rim excess changes by %.1f standard errors when the neighbours' blankets are left out", change)
	detail, lost := e.sidesWords(m, set)
	a.Detail, a.Raised = a.Detail+detail, a.Raised || lost
	return a
}

func centreAlarm(sigma float64, in AlarmInputs) Alarm {
	if in.SigmaCentre == 0 {
		return notRun("centre_uncertain", fmt.Sprintf("the catalogue gives no centre error; %.2f radii were assumed", sigma))
	}
	return over("centre_uncertain", in.SigmaCentre, centreLimit, "crater radii", "the centre is known to %.3f radii", in.SigmaCentre)
}

// radiusAlarm says what the error of the radius does to the rim excess: A is
// taken at the rim, and A rho^-b moves by b times the relative error.
func radiusAlarm(m *Measurement, in AlarmInputs) Alarm {
	const name = "radius_uncertain"
	if in.SigmaRadius == 0 {
		return notRun(name, "the catalogue gives no error of the radius")
	}
	return over(name, in.SigmaRadius, radiusLimit, "share", "the radius is known to %.1f %%, which moves the rim excess by %.0f %%",
		100*in.SigmaRadius, 100*m.Blanket.exponent()*in.SigmaRadius)
}

func ellipseAlarm(f *Finding, in AlarmInputs) Alarm {
	const name = "rim_elliptical"
	if !(in.RimAxes[0] > 0 && in.RimAxes[1] > 0) {
		return notRun(name, "the catalogue gives no rim ellipse")
	}
	ratio := in.RimAxes[0] / in.RimAxes[1]
	a := over(name, ratio, ellipseLimit, "ratio", "rim axes %.2f to 1, long axis at %.0f degrees", ratio, in.RimAzimuth)
	if f.Pattern.Directional() && !math.IsNaN(f.Axis) {
		a.Detail += fmt.Sprintf("; the direction lies %.0f degrees from it", math.Abs(math.Remainder(f.Axis-in.RimAzimuth, 180)))
	}
	return a
}

func noiseAlarm(n *Noise) Alarm {
	if n == nil {
		return notRun("noise_nonuniform", "no noise model")
	}
	return over("noise_nonuniform", n.Spread, spreadLimit, "ratio", "the local variance varies by a factor %.1f between the quartiles of the map", n.Spread)
}

// trackAlarm compares the axis with the track.
func trackAlarm(f *Finding, in AlarmInputs) Alarm {
	const name = "axis_near_track"
	track := in.track()
	if math.IsNaN(track) {
		return notRun(name, "no track azimuth, and the noise has no direction of its own")
	}
	return axisAlarm(name, f, track, "the track")
}

// track is the azimuth of the track as an axis: given, or the direction of the
// map's columns or rows when the noise runs along it; NaN when neither tells.
func (in *AlarmInputs) track() float64 {
	switch {
	case !math.IsNaN(in.TrackAzimuth):
		return in.TrackAzimuth
	case in.Noise != nil && in.Noise.Anisotropy > anisotropyLimit:
		return 0
	case in.Noise != nil && in.Noise.Anisotropy < 1/anisotropyLimit:
		return 90
	}
	return math.NaN()
}

func sunAlarm(f *Finding, in AlarmInputs) Alarm {
	if math.IsNaN(in.SunAzimuth) {
		return notRun("axis_near_sun", noLayer+": sun azimuth")
	}
	return axisAlarm("axis_near_sun", f, in.SunAzimuth, "the sun")
}

func axisAlarm(name string, f *Finding, direction float64, what string) Alarm {
	if !f.Pattern.Directional() || math.IsNaN(f.Axis) {
		return notRun(name, noDirectionOf)
	}
	d := math.Abs(math.Remainder(f.Axis-direction, 180))
	a := over(name, d, axisLimit, "degrees", "the axis lies %.0f degrees from %s", d, what)
	a.Raised = d <= axisLimit
	return a
}
