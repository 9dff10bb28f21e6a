package main

import (
	"regexp"
	"strings"
)

var (
	tomlKind  = regexp.MustCompile(`^cannot (?:decode|store) TOML ([a-z][a-z ]*?) into (?:a )?(?:struct field \S+ of type |Go (?:value of type )?)?(\S+)$`)
	tomlRange = regexp.MustCompile(`^(.*) cannot be stored in u?int\d*$`)
)

// tomlWords is a message of the decoder without the types of this program.
func tomlWords(said string) string {
	said = strings.TrimPrefix(said, "toml: ")
	if m := tomlKind.FindStringSubmatch(said); m != nil {
		return "the value is " + tomlGiven(m[1]) + "; it should be " + tomlWanted(m[2])
	}
	return tomlRange.ReplaceAllString(said, "$1 is not possible here")
}

// tomlGiven names a kind of value in a survey file.
func tomlGiven(kind string) string {
	switch kind {
	case "string":
		return "text"
	case "integer", "array", "inline table":
		return map[string]string{"integer": "a whole number", "array": "a list", "inline table": "a table"}[kind]
	}
	return "a " + kind
}

// tomlWanted says in words what a key takes.
func tomlWanted(goType string) string {
	t := strings.TrimLeft(goType, "*")
	if list, ok := strings.CutPrefix(t, "[]"); ok {
		return "a list, each " + tomlWanted(list)
	}
	switch {
	case strings.HasPrefix(t, "float"):
		return "a number"
	case strings.HasPrefix(t, "int"), strings.HasPrefix(t, "uint"):
		return "a whole number"
	case t == "string":
		return "text in quotes"
	case t == "bool":
		return "true or false"
	}
	return "a section of keys"
}
