package port

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"

	"golang.org/x/sys/unix"
)

// holders maps each device under /dev that processes have open, as far as this
// user may look into them, to one that does; others count before this program,
// which may have it open only to find out.
func holders() map[string]string {
	held := map[string]string{}
	// The pattern is well-formed, so there is no error.
	tables, _ := filepath.Glob("/proc/[0-9]*/fd")
	for _, table := range tables {
		// Processes end, and those of others do not let themselves be read.
		entries, err := os.ReadDir(table)
		if err != nil {
			continue
		}
		pid := filepath.Base(filepath.Dir(table))
		for _, entry := range entries {
			name, err := os.Readlink(filepath.Join(table, entry.Name()))
			if err == nil && strings.HasPrefix(name, "/dev/") && (held[name] == "" || held[name] == self) {
				held[name] = processName(pid)
			}
		}
	}
	return held
}

// holderOf gives who holds a device, empty if that cannot be seen. A lock says it
// best: the far end of a pseudo-terminal has the device open too.
func holderOf(device string, held map[string]string) string {
	if pid := lockHolder(device); pid != "" {
		return processName(pid)
	}
	return held[device]
}

// lockHolder looks the device up in the kernel's list of locks, which everybody
// may read.
func lockHolder(device string) string {
	var stat unix.Stat_t
	if err := unix.Stat(device, &stat); err != nil {
		return ""
	}
	file, err := os.Open("/proc/locks")
	if err != nil {
		return ""
	}
	defer file.Close()
	dev := uint64(stat.Dev)
	want := fmt.Sprintf("%02x:%02x:%d", unix.Major(dev), unix.Minor(dev), stat.Ino)
	for lines := bufio.NewScanner(file); lines.Scan(); {
		// 1: FLOCK  ADVISORY  WRITE 708 00:05:1234 0 EOF
		field := strings.Fields(lines.Text())
		if len(field) >= 6 && field[5] == want && field[4] != "0" {
			return field[4]
		}
	}
	return ""
}

// self is what processName calls this process.
const self = "this program itself"

// processName gives "cat (process 1234)".
func processName(pid string) string {
	if pid == strconv.Itoa(os.Getpid()) {
		return self
	}
	name, err := os.ReadFile(filepath.Join("/proc", pid, "comm"))
	if err != nil {
		return "process " + pid
	}
	return strings.TrimSpace(string(name)) + " (process " + pid + ")"
}
