package geom

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"github.com/paulmach/orb"
)

func (b *builder) note(format string, args ...any) {
	b.cat.Notes = append(b.cat.Notes, fmt.Sprintf(format, args...))
}

// settle converts what was read into metres, degrees east and planetocentric
// latitudes, and checks what only the whole file shows.
func (b *builder) settle() error {
	if b.count == 0 {
		return corrupt(-1, "", "", "there are no features")
	}
	pl, err := b.placing()
	if err != nil {
		return err
	}
	for _, step := range []func(*placing) error{b.checkNames, b.checkCoordinates, b.units, b.convert, b.checkSizes, b.checkIDs} {
		if err := step(pl); err != nil {
			return err
		}
	}
	sort.SliceStable(b.cat.Refused, func(i, j int) bool { return b.cat.Refused[i].Index < b.cat.Refused[j].Index })
	b.cat.NearDuplicates = nearPairs(pl.body, b.cat.Craters)
	b.finalNotes()
	if len(b.cat.Craters) == 0 {
		return b.nothingLeft()
	}
	return nil
}

func (b *builder) nothingLeft() error {
	if len(b.cat.Refused) == 0 {
		return refuse("", "give the craters, not their overlay", "none of the %d features is a crater", b.count)
	}
	first := b.cat.Refused[0]
	return refuse("", "", "none of the %d features can be used; feature %d: %s", b.count, first.Index, first.Reason)
}

// checkNames makes sure that options and sizes were found.
func (b *builder) checkNames(*placing) error {
	r := &b.roles
	for ro := range r.forced {
		if r.forced[ro] && r.hits[ro] == 0 && !(role(ro) == roleID && r.cols[ro].name == "id") &&
			role(ro) != roleLon && role(ro) != roleLat {
			return refuse(b.optionOf(role(ro)), "the properties are "+r.listed(), "no feature has a property %s", Quote(r.cols[ro].name))
		}
	}
	if r.usable(roleRadius) || r.usable(roleDiameter) || b.points() == 0 {
		return nil
	}
	for _, ro := range []role{roleDiameter, roleRadius, roleUnclear} {
		if r.found[ro] {
			return refuse(label(r.cols[ro].name), "say which: catalogue.radius or catalogue.diameter = "+Quote(r.cols[ro].name),
				"the name does not say whether it is a radius, a diameter or something else")
		}
	}
	return refuse("catalogue.radius", "name the property with the radius or the diameter; the properties are "+r.listed(),
		"no property was recognised as a radius or a diameter")
}

// checkCoordinates looks for columns swapped and for metres taken as degrees.
func (b *builder) checkCoordinates(pl *placing) error {
	if pl.transform != nil || len(b.cat.Craters) == 0 {
		return nil
	}
	steep, turned, far, n := 0, 0, 0, 0
	for i := range b.cat.Craters {
		c := &b.cat.Craters[i]
		if b.rims[c.Index] != nil {
			continue
		}
		n++
		x, y := math.Abs(c.Centre.Lon), math.Abs(c.Centre.Lat)
		switch {
		case x > 720 || y > 720:
			far++
		case y > 90:
			steep++
			if x <= 90 {
				turned++
			}
		case x > 90:
			turned = math.MinInt // swapped longitudes would be latitudes
		}
	}
	switch {
	case 2*far > n:
		return refuse("coordinates", "convert the catalogue to longitude and latitude, or give its CRS",
			"%d of %d places lie beyond 720 degrees: they look like metres of a projected map", far, n)
	case steep >= 2 && 4*steep >= n && turned == steep:
		return corrupt(-1, "coordinates", "longitude comes first in GeoJSON; in CSV name the columns",
			"%d of %d latitudes are beyond 90 and no longitude is: longitude and latitude look swapped", steep, n)
	}
	return nil
}

// units brings the sizes to metres.
func (b *builder) units(pl *placing) error {
	factor, err := b.sizeFactor(pl)
	if err != nil {
		return err
	}
	for i := range b.cat.Craters {
		c := &b.cat.Craters[i]
		if b.rims[c.Index] == nil {
			c.Radius *= factor
		}
		c.SigmaRadius *= b.factorOf(roleSigmaRadius, factor)
		c.SigmaCentre *= b.factorOf(roleSigmaCentre, factor)
		c.SemiMajor *= b.factorOf(roleMajor, factor)
		c.SemiMinor *= b.factorOf(roleMinor, factor)
	}
	return nil
}

// sizeFactor is the number of metres in a unit of the size column, and says in a
// note how it was found.
func (b *builder) sizeFactor(pl *placing) (float64, error) {
	col, what := b.sizeColumn(), "radius"
	if !b.roles.usable(roleRadius) {
		col, what = b.roles.cols[roleDiameter], "diameter"
	}
	factor, why := col.factor, "as its name says"
	asked, ok := unitFactor(b.opt.RadiusUnit)
	switch {
	case ok:
		if factor != 0 && factor != asked {
			b.note("%s is read in %s as asked, against its name", Quote(col.name), b.opt.RadiusUnit)
		}
		factor, why = asked, "as asked"
	case b.points() == 0:
		return 1, nil
	case factor == 0:
		var err error
		if factor, err = b.guessUnit(pl, col); err != nil {
			return 0, err
		}
		why = "a guess from its size, for nothing says so"
	}
	if b.points() > 0 {
		b.note("%s is read from %s in %s, %s", what, Quote(col.name), map[float64]string{1: "m", 1000: "km"}[factor], why)
	}
	return factor, nil
}

// points is the number of craters that are given as points.
func (b *builder) points() int {
	n := 0
	for i := range b.cat.Craters {
		if b.rims[b.cat.Craters[i].Index] == nil {
			n++
		}
	}
	return n
}

