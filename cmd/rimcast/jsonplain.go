package main

import (
	"math"
	"reflect"
	"unicode"
)

// plain turns a value into maps, lists, text and numbers that JSON can hold:
// field names become lower case with underscores, and a number that could not
// be measured (NaN) or is not finite becomes null.
func plain(v any) any { return plainValue(reflect.ValueOf(v)) }

func plainValue(v reflect.Value) any {
	switch v.Kind() {
	case reflect.Invalid:
		return nil
	case reflect.Float32, reflect.Float64:
		if x := v.Float(); !math.IsNaN(x) && !math.IsInf(x, 0) {
			return x
		}
		return nil
	case reflect.Pointer, reflect.Interface:
		return plainValue(v.Elem())
	case reflect.Slice, reflect.Array:
		list := make([]any, v.Len())
		for i := range list {
			list[i] = plainValue(v.Index(i))
		}
		return list
	case reflect.Struct:
		return plainStruct(v)
	}
	return v.Interface()
}

func plainStruct(v reflect.Value) map[string]any {
	m := map[string]any{}
	for i := range v.NumField() {
		if f := v.Type().Field(i); f.IsExported() {
			m[snake(f.Name)] = plainValue(v.Field(i))
		}
	}
	return m
}

// snake turns a Go name into one of JSON: RimExcessSE into rim_excess_se.
func snake(name string) string {
	var out []rune
	for i, r := range name { // names of fields are ASCII
		if i > 0 && startsWord(name, i) {
			out = append(out, '_')
		}
		out = append(out, unicode.ToLower(r))
	}
	return string(out)
}

// startsWord reports whether the letter at i begins a word: a capital or a
// digit after a small letter, or the last capital before a small letter.
func startsWord(s string, i int) bool {
	last, r := rune(s[i-1]), rune(s[i])
	switch {
	case unicode.IsUpper(r):
		return !unicode.IsUpper(last) || i+1 < len(s) && unicode.IsLower(rune(s[i+1]))
	case unicode.IsDigit(r):
		return !unicode.IsDigit(last)
	}
	return false
}
