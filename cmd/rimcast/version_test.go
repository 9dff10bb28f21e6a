package main

import "testing"

func TestVersionText(t *testing.T) {
	const rev = "28875f87c252aaaaaaaaaaaaaaaaaaaaaaaaaaaa"
	for _, c := range []struct {
		v    versionInfo
		want string
	}{
		{versionInfo{Version: "(devel)"}, "(devel)"},
		{versionInfo{Version: "(devel)", Revision: rev}, "(devel) 28875f87c252"},
		{versionInfo{Version: "(devel)", Revision: rev, Modified: true}, "(devel) 28875f87c252 (modified)"},
		{versionInfo{Version: "v1.2.0", Revision: "ab"}, "v1.2.0 ab"},
		{versionInfo{Version: "v0.0.0-20260101-28875f87c252+dirty", Revision: rev, Modified: true}, "v0.0.0-20260101-28875f87c252+dirty"},
	} {
		if got := c.v.String(); got != c.want {
			t.Errorf("%+v is %q, want %q", c.v, got, c.want)
		}
	}
}
