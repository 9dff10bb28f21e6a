package raster

import (
	"math"
	"sync"
)

// mapRow is what a row of blocks has, of a map of meridians and parallels, whatever
// the crater.
type mapRow struct {
	lat       float64 // of its middle, degrees
	cos       float64 // of lat
	mid, half float64 // cosine of the middle of the strip, sine of half its height: see area
	none      bool    // not on the body
}

// rowOf is a row of blocks; it may lie beyond the edge of the map.
func (g *Grid) rowOf(c *cylindrical, row, block int) mapRow {
	lat, dlat, ok := g.rowLatitude(c, row, block)
	_, cos := sincosDeg(lat)
	// The area between two parallels is exact; it ends at the pole.
	south, north := math.Max(-90, lat-dlat/2), math.Min(90, lat+dlat/2)
	return mapRow{lat, cos, math.Cos((south + north) / 2 * degree), math.Sin((north - south) / 2 * degree), !ok}
}

// area is the ground area for each radian of longitude.
func (r *mapRow) area(radius float64) float64 { return radius * radius * 2 * r.mid * r.half }

// mapColumn is the same of a column.
type mapColumn struct {
	lon   float64 // of its middle, degrees, not brought into a turn
	width float64 // radians
}

// columnOf is a column of blocks of a map that goes round after some pixels.
func (g *Grid) columnOf(c *cylindrical, column, block, turn int) mapColumn {
	col := column * block
	width := math.Min(float64(block), float64(turn-col))
	x := g.Geo[0] + (float64(col)+width/2)*g.Geo[1]
	return mapColumn{c.lon0 + (x-c.x0)/c.kx, width * math.Abs(g.Geo[1]/c.kx) * degree}
}

// mapTables are the rows and columns of a map, for all craters of a visit: small
// craters are many, and have few pixels in each row and column.
type mapTables struct {
	g      *Grid
	levels [levels]struct {
		once    sync.Once
		rows    []mapRow
		columns []mapColumn
	}
}

// at are the rows and columns of a level; none without tables.
func (t *mapTables) at(c *cylindrical, level int) ([]mapRow, []mapColumn) {
	if t == nil {
		return nil, nil
	}
	l := &t.levels[level]
	l.once.Do(func() {
		b, turn := 1<<level, t.g.period()
		l.rows = make([]mapRow, (t.g.Height+b-1)/b)
		for i := range l.rows {
			l.rows[i] = t.g.rowOf(c, i, b)
		}
		l.columns = make([]mapColumn, (turn+b-1)/b)
		for i := range l.columns {
			l.columns[i] = t.g.columnOf(c, i, b, turn)
		}
	})
	return l.rows, l.columns
}

// tablesOf are the tables of a visit when they are those of a grid.
func (p *Patch) tablesOf(g *Grid) *mapTables {
	if p.tables == nil || p.tables.g != g {
		return nil
	}
	return p.tables
}
