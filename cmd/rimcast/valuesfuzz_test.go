package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/binary"
	"encoding/json"
	"errors"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode"

	"github.com/spf13/pflag"
)

// FuzzFlagValues gives any text to any flag of a survey, and to the parsers of
// numbers, lists, sizes, shares and weights. What is taken is a value that can
// be used; what is not is refused in printable words, as a wrong command line.
func FuzzFlagValues(f *testing.F) {
	names := allSurveyFlags()
	if len(names) < 40 {
		f.Fatalf("there are %d flags", len(names))
	}
	for i, s := range []string{"3", "-1e9", "1/3", "nan", "600MB", "0.5GiB", "water=-9999,nan", "p_real=2", "true", "east", "1e999", "0x1p-2", "+7", "1_000", "３", "\u202e1", ""} {
		f.Add(s, uint8(7*i))
	}
	f.Fuzz(func(t *testing.T, text string, flag uint8) {
		checkParsedNumbers(t, text)
		if s, err := parseShard(text); err == nil && (s.index < 1 || s.index > s.of || s.of > maxShards) {
			t.Errorf("%q is taken for shard %d of %d", text, s.index, s.of)
		}
		w, err := parseWeights([]string{text})
		wordsOf(t, err)
		for name, v := range w {
			if !(math.Abs(v) <= maxWeight) {
				t.Errorf("%q gives %s the weight %g", text, name, v)
			}
		}
		setFlag(t, names[int(flag)%len(names)], text)
	})
}

// TestFlagValues gives a few hostile texts to every flag.
func TestFlagValues(t *testing.T) {
	for _, name := range allSurveyFlags() {
		for _, text := range []string{"", "nan", "-inf", "-1", "1e308", "99999999999999999999", "a=b,c:=", "\x00\u202e\n", strings.Repeat("9", 4000)} {
			setFlag(t, name, text)
		}
	}
}

func checkParsedNumbers(t *testing.T, text string) {
	if x, err := parseNumber(text); err == nil && math.IsInf(x, 0) {
		t.Errorf("%q is taken for %g", text, x)
	}
	list, err := parseNumbers(text)
	if err == nil && len(list) != strings.Count(text, ",")+1 {
		t.Errorf("%q gives %d numbers", text, len(list))
	}
	if n, err := parseBytes(text); err == nil && n < 0 {
		t.Errorf("%q is taken for %d bytes", text, n)
	}
}

// setFlag sets a flag of a survey to a text. A survey that takes it is checked
// as a run would check it.
func setFlag(t *testing.T, name, text string) {
	sf, fs := &surveyFlags{}, pflag.NewFlagSet("rimcast", pflag.ContinueOnError)
	sf.register(fs)
	if fs.Set(name, text) != nil {
		return
	}
	sv, err := sf.build("", nil)
	if err == nil {
		sv.Species, sv.Catalogue.Path = append(sv.Species, layerSection{Name: "w", Path: "w.tif"}), "c.csv"
		err = sv.check()
	}
	wordsOf(t, err)
}

// allSurveyFlags are the names of the flags that describe a survey.
func allSurveyFlags() (names []string) {
	fs := pflag.NewFlagSet("rimcast", pflag.ContinueOnError)
	(&surveyFlags{}).register(fs)
	fs.VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	return names
}

// wordsOf fails when an error is no refusal of a command line in printable
// words.
func wordsOf(t *testing.T, err error) {
	if err == nil {
		return
	}
	if code := exitCode(err); code != exitUsage {
		t.Errorf("exit code %d: %v", code, err)
	}
	for _, r := range printable(err.Error()) {
		if !unicode.IsPrint(r) {
			t.Errorf("message with %U: %q", r, err)
		}
	}
}

