package main

import (
	"fmt"
	"io"

	"rimcast/ejecta"
)

// dayText writes what the times of day say about a crater; nothing without
// them.
func dayText(w io.Writer, epochs []ejecta.EpochFinding, list []ejecta.Persistence) {
	for _, p := range list {
		fmt.Fprintf(w, "\nThrough the day, %s: %s\n", p.Verdict, printable(p.Sentence))
		for i := range epochs {
			if e := &epochs[i]; e.Species == p.Species {
				fmt.Fprintf(w, "  %s\n", epochLine(e))
			}
		}
		if p.Status == ejecta.StatusOK {
			fmt.Fprintf(w, "  on the %.0f %% of the ejecta range that all times show; noise shared with a correlation of %s; one blanket at all: %s, %s\n",
				100*p.Coverage, short(p.Correlation), chance("p", p.P), chance("q", p.Q))
		}
	}
}

// epochLine is one time of day in a line.
func epochLine(e *ejecta.EpochFinding) string {
	when := printable(orText(e.Epoch, "unnamed"))
	if e.LocalTime == e.LocalTime {
		when += fmt.Sprintf(" (%s h)", short(e.LocalTime))
	}
	if !e.Status.Measured() {
		return fmt.Sprintf("%-18s %s: %s", when, e.Status, printable(e.Note))
	}
	return fmt.Sprintf("%-18s blanket %s, background %s, %s", when, plusMinus(e.Blanket, e.BlanketSE), plusMinus(e.Background, e.BackgroundSE), orText(string(e.Pattern), "no direction tested"))
}
