package ejecta

import (
	"testing"

	"rimcast/ejecta/testblanket"
)

// Columns asked one by one are swept as if they stood in the matrix.
func TestBorderIsSweptLikeColumns(t *testing.T) {
	e := Collect(plantedSite(5, blanketField(testblanket.Blanket{Pattern: "gap", Amplitude: 2})), Settings{})
	list, found := contacts[40:140], contacts[3:5]
	added := paintContacts(e.ground.cells, found)
	g := *e.ground.widened(e.Gram, added)
	b := e.ground.newBank(list)
	g.beside = e.ground.beside(b, &g, added)
	got := directionSweep(&g, span(e.Gram.P, g.P)).beside
	wide := e.ground.widened(e.Gram, paintContacts(e.ground.cells, append(found[:2:2], list...)))
	want := directionSweep(wide, span(e.Gram.P, g.P))
	for j := range list {
		c := g.P + j
		near(t, "score", got.row(j)[colValue], want.at(c, colValue), 1e-9)
		near(t, "information", got.own[j], want.at(c, c), 1e-9)
	}
}
