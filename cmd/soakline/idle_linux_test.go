package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// idleBytes is the most that a full bench's daemon may have in memory: 40 MB.
const idleBytes = 40e6

// TestIdleCost: what a full bench costs that nobody looks at. The memory is held to
// its bound; the share of a core is a figure, taken from the processor's time that
// the daemon used, so that whatever else runs here does not count, beside what a
// program takes that only asks. IDLE_SECONDS is for how long, IDLE_AFTER how long after
// the start, whose own work and giving back of memory are no idle cost (make idle-cost).
func TestIdleCost(t *testing.T) {
	k := newFullBench(t, t.TempDir(), "")
	var ports []string
	for i := range fullPoints {
		ports = append(ports, filepath.Join(filepath.Dir(k.file), fullMeter(i)))
	}
	long := max(trialTime(t, "IDLE_SECONDS", 3*time.Second), firstLeave)
	bare := bareCost(t, ports, long)
	k.serve(t)
	k.beginSoak(t)
	waitFor(t, "all test points", func() bool { return k.metric(t, "soakline_readings_total") > 3*fullPerSecond })
	rest(trialTime(t, "IDLE_AFTER", 0))
	pid := k.daemon.Process.Pid
	before, used, began := k.metric(t, "soakline_readings_total"), processorTime(t, pid), time.Now()
	rest(long)
	took, spent := time.Since(began), processorTime(t, pid)-used
	rate := (k.metric(t, "soakline_readings_total") - before) / took.Seconds()
	resident, own := memory(t, pid, "VmRSS"), memory(t, pid, "RssAnon")
	t.Logf("%.0f readings/s from %d instruments for %s: %.2f %% of one core, only asking %.2f %%, %.1f MB resident, of which %.1f MB are not the program's file",
		rate, fullPoints, took.Round(time.Second), 100*spent.Seconds()/took.Seconds(), bare, float64(resident)/1e6, float64(own)/1e6)
	if rate < 0.9*fullPerSecond && !raceDetector {
		t.Errorf("%.0f readings/s, want %d", rate, fullPerSecond)
	}
	if resident > idleBytes && !raceDetector { // which takes several times as much
		t.Errorf("%d kB resident, want less than %d", resident/1000, int(idleBytes)/1000)
	}
}

// processorTime is the processor's time that a process has used (proc_pid_stat(5),
// utime and stime, in ticks of 10 ms).
func processorTime(t *testing.T, pid int) time.Duration {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	if err != nil {
		t.Fatal(err)
	}
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	ticks := 0
	for _, field := range fields[11:13] {
		n, err := strconv.Atoi(field)
		if err != nil {
			t.Fatal(err)
		}
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond
}

// memory is what a line of a process's status says, in bytes (proc_pid_status(5)).
func memory(t *testing.T, pid int, line string) int {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(line + `:\s+(\d+) kB`).FindSubmatch(text)
	if found == nil {
		t.Fatalf("no %s in\n%s", line, text)
	}
	kilobytes, err := strconv.Atoi(string(found[1]))
	if err != nil {
		t.Fatal(err)
	}
	return kilobytes << 10
}
