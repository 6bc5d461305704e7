package main

import (
	"encoding/json"
	"fmt"
	"net"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"soakline/logger/page"
)

// TestClientsThatNeverRead: a thousand connections ask for everything and take
// nothing, while the program has 64 MB to live in (GOMEMLIMIT). The bench goes on,
// answers others, and loses nothing.
func TestClientsThatNeverRead(t *testing.T) {
	t.Setenv("GOMEMLIMIT", "64MiB")
	k := newKilledBench(t)
	k.serve(t)
	if output, err := k.run("unit", "add", "B8-0147", "--console", "Brambling 8"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	if output, err := k.run("soak", "begin", "--unit", "B8-0147@left", "--for", "2h"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	address := k.address(t)
	for i := range 1000 {
		client, err := net.Dial("tcp", address)
		if err != nil {
			t.Fatalf("client %d: %v", i, err)
		}
		defer client.Close()
		path := []string{"/metrics", "/api/v1/bench", "/api/v1/events", "/"}[i%4]
		if _, err := fmt.Fprintf(client, "GET %s HTTP/1.1\r\nHost: %s\r\n\r\n", path, address); err != nil {
			t.Fatalf("client %d: %v", i, err)
		}
	}
	before := k.readings(t)
	waitFor(t, "readings beside a thousand clients", func() bool { return k.readings(t) > before+20 })
	var view page.BenchView
	output, err := k.run("soak", "status", "--json")
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal([]byte(output), &view); err != nil {
		t.Fatal(err)
	}
	if len(view.Book.LostReadings) > 0 {
		t.Errorf("readings were lost: %v", view.Book.LostReadings)
	}
	peak := memoryPeak(t, k.daemon.Process.Pid)
	t.Logf("the daemon's memory at its peak: %d MB", peak>>20)
	if peak > 160<<20 { // its own limit, the connections' buffers in the kernel's count, and the program's text
		t.Errorf("the daemon took %d MB", peak>>20)
	}
}

// address is where the daemon listens, from the notice beside its book.
func (k *killedBench) address(t *testing.T) string {
	t.Helper()
	text, err := os.ReadFile(noticePath(k.book))
	if err != nil {
		t.Fatal(err)
	}
	var n notice
	if err := json.Unmarshal(text, &n); err != nil {
		t.Fatal(err)
	}
	return n.Address
}

var highWater = regexp.MustCompile(`VmHWM:\s+(\d+) kB`)

// memoryPeak is the most that a process has had in memory (proc(5), VmHWM).
func memoryPeak(t *testing.T, pid int) int {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", pid))
	if err != nil {
		t.Fatal(err)
	}
	found := highWater.FindSubmatch(text)
	if found == nil {
		t.Fatalf("no VmHWM in\n%s", text)
	}
	kilobytes, err := strconv.Atoi(string(found[1]))
	if err != nil {
		t.Fatal(err)
	}
	return kilobytes << 10
}

// TestSecondDaemon: of two daemons on one book the second ends at once and names
// the first, which goes on.
func TestSecondDaemon(t *testing.T) {
	k := newKilledBench(t)
	k.serve(t)
	second := start(t, binary(t), "serve", "--bench", k.file, "--listen", "127.0.0.1:0")
	err := second.Wait()
	if got := exitCode(err); got != exitTrouble {
		t.Errorf("the second ended with %d, want %d", got, exitTrouble)
	}
	if want := fmt.Sprintf("process %d", k.daemon.Process.Pid); !strings.Contains(second.log.String(), want) {
		t.Errorf("the second said %q, want it to name %s", second.log, want)
	}
	if output, err := k.run("soak", "status", "--json"); err != nil {
		t.Errorf("the first is not there any more: %v, %s", err, output)
	}
}