// FuzzMergeParts gives merge two parts whose frames are sound and whose content
// is not: it is refused, or fills every measurement, and nothing panics.
func FuzzMergeParts(f *testing.F) {
	shared, entries := partContent(f)
	if len(shared) == 0 || len(entries) == 0 {
		f.Fatal("an empty seed")
	}
	f.Add(shared, entries, uint8(1), uint8(2))
	f.Add(shared[:len(shared)/2], entries, uint8(1), uint8(1))
	f.Fuzz(func(t *testing.T, shared, entries []byte, first, second uint8) {
		var parts []*part
		for _, shard := range []uint8{first, second} {
			p, err := readPart(bytes.NewReader(partAround(t, shared, entries, int(shard))), false)
			if err != nil {
				return
			}
			parts = append(parts, p)
		}
		names := []string{"a.part", "b.part"}
		if checkParts(names, parts) != nil {
			return
		}
		p, err := pipelineOf(parts[0].shared, &silentProgress{newMessages(io.Discard)})
		if err == nil {
			_ = p.fillFrom(names, parts) // one slot twice is refused; what matters is that it ends
		}
	})
}

// partContent is what the frames of a part hold, unpacked.
func partContent(t testing.TB) (shared, entries []byte) {
	p := fixturePipeline(t)
	list, err := p.entries([]int{0, 1})
	if err != nil {
		t.Fatal(err)
	}
	return plainFrame(t, p.shared()), plainFrame(t, list)
}

func plainFrame(t testing.TB, v any) []byte {
	packed, err := pack(v)
	if err != nil {
		t.Fatal(err)
	}
	z, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// partAround is a part of two shards round the given content, with sums that fit.
func partAround(t testing.TB, shared, entries []byte, shard int) []byte {
	var b bytes.Buffer
	b.WriteString(partMagic)
	err := errors.Join(
		writeFrame(&b, frameHeader, partHeader{Format: partFormat, Shard: shard, Of: 2, Craters: 2, Species: 2}),
		writePlain(&b, frameShared, shared), writePlain(&b, frameData, entries),
		writeFrame(&b, frameEnd, partEnd{2}),
	)
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func writePlain(b *bytes.Buffer, kind byte, text []byte) error {
	var packed bytes.Buffer
	z, err := gzip.NewWriterLevel(&packed, gzip.NoCompression)
	if err != nil {
		return err
	}
	_, err = z.Write(text)
	if err = errors.Join(err, z.Close()); err != nil {
		return err
	}
	frame := binary.LittleEndian.AppendUint32([]byte{kind}, uint32(packed.Len()))
	frame = append(frame, packed.Bytes()...)
	sum := sha256.Sum256(frame)
	b.Write(append(frame, sum[:]...))
	return nil
}

// TestPartAroundIsRead: the seed of FuzzMergeParts is a part that merge takes up
// to the slots that both shards fill.
func TestPartAroundIsRead(t *testing.T) {
	shared, entries := partContent(t)
	p, err := readPart(bytes.NewReader(partAround(t, shared, entries, 1)), false)
	if err != nil || len(p.entries) != 2 {
		t.Fatalf("%v, %+v", err, p)
	}
}

// FuzzManifest reads any record of an earlier run, as report, compare and
// profile do, and looks up in it what they look up.
func FuzzManifest(f *testing.F) {
	text, err := json.Marshal(fixtureSurvey().Manifest)
	if err != nil || len(text) == 0 {
		f.Fatal("no seed: ", err)
	}
	f.Add(text)
	f.Add([]byte(`{"tool":"rimcast","settings":{"ranking":{"weights":{"a":1e999}},"tests":[]}}`))
	path := filepath.Join(f.TempDir(), resultMark)
	f.Fuzz(func(t *testing.T, text []byte) {
		if err := os.WriteFile(path, text, 0o666); err != nil {
			t.Fatal(err)
		}
		m, err := readManifest(path)
		if err != nil {
			if !strings.Contains(err.Error(), path) {
				t.Errorf("the file is not named: %v", err)
			}
			return
		}
		for name, w := range savedWeights(m) {
			if math.IsNaN(w) || math.IsInf(w, 0) {
				t.Errorf("%s has the weight %g", name, w)
			}
		}
		if _, err := json.Marshal(m); err != nil {
			t.Errorf("cannot be written again: %v", err)
		}
	})
}
