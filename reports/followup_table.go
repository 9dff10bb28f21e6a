package reports

import (
	"iter"
	"math"
	"strings"

	"rimcast/ejecta"
	"rimcast/geom"
)

// followUpRow is one crater and species of the follow-up table.
type followUpRow struct {
	survey  *Survey
	crater  geom.Crater
	request *CraterRequest
	species *SpeciesRequest
}

func (fu *FollowUp) rows() iter.Seq[followUpRow] {
	return func(yield func(followUpRow) bool) {
		for i := range fu.Craters {
			r := &fu.Craters[i]
			for k := range r.Species {
				if !yield(followUpRow{fu.Survey, fu.crater(r), r, &r.Species[k]}) {
					return
				}
			}
		}
	}
}

var followUpTable = table[followUpRow]{
	file: FollowUpMark, title: "one row per crater and species, best crater first: what a new observation has to bring",
	key:     []string{"crater_id", "species"},
	columns: append(append(followUpPlace(), followUpArea()...), append(followUpNoise(), followUpLight()...)...),
}

func followUpPlace() []column[followUpRow] {
	lon := func(r followUpRow) float64 { return r.crater.Centre.Lon }
	return []column[followUpRow]{
		count("rank", "", "rank in the result", func(r followUpRow) int { return r.request.Target.Rank }),
		words("crater_id", docID, func(r followUpRow) string { return r.crater.ID }),
		words("name", docName, func(r followUpRow) string { return r.crater.Name }),
		words("species", docSpecies, func(r followUpRow) string { return r.species.Finding.Species }),
		words("unit", docUnit, func(r followUpRow) string { return r.species.Finding.Unit }),
		angle("lon_deg", docLon, func(r followUpRow) float64 { return eastLongitude(lon(r)) }),
		angle("lon_east_360_deg", "the same longitude, east positive, 0 to 360", func(r followUpRow) float64 { return eastLongitude360(lon(r)) }),
		angle("lon_west_deg", "the same longitude, west positive, 0 to 360", func(r followUpRow) float64 { return westLongitude(lon(r)) }),
		angle("lat_deg", docLat, func(r followUpRow) float64 { return r.crater.Centre.Lat }),
		angle("lat_planetographic_deg", "planetographic latitude of the centre; equal to lat_deg on a sphere", func(r followUpRow) float64 { return geom.Planetographic(r.survey.Body, r.crater.Centre.Lat) }),
		amount("radius_m", "m", docRadius, func(r followUpRow) float64 { return r.crater.Radius }),
		words("verdict", "one sentence", func(r followUpRow) string { return r.species.Finding.Verdict }),
	}
}

// eastLongitude360 puts a longitude into 0..360.
func eastLongitude360(lon float64) float64 {
	if e := eastLongitude(lon); e < 0 {
		return e + 360
	}
	return eastLongitude(lon)
}

func followUpArea() []column[followUpRow] {
	q := func(get func(*ejecta.Request) float64) func(followUpRow) float64 {
		return func(r followUpRow) float64 { return get(&r.species.Request) }
	}
	return []column[followUpRow]{
		words("pattern", "none, symmetric, one-sided, bilateral, rays or gap; empty when not tested", func(r followUpRow) string { return string(r.species.Finding.Pattern) }),
		words("wedges_deg", "azimuths to cover as lo/hi clockwise from north, separated by semicolons", func(r followUpRow) string { return intervals(r.species.Wedges) }),
		words("wedges_why", "what the wedges are", func(r followUpRow) string { return r.species.WedgeWhy }),
		amount("range_lo_radii", "crater radii", "nearest range to cover", q(func(r *ejecta.Request) float64 { return r.RangeLo })),
		amount("range_hi_radii", "crater radii", "farthest range to cover: where the excess is lost now, no less than 2.5", q(func(r *ejecta.Request) float64 { return r.RangeHi })),
		amount("range_hi_lo95_radii", "crater radii", "where it would be lost at the lower end of the 95 % interval of the rim excess", q(func(r *ejecta.Request) float64 { return r.RangeHi95[0] })),
		amount("range_hi_hi95_radii", "crater radii", "where it would be lost at the upper end", q(func(r *ejecta.Request) float64 { return r.RangeHi95[1] })),
		amount("range_hi_m", "m", "farthest range to cover, from the centre", func(r followUpRow) float64 { return r.crater.Radius * r.species.RangeHi }),
		amount("reference_lo_radii", "crater radii", "ground for the background, from", q(func(r *ejecta.Request) float64 { return r.Reference[0] })),
		amount("reference_hi_radii", "crater radii", "ground for the background, to", q(func(r *ejecta.Request) float64 { return r.Reference[1] })),
		amount("pixel_wanted_m", "m", "largest pixel that gives all rings and sectors, and 30 pixels to the smallest ring of each wedge", func(r followUpRow) float64 { return r.crater.Radius * r.species.Pixel }),
		amount("pixel_now_m", "m", "pixel of the present map", func(r followUpRow) float64 { return metresPerPixel(r.crater, r.species.Finding) }),
	}
}

