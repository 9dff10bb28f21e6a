package main

import (
	"fmt"
	"runtime/debug"
	"strings"

	"github.com/airbusgeo/godal"
	"github.com/spf13/cobra"
)

// versionInfo says which build this is.
type versionInfo struct {
	Version  string            `json:"version"`
	Revision string            `json:"revision,omitempty"`
	Modified bool              `json:"modified"` // built from a tree with uncommitted changes
	Go       string            `json:"go"`
	GDAL     string            `json:"gdal,omitempty"`
	Modules  map[string]string `json:"modules"`
}

// readVersion takes what the Go tool wrote into the binary.
func readVersion() versionInfo {
	v := versionInfo{Version: "(devel)", Modules: map[string]string{}, GDAL: gdalVersion()}
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return v
	}
	v.Go = info.GoVersion
	if info.Main.Version != "" {
		v.Version = info.Main.Version
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			v.Revision = s.Value
		case "vcs.modified":
			v.Modified = s.Value == "true"
		}
	}
	for _, m := range info.Deps {
		v.Modules[m.Path] = m.Version
	}
	return v
}

// String is the version as the manifest has it: version and revision.
func (v versionInfo) String() string {
	s := v.Version
	if rev := v.Revision[:min(12, len(v.Revision))]; !strings.Contains(s, rev) {
		s += " " + rev
	}
	if v.Modified && !strings.Contains(s, "dirty") {
		s += " (modified)"
	}
	return s
}

const versionLong = `Version prints the version of rimcast, of Go and of GDAL. With -v it also lists
the modules that are built in.`

// newVersion makes the command that prints the version.
func newVersion(a *app) *cobra.Command {
	return &cobra.Command{
		Use:     "version",
		Short:   "print the version",
		Long:    versionLong + exitStatus(),
		Example: example("rimcast version", "rimcast version --json"),
		Args:    argCount(0, 0, "no argument"),
		RunE: func(*cobra.Command, []string) error {
			v := readVersion()
			if a.json {
				return printJSON(a.stdout, v)
			}
			fmt.Fprintf(a.stdout, "rimcast %s\n%s, GDAL %s\n", v, v.Go, v.GDAL)
			if a.verbose {
				for _, path := range sortedKeys(v.Modules) {
					fmt.Fprintf(a.stdout, "  %s %s\n", path, v.Modules[path])
				}
			}
			return nil
		},
	}
}

// gdalVersion returns the version of the GDAL library that is linked in.
func gdalVersion() string {
	v := godal.Version()
	return fmt.Sprintf("%d.%d.%d", v.Major(), v.Minor(), v.Revision())
}
