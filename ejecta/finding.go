package ejecta

import "slices"

// Pattern is the shape of the excess round a crater.
type Pattern string

// The pattern classes. The zero value means that no pattern was asked for,
// because the crater could not be tested.
const (
	PatternNone      Pattern = "none"
	PatternSymmetric Pattern = "symmetric"
	PatternOneSided  Pattern = "one-sided"
	PatternBilateral Pattern = "bilateral"
	PatternRays      Pattern = "rays"
	PatternGap       Pattern = "gap"
)

// Directional reports whether the pattern has a direction.
func (p Pattern) Directional() bool {
	switch p {
	case PatternOneSided, PatternBilateral, PatternRays, PatternGap:
		return true
	}
	return false
}

// Status says whether a crater could be measured, and if not, why.
type Status string

// The statuses of a finding.
const (
	StatusOK           Status = "ok"
	StatusRadialOnly   Status = "radial_only"   // measured, but too small for a direction
	StatusNotTestable  Status = "not_testable"  // measured, but coverage or holes forbid a direction
	StatusTooSmall     Status = "too_small"     // rim smaller than the pixels allow
	StatusTooLarge     Status = "too_large"     // rings reach round the body
	StatusDistorted    Status = "distorted"     // the map's pixels are stretched too far here
	StatusNotCovered   Status = "not_covered"   // no valid pixel within reach
	StatusLowCoverage  Status = "low_coverage"  // too few valid pixels near the rim
	StatusNoBackground Status = "no_background" // no far field left
	StatusNoVariance   Status = "no_variance"   // the map is constant here
	StatusUnreadable   Status = "unreadable"    // a damaged part of a raster
	StatusRefused      Status = "refused"       // the catalogue entry itself is unusable
	StatusSieved       Status = "sieved"        // left out by the sieve
)

// Measured reports whether a finding with this status carries numbers.
func (s Status) Measured() bool {
	return s == StatusOK || s == StatusRadialOnly || s == StatusNotTestable
}

// Interval is a range of directions in degrees, from Lo clockwise to Hi;
// Hi may exceed 360 (or 180 for an axis) when the range crosses north.
type Interval struct{ Lo, Hi float64 }

// Lobe is one direction in which the excess leaves a crater.
type Lobe struct {
	Azimuth   float64 // degrees clockwise from north
	Width     float64 // full width at half height, degrees
	Amplitude float64 // at rho = 1, in the unit of the species
	SE        float64
	Reach     float64 // farthest range where the lobe is still seen, crater radii
}

// RingValue is one ring of a radial profile.
type RingValue struct {
	RhoLo, RhoHi float64 // crater radii
	Mean, SE     float64 // species, in its unit
	Excess       float64 // Mean minus background
	Model        float64 // fitted blanket plus background, NaN outside the fit
	Pixels       int
	Coverage     float64 // valid share of the ring, 0..1
}

// SectorValue is one sector of an azimuthal profile, over 1.1 <= rho <= 2.5 or
// the nearest range that the sampling allows.
type SectorValue struct {
	AzLo, AzHi float64 // degrees clockwise from north
	Mean, SE   float64 // excess, in the unit of the species
	Pixels     int
	Coverage   float64
}

// Alarm is a named reason to distrust a finding.
type Alarm struct {
	Name   string  // stable, lower case with underscores
	Raised bool    // false: it was run and did not fire
	NotRun string  // why it could not run ("no such layer"); empty when it ran
	Value  float64 // the number behind it, NaN when there is none
	Limit  float64 // the number it is compared with
	Unit   string
	Detail string // one sentence
}

