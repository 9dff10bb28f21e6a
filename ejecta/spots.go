package ejecta

import "math"

// Besides straight boundaries the ground has spots: a small bright crater that
// nobody listed, a dark pond, a hill. Near the rim such a spot passes for a lobe
// or a gap.

// Sizes and ranges of the bank of spots, crater radii.
var (
	spotSizes  = []float64{0.4, 0.8, 1.6}
	spotRanges = []float64{1.8, 2.5, 3.5, 4.9, 6.5}
)

// spotPrice is that of direction, range, size and height.
const spotPrice = 4 * penalty

// spotBank is every spot that keeps off the rim: a blanket begins there, and a
// spot on the rim would pass for a lobe or for what a gap lacks.
func spotBank(directions int) (out []contact) {
	for _, size := range spotSizes {
		for _, r := range spotRanges {
			for i := range directions {
				out = contact{360 * float64(i) / float64(directions), r, size}.offRim(out)
			}
		}
	}
	return out
}

// offRim adds a spot to a list unless it touches the rim.
func (k contact) offRim(list []contact) []contact {
	if k.offset-k.size < 1 {
		return list
	}
	return append(list, k)
}

// spot reports whether the ground differs on a spot and not beyond a line.
func (k contact) spot() bool { return k.size > 0 }

// price is what the parameters of a contact cost, in chi-square.
func (k contact) price() float64 {
	if k.spot() {
		return spotPrice
	}
	return contactPrice
}

// inside is a place in a cell, by shares of its length and depth from the middle.
func (c *Cells) inside(i int, along, deep float64) (east, north float64) {
	l, k, az, rho := c.Layout, c.Ring[i], c.Az[i], c.Rho[i]
	if l.Blocks {
		sin, cos := math.Sincos(az)
		east, north = c.sides[i].inside(along, deep)
		return east + rho*sin, north + rho*cos
	}
	az += along * l.arc(k)
	rho += deep * (l.Edges[k+1] - l.Edges[k])
	sin, cos := math.Sincos(az)
	return rho * sin, rho * cos
}

// nearSpots lists a spot and others less than a step of the bank away.
func (k contact) nearSpots() (out []contact) {
	for _, turn := range []float64{-5, 0, 5} {
		for _, move := range []float64{0.87, 1, 1.15} {
			for _, grow := range []float64{0.75, 1, 1.33} {
				out = contact{k.azimuth + turn, k.offset * move, k.size * grow}.offRim(out)
			}
		}
	}
	return out
}