func followUpNoise() []column[followUpRow] {
	q := func(get func(*ejecta.Settle) float64) func(followUpRow) float64 {
		return func(r followUpRow) float64 { return get(&r.species.Settle) }
	}
	noise := func(r followUpRow) float64 { return zeroAsMissing(r.species.Finding.PixelSigma) }
	return []column[followUpRow]{
		amount("assumed_rim_excess", "species", "rim excess that is to be settled, at decay exponent 3", q(func(s *ejecta.Settle) float64 { return s.Assumed })),
		truth("assumed_is_limit", "true when it is the upper limit, since nothing is claimed", func(r followUpRow) bool { return r.species.Settle.Limit }),
		amount("score_now", "standard errors", "assumed_rim_excess over its present error", q(func(s *ejecta.Settle) float64 { return s.Score })),
		amount("score_wanted", "standard errors", "what settles it", q(func(s *ejecta.Settle) float64 { return s.Level })),
		amount("noise_factor", "1", "noise of a new observation alone over that of the present map, same ground and pixels", q(func(s *ejecta.Settle) float64 { return s.Alone })),
		amount("noise_factor_joined", "1", "the same when it is joined with the present map; empty when that has settled it", q(func(s *ejecta.Settle) float64 { return s.Joined })),
		amount("noise_factor_direction", "1", "the same, alone, for the direction", q(func(s *ejecta.Settle) float64 { return s.Direction })),
		amount("noise_now", "species", "noise of a pixel of the present map here", noise),
		amount("noise_wanted", "species", "noise_factor times noise_now, for pixels of the present size", func(r followUpRow) float64 { return noise(r) * r.species.Settle.Alone }),
		words("change", "what results would change the verdict", func(r followUpRow) string { return strings.Join(r.species.Change, "; ") }),
	}
}

func followUpLight() []column[followUpRow] {
	now := func(kind string) func(followUpRow) float64 {
		return func(r followUpRow) float64 {
			if c, ok := r.species.Finding.Condition(kind); ok {
				return c.Mean
			}
			return math.NaN()
		}
	}
	return []column[followUpRow]{
		words("epoch", "epoch of the present map, as the survey names it", func(r followUpRow) string { return r.species.Epoch }),
		amount("local_time_now_h", "h", "mean local time within three radii, from a layer", now("local_time")),
		words("local_time_wanted", "local time to ask for", func(r followUpRow) string { return r.species.Light.LocalTime }),
		amount("incidence_now_deg", "deg", "mean incidence within three radii, from a layer", now("incidence")),
		words("incidence_wanted", "incidence to ask for", func(r followUpRow) string { return r.species.Light.Incidence }),
		amount("temperature_now", "of the layer", "mean temperature within three radii, from a layer", now("temperature")),
		words("light_why", "why this light", func(r followUpRow) string { return r.species.Light.Why }),
		words("alarms", "names of the alarms that were raised, separated by semicolons", func(r followUpRow) string { return strings.Join(r.species.Finding.RaisedAlarms(), ";") }),
		words("settle_alarms", "what would settle each alarm", func(r followUpRow) string { return askedText(r.species.Alarms) }),
		words("windows", "when it can be seen, as the user says, each with whether it has the light asked for", func(r followUpRow) string { return windowsText(r.request.Windows) }),
	}
}

func askedText(list []ejecta.AskedAlarm) string {
	var parts []string
	for _, a := range list {
		parts = append(parts, a.Name+": "+a.Ask)
	}
	return strings.Join(parts, "; ")
}
