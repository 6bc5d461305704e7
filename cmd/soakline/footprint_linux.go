package main

import (
	"bufio"
	"bytes"
	"fmt"
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// leaveUnused gives the pages of the program's own file back. Most of them are needed
// once, for the start, a command or a report, and on a small computer they count as
// memory in use until the system is short of it. What is needed again is read again
// from the file, which the system mostly still has.
func leaveUnused() error {
	file, err := os.Executable()
	if err != nil {
		return err
	}
	maps, err := os.ReadFile("/proc/self/smaps")
	if err != nil {
		return err
	}
	for _, m := range unchanged(maps, file) {
		if _, _, errno := unix.Syscall(unix.SYS_MADVISE, m.from, m.to-m.from, unix.MADV_DONTNEED); errno != 0 {
			return fmt.Errorf("give back pages of %s: %w", file, errno)
		}
	}
	return nil
}

// mapping is a stretch of memory.
type mapping struct{ from, to uintptr }

// unchanged are the mappings of a file that can't be written to and hold nothing but
// what the file holds (proc_pid_smaps(5)).
func unchanged(smaps []byte, file string) []mapping {
	var all []mapping
	var at mapping
	mine := false
	lines := bufio.NewScanner(bytes.NewReader(smaps))
	for lines.Scan() {
		line := lines.Text()
		fields := strings.Fields(line)
		switch {
		case len(fields) >= 5 && len(fields[1]) == 4:
			_, err := fmt.Sscanf(fields[0], "%x-%x", &at.from, &at.to)
			mine = err == nil && fields[1][1] == '-' && strings.HasSuffix(line, " "+file)
		case mine && fields[0] == "Anonymous:" && fields[1] == "0":
			all = append(all, at)
		}
	}
	return all
}
