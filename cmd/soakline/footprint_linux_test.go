package main

import (
	"os"
	"slices"
	"testing"
)

// TestUnchanged: of a process's mappings only those are given back that hold what the
// program's file holds, in the form of proc_pid_smaps(5).
func TestUnchanged(t *testing.T) {
	const smaps = `00400000-01500000 r-xp 00000000 fe:00 105 /usr/bin/soakline
Size:              17408 kB
Rss:               13608 kB
Anonymous:             0 kB
01500000-02500000 r--p 01100000 fe:00 105 /usr/bin/soakline
Rss:               14740 kB
Anonymous:             8 kB
02500000-02b80000 rw-p 02100000 fe:00 105 /usr/bin/soakline
Anonymous:             0 kB
7f0000000000-7f0000001000 r--p 00000000 fe:00 106 /usr/lib/libc.so.6
Anonymous:             0 kB
7f0000002000-7f0000003000 rw-p 00000000 00:00 0
Anonymous:             0 kB
02c00000-02c01000 r--p 02100000 fe:00 105 /usr/bin/soakline
Anonymous:             0 kB
`
	want := []mapping{{0x400000, 0x1500000}, {0x2c00000, 0x2c01000}}
	if got := unchanged([]byte(smaps), "/usr/bin/soakline"); !slices.Equal(got, want) {
		t.Errorf("%x, want %x", got, want)
	}
}

// TestLeaveUnused: the program goes on after it has given its pages back.
func TestLeaveUnused(t *testing.T) {
	before := memory(t, os.Getpid(), "RssFile")
	if err := leaveUnused(); err != nil {
		t.Fatal(err)
	}
	if after := memory(t, os.Getpid(), "RssFile"); after >= before {
		t.Errorf("%d kB of the file are in memory, before it were %d", after/1000, before/1000)
	}
}