// Finding is everything measured for one crater and one species. NaN stands
// for a number that could not be measured; Status or Note says why.
type Finding struct {
	CraterIndex int // into the survey's craters
	Species     string
	Quantity    string // the species without its epoch; empty when it has none
	Epoch       string // time of day or campaign of the map, when the survey names one
	Unit        string
	Status      Status
	Note        string // the reason in words, for any status but ok

	Pixels    int     // valid pixels within the rings
	Spikes    int     // single pixels left out, which stand far from all their neighbours
	PixelsPer float64 // rim radius in pixels
	Coverage  float64 // valid share of the ejecta range, 0..1
	MaskShare float64 // share of the rings masked because of neighbours
	NEff      float64 // effective number of independent samples in the ejecta range

	Background, BackgroundSE float64
	Excess, ExcessSE         float64 // area mean over 1.1 <= rho <= 2.5, less background
	ExcessP, ExcessQ         float64 // one-sided, of the fitted blanket

	RimExcess, RimExcessSE float64    // amplitude A at rho = 1
	RimExcess68            [2]float64 // profile-likelihood intervals
	RimExcess95            [2]float64
	Decay, DecaySE         float64 // exponent b
	Decay95                [2]float64
	Extent                 float64 // crater radii

	Pattern      Pattern
	RunnerUp     Pattern
	PatternLead  float64 // score difference to the runner-up
	Ambiguous    bool
	Asymmetry    float64 // directional amplitude relative to the symmetric part
	AsymmetrySE  float64
	AsymmetryP   float64
	AsymmetryQ   float64
	Axis, AxisSE float64 // degrees; meaning by pattern, see Pattern
	Axis68       []Interval
	Axis95       []Interval
	Lobes        []Lobe // strongest first
	GapWidth     float64

	Detectable50 float64 // rim excess found half the time at p < 0.001
	Detectable95 float64
	UpperLimit95 float64 // one-sided 95 % upper limit of the rim excess

	ThermalShare float64 // share of the excess that temperatures and times of day take
	LocalFDR     float64 // probability that the excess is not real
	DirectionFDR float64 // probability that the direction is not real

	Levels    []Level // covariates in the ground of the background
	Alarms    []Alarm
	Radial    []RingValue
	Azimuthal []SectorValue
	Families  []FamilyTest // the tests behind AsymmetryP
	Envelope  float64      // 95 % half-width of a sector's excess under no direction
	Robust    Robustness   // of the claim, under other choices
	Layers    *LayerEffect // what the covariates do to it; nil without
	Claimed   bool         // the excess passes the level of the survey
	Verdict   string       // one sentence

	Conditions []Condition // the light and heat under which it was seen
	PixelSigma float64     // noise of one pixel, null scale included
	Sums       *Sums       // what re-tests need; nil unless the survey keeps it
	ScaleDoubt bool        // the null scale that it was tested with cannot be trusted, see [ScaleDoubt]

	ExcessQRule    QRule // how ExcessQ was made; empty without a test
	DirectionQRule QRule // how AsymmetryQ was made

	Quick *QuickP // of the sieve; nil without one

	TrueScore float64 // expected true score of the excess, see [Prior]; NaN in a small catalogue
}

// FamilyTest is one template family of the directional test.
type FamilyTest struct {
	Name string
	Z    float64 // largest matched-filter score (or chi-square for omnibus tests)
	P    float64
}

// Contrast compares the directions of two species at one crater.
type Contrast struct {
	CraterIndex        int
	SpeciesA, SpeciesB string
	Status             Status
	Statistic          float64 // chi-square with 4 degrees of freedom
	P, Q               float64
	AmplitudeRatio     float64 // fitted B over A
	AxisDifference     float64 // degrees, NaN unless both have a direction
	AxisDifferenceSE   float64
	UpperLimitA        float64 // 95 % limit on the directional amplitude of A
	UpperLimitB        float64
	Claimed            bool // the difference passes the level of the survey
	Sentence           string
}

// Target is one ranked crater.
type Target struct {
	CraterIndex int
	Rank        int
	Score       float64
	Components  []Component
	RankLo      int
	RankHi      int
	PTop10      float64
	Verdict     string
	Why         string

	Species       string  // with the strongest excess; empty when nothing was measured
	PReal         float64 // probability that its excess is real
	ExpectedFalse float64 // among this and all better targets
	ExcessScore   float64 // standard errors
	TrueScore     float64 // the same without the winner's curse, see [Prior]
	Excess        float64 // unit of the species
	ExcessShrunk  float64
}

// Component is one named part of a target's score.
type Component struct {
	Name  string
	Value float64
}

// HasLayers reports whether covariates were fitted beside the blanket.
func (f *Finding) HasLayers() bool { return f.Layers != nil && len(f.Layers.Layers) > 0 }

// RaisedAlarms returns the names of the alarms that fired, in order.
func (f Finding) RaisedAlarms() []string {
	var names []string
	for _, a := range f.Alarms {
		if a.Raised {
			names = append(names, a.Name)
		}
	}
	return names
}

// doubts are the alarms that take the meaning from a direction, with the words
// that a verdict adds.
var doubts = []struct{ alarm, words string }{
	{contactAlarm, "boundaries of the ground explain it as well"},
	{deficitAlarm, "one side lies below the background"},
	{textureAlarm, "the ground is as uneven elsewhere"},
	{commonAlarm, "ground without a crater makes directions too"},
}

// Doubt says in words why the direction of a finding does not count; empty
// when no alarm speaks against it.
func (f *Finding) Doubt() string {
	if !f.Pattern.Directional() {
		return ""
	}
	raised := f.RaisedAlarms()
	for _, d := range doubts {
		if slices.Contains(raised, d.alarm) {
			return d.words
		}
	}
	return ""
}
