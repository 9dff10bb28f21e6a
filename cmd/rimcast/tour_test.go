package main

import (
	"bytes"
	"cmp"
	"context"
	"html"
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

const (
	tourFile     = "../../testdata/tour.md"
	tourPictures = "../../testdata/pictures"
	mostPicture  = 140 << 10 // bytes
)

// tourMade says which figure of the demo each picture is; -update makes them.
var tourMade = []struct{ picture, crater, figure string }{
	{"rose.png", "N01", "rose"},
	{"tour-map.png", "N01", "map"},
	{"tour-radial.png", "N01", "radial"},
	{"tour-rays.png", "N03", "rose"},
	{"tour-thermal.png", "N09", "covariates"},
	{"tour-overview.png", "", "overview"},
	{"tour-ranks.png", "", "ranks"},
	{"tour-calibration.png", "", "calibration"},
}

// The pictures of the tour are there, small, and used; with -update they are
// made again from the demo.
func TestTourPictures(t *testing.T) {
	if *update {
		makeTour(t)
	}
	text := readText(t, tourFile)
	for _, m := range tourMade {
		info, err := os.Stat(filepath.Join(tourPictures, m.picture))
		if err != nil || info.Size() > mostPicture {
			t.Errorf("%s: %v, more than %d bytes, or not there", m.picture, err, mostPicture)
		}
		if !strings.Contains(text, "pictures/"+m.picture) {
			t.Errorf("the tour does not show %s", m.picture)
		}
	}
	for _, link := range regexp.MustCompile(`\]\((pictures/[^)]+)\)`).FindAllStringSubmatch(text, -1) {
		if _, err := os.Stat(filepath.Join("../../testdata", link[1])); err != nil {
			t.Errorf("the tour shows what is not there: %v", err)
		}
	}
}

// Every command of the tour is one that the program knows, with its flags.
func TestTourCommands(t *testing.T) {
	seen := 0
	for line := range strings.Lines(readText(t, tourFile)) {
		command, ok := strings.CutPrefix(line, "    rimcast ")
		if !ok {
			continue
		}
		seen++
		root := newRoot(newApp(nil, nil, &bytes.Buffer{}, &bytes.Buffer{}))
		cmd, rest, err := root.Find(strings.Fields(command))
		if err == nil {
			err = cmd.ParseFlags(rest)
		}
		if err != nil {
			t.Errorf("rimcast %s: %v", strings.TrimSpace(command), err)
		}
	}
	if seen < 8 {
		t.Errorf("only %d commands", seen)
	}
}

// The tour has the questions of the page, each with its answer.
func TestTourHasTheQuestions(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "result")
	if err := writeFixture(dir); err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(readText(t, filepath.Join(dir, "report.html")), `<table class="asked">`)
	table, _, _ = strings.Cut(table, "</table>")
	list := regexp.MustCompile(`<th scope="row">([^<]*)</th>`).FindAllStringSubmatch(table, -1)
	if len(list) != 18 {
		t.Fatalf("%d questions on the page", len(list))
	}
	text := readText(t, tourFile)
	for _, q := range list {
		if !strings.Contains(text, "| "+html.UnescapeString(q[1])+" |") {
			t.Errorf("the tour does not answer %q", q[1])
		}
	}
}

func readText(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// makeTour runs the demo and writes its figures at half size.
func makeTour(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "demo")
	result := filepath.Join(dir, "result")
	must(t, "demo", "-o", dir, "-q")
	must(t, "report", result, "-o", dir+"-all", "--format", "png", "-q")
	figures := map[string]string{"": filepath.Join(dir+"-all", "figures")}
	for _, m := range tourMade {
		if _, made := figures[m.crater]; !made {
			figures[m.crater] = filepath.Join(dir+"-"+m.crater, "figures")
			must(t, "profile", m.crater, "--result", result, "-o", dir+"-"+m.crater, "-q")
		}
		found, err := filepath.Glob(filepath.Join(figures[m.crater], "*"+m.figure+".png"))
		if err != nil || len(found) != 1 {
			t.Fatalf("%s: %d figures %s (%v)", m.crater, len(found), m.figure, err)
		}
		shrinkPicture(t, found[0], filepath.Join(tourPictures, m.picture))
	}
}

func must(t *testing.T, args ...string) {
	t.Helper()
	var log bytes.Buffer
	if code := run(context.Background(), args, strings.NewReader(""), &bytes.Buffer{}, &log); code != 0 {
		t.Fatalf("rimcast %s: exit code %d\n%s", strings.Join(args, " "), code, &log)
	}
}

// shrinkPicture halves a picture and keeps its 255 commonest colours.
func shrinkPicture(t *testing.T, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	half := halved(img)
	out := image.NewPaletted(half.Bounds(), commonest(half, 255))
	for i := range half.Pix {
		if i%4 == 0 {
			x, y := i/4%half.Rect.Dx(), i/4/half.Rect.Dx()
			out.Set(x, y, half.At(x, y))
		}
	}
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(&b, out); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, b.Bytes(), 0o666); err != nil {
		t.Fatal(err)
	}
}

func halved(img image.Image) *image.RGBA {
	b := img.Bounds()
	out := image.NewRGBA(image.Rect(0, 0, b.Dx()/2, b.Dy()/2))
	for y := range b.Dy() / 2 {
		for x := range b.Dx() / 2 {
			out.SetRGBA(x, y, mean4(img, b.Min.X+2*x, b.Min.Y+2*y))
		}
	}
	return out
}

func mean4(img image.Image, x, y int) color.RGBA {
	var sum [3]uint32
	for k := range 4 {
		r, g, b, _ := img.At(x+k%2, y+k/2).RGBA()
		sum[0], sum[1], sum[2] = sum[0]+r>>8, sum[1]+g>>8, sum[2]+b>>8
	}
	return color.RGBA{uint8(sum[0] / 4), uint8(sum[1] / 4), uint8(sum[2] / 4), 255}
}

// commonest are the n commonest colours, to 5 bits each.
func commonest(img *image.RGBA, n int) color.Palette {
	counts := map[color.RGBA]int{}
	for y := range img.Rect.Dy() {
		for x := range img.Rect.Dx() {
			c := img.RGBAAt(x, y)
			counts[color.RGBA{c.R | 7, c.G | 7, c.B | 7, 255}]++
		}
	}
	var list []color.RGBA
	for c := range counts {
		list = append(list, c)
	}
	number := func(c color.RGBA) int { return int(c.R)<<16 | int(c.G)<<8 | int(c.B) }
	slices.SortFunc(list, func(a, b color.RGBA) int { return cmp.Or(counts[b]-counts[a], number(a)-number(b)) })
	var out color.Palette
	for _, c := range list[:min(n, len(list))] {
		out = append(out, c)
	}
	return out
}
