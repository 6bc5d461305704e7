package main

import (
	"encoding/json"
	"fmt"
	"net"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// smallMachine is the memory that the daemon has to live in: 64 MB, of which it may
// use 24 for itself (GOMEMLIMIT); the rest is for the program's file, the database
// and the connections.
const smallMachine, ofThat = 64_000_000, "24MiB"

// TestClientsThatNeverRead: a thousand connections ask for everything and take
// nothing, while the machine gives 64 MB. The bench goes on, answers others, and
// loses nothing.
func TestClientsThatNeverRead(t *testing.T) {
	t.Setenv("GOMEMLIMIT", ofThat)
	k := newFullBench(t, t.TempDir(), "")
	room := smallMachine
	if raceDetector {
		room *= 10 // it takes several times as much
	}
	killed := k.withinMemory(t, room)
	k.serve(t)
	k.beginSoak(t)
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
	before := k.view(t).Book.WrittenReadings
	waitFor(t, "readings beside a thousand clients", func() bool { return k.view(t).Book.WrittenReadings > before+10*fullPerSecond })
	if output, err := k.run("soak", "status"); err != nil {
		t.Errorf("soak status: %v: %s", err, output)
	}
	if lost := k.view(t).Book.LostReadings; len(lost) > 0 {
		t.Errorf("readings were lost: %v", lost)
	}
	peak := memory(t, k.daemon.Process.Pid, "VmHWM")
	t.Logf("the daemon's memory at its peak: %.1f MB resident; killed for want of memory: %d", float64(peak)/1e6, killed())
	if peak > room || killed() > 0 {
		t.Errorf("the daemon took %d kB", peak/1000)
	}
}

// withinMemory has the daemon run where the system gives it no more memory than that
// (cgroups(7)); the returned function says how many processes were killed for it.
// Where that takes rights that the tests do not have, what is measured must do.
func (k *killedBench) withinMemory(t *testing.T, bytes int) (killed func() int) {
	t.Helper()
	for _, group := range []struct{ root, limit, events string }{
		{"/sys/fs/cgroup", "memory.max", "memory.events"},
		{"/sys/fs/cgroup/memory", "memory.limit_in_bytes", "memory.oom_control"},
	} {
		if _, err := os.Stat(filepath.Join(group.root, "cgroup.procs")); err != nil {
			continue
		}
		dir, err := os.MkdirTemp(group.root, "soakline-")
		if err != nil {
			continue
		}
		t.Cleanup(func() {
			if err := os.Remove(dir); err != nil {
				t.Error(err)
			}
		})
		if err := os.WriteFile(filepath.Join(dir, group.limit), fmt.Append(nil, bytes), 0); err != nil {
			continue
		}
		k.before = []string{"sh", "-c", `echo $$ >"$0/cgroup.procs" && exec "$@"`, dir}
		return func() int { return outOfMemory(t, filepath.Join(dir, group.events)) }
	}
	t.Logf("no right to bound the daemon's memory here: only its own limit holds (GOMEMLIMIT), and what it takes is measured")
	return func() int { return 0 }
}

// outOfMemory is how many processes of a group were killed for want of memory.
func outOfMemory(t *testing.T, events string) int {
	t.Helper()
	text, err := os.ReadFile(events)
	if err != nil {
		t.Fatal(err)
	}
	found := regexp.MustCompile(`oom_kill (\d+)`).FindSubmatch(text)
	if found == nil {
		t.Fatalf("no oom_kill in %s: %s", events, text)
	}
	n, err := strconv.Atoi(string(found[1]))
	if err != nil {
		t.Fatal(err)
	}
	return n
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
