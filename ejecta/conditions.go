package ejecta

import "math"

// Condition is what a covariate layer says of the ground round a crater: the
// light and the heat under which a species was seen. Times of day are hours on
// the clock, azimuths degrees clockwise from north.
type Condition struct {
	Name, Kind, Unit string
	Mean, SD         float64 // over the valid pixels within three radii; SD NaN when not known
}

// conditionReach is the range within which conditions are averaged, crater
// radii.
const conditionReach = 3

// Conditions are the means of the covariates round the crater. sun is the mean
// azimuth of the sun as an axis, NaN without such a layer.
func (site *Site) Conditions(sun float64) []Condition {
	var out []Condition
	for k := 0; k < len(site.Covariates); k++ {
		f := site.Covariates[k]
		if f.Kind == "local_time" && k+1 < len(site.Covariates) {
			out = append(out, site.hours(f, site.Covariates[k+1]))
			k++
			continue
		}
		mean, sd := site.moments(f.Values)
		out = append(out, Condition{Name: f.Name, Kind: f.Kind, Mean: mean, SD: sd})
	}
	if !math.IsNaN(sun) {
		out = append(out, Condition{Name: "sun", Kind: "sun_azimuth", Unit: "deg", Mean: sun, SD: math.NaN()})
	}
	return out
}

// moments are mean and standard deviation over the near ground.
func (site *Site) moments(v []float64) (mean, sd float64) {
	n, sum, square := 0.0, 0.0, 0.0
	for i, rho := range site.Samples.Rho {
		if !site.near(i, rho) || math.IsNaN(v[i]) {
			continue
		}
		d := v[i] - mean
		n++
		sum += v[i]
		mean += d / n
		square += d * (v[i] - mean)
	}
	if n == 0 {
		return math.NaN(), math.NaN()
	}
	return sum / n, math.Sqrt(square / n)
}

func (site *Site) near(i int, rho float64) bool {
	return rho >= 1 && rho < conditionReach && (site.Masked == nil || !site.Masked[i])
}

// hours joins the two columns of a time of day: mean on the clock, and the
// circular standard deviation sqrt(-2 ln R) (Mardia 1972).
func (site *Site) hours(cos, sin Field) Condition {
	c, _ := site.moments(cos.Values)
	s, _ := site.moments(sin.Values)
	hour := math.Atan2(s, c) * 12 / math.Pi
	if hour < 0 {
		hour += 24
	}
	length := math.Min(math.Hypot(c, s), 1)
	return Condition{Name: trimmed(cos.Name, " cos"), Kind: cos.Kind, Unit: "h", Mean: hour, SD: math.Sqrt(-2*math.Log(length)) * 12 / math.Pi}
}

func trimmed(s, suffix string) string {
	if n := len(s) - len(suffix); n >= 0 && s[n:] == suffix {
		return s[:n]
	}
	return s
}

// Condition returns the first condition of a kind.
func (f *Finding) Condition(kind string) (Condition, bool) {
	for _, c := range f.Conditions {
		if c.Kind == kind && !math.IsNaN(c.Mean) {
			return c, true
		}
	}
	return Condition{}, false
}
