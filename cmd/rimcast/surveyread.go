package main

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"rimcast/geom"
)

// maxSurveyFile bounds the survey file; real ones have a few kilobytes.
const maxSurveyFile = 1 << 20

// readSurvey reads a survey file, "-" for standard input, over the defaults.
func readSurvey(path string, stdin io.Reader) (*surveyFile, error) {
	text, err := readSurveyText(path, stdin)
	if err != nil {
		return nil, err
	}
	sv, err := parseSurvey(path, text)
	if err != nil {
		return nil, err
	}
	dir := "."
	if path != "-" {
		dir = filepath.Dir(path)
	}
	sv.resolve(dir)
	return sv, nil
}

func readSurveyText(path string, stdin io.Reader) ([]byte, error) {
	r := stdin
	if path != "-" {
		f, err := openInput(path)
		if err != nil {
			return nil, inputFault(err, "give the path of a survey file, or describe the survey with --species and --craters")
		}
		defer f.Close()
		r = f
	}
	text, err := io.ReadAll(io.LimitReader(r, maxSurveyFile+1))
	if err != nil {
		return nil, inputFault(fmt.Errorf("%s: %w", path, err), "")
	}
	if len(text) > maxSurveyFile {
		return nil, usage(path+": larger than a megabyte", "give the survey file here; maps and catalogues go into its path keys")
	}
	return text, nil
}

// parseSurvey decodes the text of a survey file over the defaults. Unknown
// keys are errors, since a misspelt key would silently leave its default.
func parseSurvey(path string, text []byte) (*surveyFile, error) {
	sv := defaultSurvey()
	sv.source = path
	text = bytes.TrimPrefix(text, []byte("\ufeff"))
	d := toml.NewDecoder(bytes.NewReader(text)).DisallowUnknownFields()
	if err := d.Decode(sv); err != nil {
		return nil, tomlFault(path, err)
	}
	return sv, nil
}

// tomlFault turns an error of the decoder into one of ours, with line, column
// and, for an unknown key, what was probably meant.
func tomlFault(path string, err error) error {
	var missing *toml.StrictMissingError
	if errors.As(err, &missing) && len(missing.Errors) > 0 {
		return unknownKeys(path, missing.Errors)
	}
	var de *toml.DecodeError
	if errors.As(err, &de) {
		line, column := de.Position()
		where := fmt.Sprintf("%s: line %d, column %d", path, line, column)
		if k := de.Key(); len(k) > 0 {
			where += ", key " + strings.Join(k, ".")
		}
		return usage(where+": "+tomlWords(de.Error()), helpFor(de.Key()))
	}
	return usage(path+": "+tomlWords(err.Error()), "see rimcast inspect --keys")
}

// unknownKeys reports all unknown keys in the text and helps with the first.
func unknownKeys(path string, errs []toml.DecodeError) error {
	var names []string
	for _, e := range errs {
		line, _ := e.Position()
		names = append(names, fmt.Sprintf("%s (line %d)", geom.Quote(strings.Join(e.Key(), ".")), line))
	}
	noun := "unknown key "
	if len(names) > 1 {
		noun = "unknown keys "
	}
	return usage(path+": "+noun+strings.Join(names, ", "), suggestKey(errs[0].Key()))
}

// suggestKey says which key was probably meant: one of the same section, a
// section, or a key of that name elsewhere.
func suggestKey(key toml.Key) string {
	const list = "rimcast inspect --keys lists all keys"
	if len(key) == 0 {
		return list
	}
	section, word := "", key[len(key)-1]
	if len(key) > 1 {
		section = key[0]
		if keysOf(section) == nil {
			word = section // the section itself is misspelt
			section = ""
		}
	}
	if c := closest(word, keysOf(section)); c != "" {
		return fmt.Sprintf("did you mean %s; %s", strings.TrimPrefix(section+"."+c, "."), list)
	}
	for _, s := range sections() {
		for _, k := range keysOf(s) {
			if k == word {
				return fmt.Sprintf("the key %s belongs under [%s]; %s", k, s, list)
			}
		}
	}
	return list
}

// helpFor returns the documentation of a key, for a value of the wrong type.
func helpFor(key toml.Key) string {
	name := strings.Join(key, ".")
	for _, k := range surveyKeys {
		if k.key == name {
			return k.key + ": " + k.help
		}
	}
	return "rimcast inspect --keys lists all keys"
}