// factorOf is the unit of an optional length: its own, or that of the sizes.
func (b *builder) factorOf(ro role, sizes float64) float64 {
	if f := b.roles.cols[ro].factor; f != 0 {
		return f
	}
	return sizes
}

// guessUnit accepts kilometres when metres would make the typical crater smaller
// than 100 m, and metres when kilometres would make it half the body.
func (b *builder) guessUnit(pl *placing, col column) (float64, error) {
	m := b.medianRadius()
	switch half := pl.body.SemiMajor / 2; {
	case m < 100 && m*1000 < half:
		return 1000, nil
	case m*1000 >= half && m < half:
		return 1, nil
	}
	return 0, refuse(label(col.name), `give radius_unit = "km" or "m"`, "no unit: the median radius would be %.4g km or %.4g m, and both are possible", m, m)
}

// medianRadius is the median over the craters given as points.
func (b *builder) medianRadius() float64 {
	var r []float64
	for i := range b.cat.Craters {
		if c := &b.cat.Craters[i]; b.rims[c.Index] == nil && !math.IsNaN(c.Radius) {
			r = append(r, c.Radius)
		}
	}
	if len(r) == 0 {
		return math.NaN()
	}
	slices.Sort(r)
	return r[len(r)/2]
}

// convert places every crater, refusing those that cannot be.
func (b *builder) convert(pl *placing) error {
	keep := b.cat.Craters[:0]
	for _, c := range b.cat.Craters {
		reason := ""
		if rim := b.rims[c.Index]; rim != nil {
			reason = b.convertRim(pl, &c, rim)
		} else if c.Centre, reason = pl.place(c.Centre.Lon, c.Centre.Lat); reason == "" {
			reason = cmp.Or(checkEllipse(&c), checkRadius(pl.body, &c))
		}
		if reason != "" {
			b.refused(c.Index, c.ID, "%s", reason)
			continue
		}
		keep = append(keep, c)
	}
	b.cat.Craters = keep
	return nil
}

func checkRadius(body Body, c *Crater) string {
	switch {
	case math.IsNaN(c.Radius):
		return "no radius"
	case c.Extent() > body.SemiMajor*math.Pi/2:
		return fmt.Sprintf("radius %.6g km: more than a quarter of the way round the body", c.Extent()/1000)
	}
	return ""
}

func (b *builder) convertRim(pl *placing, c *Crater, rim orb.MultiPolygon) string {
	for _, poly := range rim {
		for _, ring := range poly {
			for i, p := range ring {
				v, reason := pl.placeUnwrapped(p[0], p[1])
				if reason != "" {
					return reason
				}
				ring[i] = orb.Point{v.Lon, v.Lat}
			}
		}
	}
	fit, reason := fitRim(pl.body, rim)
	if reason != "" {
		return reason
	}
	if stated := c.Radius * b.sizeColumn().factor; stated > 0 && math.Abs(stated/fit.radius-1) > 0.1 {
		b.rimVsField++
	}
	c.Centre, c.Radius, c.RimResidual = fit.centre, fit.radius, fit.residual
	if b.opt.FitEllipse {
		c.SemiMajor, c.SemiMinor, c.RimAzimuth = fit.major, fit.minor, fit.azimuth
	}
	return cmp.Or(checkEllipse(c), checkRadius(pl.body, c))
}

// checkSizes catches metres labelled as kilometres.
func (b *builder) checkSizes(pl *placing) error {
	var tooLarge, total int
	for _, r := range b.cat.Refused {
		if strings.HasPrefix(r.Reason, "radius ") && strings.HasSuffix(r.Reason, "round the body") {
			tooLarge++
		}
	}
	total = tooLarge + len(b.cat.Craters)
	m := b.medianRadius()
	if m > pl.body.SemiMajor || total > 0 && 2*tooLarge > total {
		return refuse(label(b.sizeColumn().name), `if the column is in metres give radius_unit = "m"`,
			"the median radius exceeds %s", pl.body)
	}
	if b.twoToOne > 0 && 10*b.twoToOne > b.count {
		return refuse(label(b.roles.cols[roleDiameter].name), "name the column to read: catalogue.radius or catalogue.diameter",
			"%d of %d features have a diameter that is not twice the radius", b.twoToOne, b.count)
	}
	return nil
}

const maxTold = 10

// checkIDs handles equal ids.
func (b *builder) checkIDs(*placing) error {
	first := make(map[string]int, len(b.cat.Craters))
	drop := map[int]bool{}
	var told []string
	for i := range b.cat.Craters {
		id := b.cat.Craters[i].ID
		j, twice := first[id]
		if !twice {
			first[id] = i
			continue
		}
		if len(told) < maxTold {
			told = append(told, fmt.Sprintf("%s (features %d and %d)", Quote(id), b.cat.Craters[j].Index, b.cat.Craters[i].Index))
		}
		if b.opt.Dedupe == "last" {
			drop[j], first[id] = true, i
		} else {
			drop[i] = true
		}
	}
	if len(drop) == 0 {
		return nil
	}
	if b.opt.Dedupe == "" {
		return refuse("id", `correct them, name another property, or give dedupe = "first"`,
			"%d ids are not unique: %s", len(drop), strings.Join(told, ", "))
	}
	b.note("%d entries with an id already taken are left out, the %s one kept", len(drop), b.opt.Dedupe)
	b.dropCraters(drop)
	return nil
}

func (b *builder) dropCraters(drop map[int]bool) {
	keep := b.cat.Craters[:0]
	for i, c := range b.cat.Craters {
		if drop[i] {
			b.refused(c.Index, c.ID, "the id is used by another feature")
			continue
		}
		keep = append(keep, c)
	}
	b.cat.Craters = keep
}
