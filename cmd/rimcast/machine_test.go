package main

import "testing"

func TestMemoryTexts(t *testing.T) {
	// Lines as in proc(5), and files of the kernel's control groups.
	if got := meminfoTotal([]byte("MemFree: 3 kB\nMemTotal:       16318480 kB\n")); got != 16318480<<10 {
		t.Errorf("MemTotal is %d", got)
	}
	if got := meminfoTotal([]byte("MemTotal: lots\n")); got != 0 {
		t.Errorf("nonsense is %d", got)
	}
	for text, want := range map[string]int64{"max\n": 0, "536870912\n": 512 << 20, "-1\n": 0, "": 0} {
		if got := groupLimit([]byte(text)); got != want {
			t.Errorf("limit %q is %d, want %d", text, got, want)
		}
	}
	for text, want := range map[string]string{
		"0::/job_7/step_0\n": "/job_7/step_0", "12:cpu:/x\n0::/\n": "/", "": "/", "0::relative": "/", "0::/a/../../b\n": "/b",
	} {
		if got := ownGroup([]byte(text)); got != want {
			t.Errorf("group of %q is %q, want %q", text, got, want)
		}
	}
	if usableMemory() < minMemory {
		t.Error("this machine has less memory than the least that is accepted")
	}
}
