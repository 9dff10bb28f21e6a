package main

import (
	"regexp"
	"strings"
	"testing"
)

// goType is text that only a Go programmer understands.
var goType = regexp.MustCompile(`struct field|main\.|\[\]|float64|uint64|\bmap\[|Go value`)

// TestTOMLFaultsAreInWords gives every key of a survey file values of every
// wrong kind.
func TestTOMLFaultsAreInWords(t *testing.T) {
	for _, k := range surveyKeys {
		section, key, ok := strings.Cut(k.key, ".")
		if !ok {
			section, key = "", k.key
		}
		for _, value := range []string{"'x'", "-1", "1.5", "true", "['a']", "[1]", "{a = 1}", "1979-05-27", "99999999999999999999", "[[1]]"} {
			head := "[" + section + "]\n"
			switch section {
			case "":
				head = ""
			case "species", "covariate", "mask":
				head = "[[" + section + "]]\n"
			}
			_, err := parseSurvey("s.toml", []byte(head+key+" = "+value+"\n"))
			if err != nil && (goType.MatchString(err.Error()) || exitCode(err) != exitUsage) {
				t.Errorf("%s = %s: %v", k.key, value, err)
			}
		}
	}
	_, err := parseSurvey("s.toml", []byte("[sampling]\nouter = '8'\n"))
	if err == nil || !strings.Contains(err.Error(), "key sampling.outer: the value is text; it should be a number") {
		t.Errorf("error %v", err)
	}
}
