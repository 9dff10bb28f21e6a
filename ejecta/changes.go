package ejecta

import (
	"fmt"
	"math"
)

// changes says with numbers what a new observation would have to find for the
// verdict to change.
func (r *Request) changes(f *Finding, alpha float64) []string {
	out := []string{r.excessChange(f, alpha)}
	if f.Pattern.Directional() {
		out = append(out, r.directionChange(f, alpha))
	}
	return out
}

// excessChange is the sentence about the excess. The present estimate is that
// of decay exponent 3, as the test has it.
func (r *Request) excessChange(f *Finding, alpha float64) string {
	s := &r.Settle
	now := ScoreOf(f.ExcessP) * s.SE
	turn, err := s.Turning(now, alpha), f.amount(s.NewSE())
	switch {
	case math.IsNaN(turn):
		return "what would change the verdict is not known: the error of the rim excess is missing"
	case !f.Claimed:
		return fmt.Sprintf("a rim excess above %s, measured to %s, would make the crater a candidate; less, joined with the present map, leaves the verdict", f.amount(math.Max(turn, 0)), err)
	case turn > 0:
		return fmt.Sprintf("a rim excess below %s, measured to %s, would take the claim back (joined p above %g); one above %s confirms it at %g standard errors by itself",
			f.amount(turn), err, alpha, f.amount(s.Level*s.NewSE()), s.Level)
	}
	return fmt.Sprintf("measured to %s, even no excess at all would leave the joined one claimed; below %s the two maps contradict each other at three standard errors, and one of them is wrong",
		err, f.amount(now-3*math.Hypot(s.SE, s.NewSE())))
}

// directionChange is the sentence about the direction.
func (r *Request) directionChange(f *Finding, alpha float64) string {
	k := r.Settle.Direction
	if math.IsNaN(k) {
		return fmt.Sprintf("the direction falls if a map at least as quiet gives a p above %g for it", alpha)
	}
	text := fmt.Sprintf("the direction falls if a map with %.2g times the present noise gives a p above %g for it", k, alpha)
	if f.AxisSE > 0 {
		text += fmt.Sprintf(", or an axis more than %.0f degrees from %.0f", math.Min(1.96*f.AxisSE*math.Hypot(1, k), 90), f.Axis)
	}
	return text
}

// asks are what would settle an alarm, by its name.
var asks = map[string]string{
	"axis_near_sun":        "the same ground with the sun from another side: the axis must stay where it is",
	"axis_near_track":      "the same ground from an orbit that crosses at another angle, or other strips",
	seamAlarm:              "an observation that holds the whole ring in one strip",
	"one_strip":            "an independent observation of the ground of that strip",
	"neighbour_overlap":    "a sharper map, and the neighbour covered to the same range so that both are fitted",
	"changed_by_neighbour": "the neighbour covered to the same range, so that both blankets are fitted together",
	"coverage_can_fake":    "the hole filled: the whole ring in one observation",
	"centre_uncertain":     "an image that gives the centre to 0.03 radii",
	"radius_uncertain":     "an image that gives the radius to 5 %",
	"radius_mismatch":      "the radius of the body in which the map was made, from its producer",
	"rim_elliptical":       "the outline of the rim, so that range is counted from it",
	textureAlarm:           "a map of the units of the ground, or a quantity in which the ground is even",
	commonAlarm:            "a quantity in which the ground without craters makes no directions, or more null positions",
	contactAlarm:           "a map of the units of the ground, or albedo, so that the boundary is fitted",
	deficitAlarm:           "the ground on the poor side, out to the far field: is it another unit?",
	"noise_nonuniform":     "an observation with its error map, or a longer one of this ground",
	"null_scale":           "more crater-free ground round it in the same observation, at least twenty places",
	"clipped_at_zero":      "the map before negative values were cut off, from its producer",
	"spike_values":         "the meaning of that value, from the producer of the map",
	"unit_implausible":     "the unit of the map, from its producer",
	"smoothed_input":       "the map before it was smoothed or enlarged",

	"special_values_undeclared": "the list of special values, from the producer of the map",

	thermalAlarm:        "cooler ground: early or late in the day, with a temperature for the same moment",
	"illumination":      "another incidence, and the sun from another side",
	"albedo":            "an abundance that does not depend on brightness, or ground of one brightness",
	"other_covariate":   "an observation under which that layer differs",
	"not_separable":     "an observation under which the covariate has another shape, such as another time of day",
	backgroundAlarmName: "the far field: the ring of the background covered in the same observation",
	"changes_with_time": "a third time of day, so that the change has a course",
	"follows_sun":       "a time of day with the sun from the opposite side: a direction of the ground stays",
	"near_duplicate":    "a decision which entry of the catalogue is the crater",
	gapAlarmName:        "the whole ring, with the sector opposite the lobe",
}

// AskFor says what would settle an alarm; for one it does not know, that the
// layer named by the alarm is to be looked at.
func AskFor(alarm string) string {
	if text, ok := asks[alarm]; ok {
		return text
	}
	return "see what explain says of " + alarm
}
