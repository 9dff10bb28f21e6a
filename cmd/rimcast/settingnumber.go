package main

import (
	"fmt"
	"strconv"

	"rimcast/reports"
)

// settingNumber is a number among the settings of a saved result.
func settingNumber(m reports.Manifest, section, key string) (float64, bool) {
	s, ok := m.Settings[section].(map[string]any)
	if !ok {
		return 0, false
	}
	v, err := strconv.ParseFloat(fmt.Sprint(s[key]), 64)
	return v, err == nil
}
