package reports

import (
	"image/color"
	"math"
	"testing"

	"gonum.org/v1/plot/vg"
)

func TestWindows1252(t *testing.T) {
	// code points of the Windows-1252 table
	if got, want := windows1252("±1 °…Ж"), "\xb11 \xb0\x85?"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestStraightColoursKeepTheirHue(t *testing.T) {
	r, _, _, a := straight{color.NRGBA{R: 200, A: 64}}.RGBA()
	if r>>8 != 200 || a>>8 != 64 {
		t.Errorf("red %d, opacity %d", r>>8, a>>8)
	}
}

func TestFlatPathsStayOnTheCircle(t *testing.T) {
	centre := at(10, 20)
	path := flat(cell(centre, 5, 9, 30, 75))
	for _, part := range path {
		if part.Type == vg.ArcComp {
			t.Fatal("an arc was left")
		}
		if part.Type == vg.CloseComp {
			continue
		}
		d := math.Hypot(float64(part.Pos.X-centre.X), float64(part.Pos.Y-centre.Y))
		az := math.Atan2(float64(part.Pos.X-centre.X), float64(part.Pos.Y-centre.Y)) * 180 / math.Pi
		if math.Min(math.Abs(d-5), math.Abs(d-9)) > 1e-9 || az < 30-1e-9 || az > 75+1e-9 {
			t.Errorf("point at range %v, azimuth %v", d, az)
		}
	}
}
