//go:build unix

package main

import (
	"net"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// TestSupervised plays the service manager: the daemon says when it is ready, gives
// signs of life as often as it was told to, and says that it stops (sd_notify(3)).
func TestSupervised(t *testing.T) {
	dir := t.TempDir()
	bench := lonelyBench(t, dir)
	socket := filepath.Join(dir, "notify")
	manager, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer manager.Close()
	t.Setenv("NOTIFY_SOCKET", socket)
	t.Setenv("WATCHDOG_USEC", "200000")
	daemon := start(t, binary(t), "serve", "--bench", bench, "--listen", "127.0.0.1:0")
	expect := func(want string) {
		t.Helper()
		if err := manager.SetReadDeadline(time.Now().Add(20 * time.Second)); err != nil {
			t.Fatal(err)
		}
		packet := make([]byte, 4096)
		n, err := manager.Read(packet)
		if err != nil || !strings.Contains(string(packet[:n]), want) {
			t.Fatalf("the service manager was told %q, %v; want %s", packet[:n], err, want)
		}
	}
	expect("READY=1")
	for range 3 {
		expect("WATCHDOG=1")
	}
	if err := daemon.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	for {
		packet := make([]byte, 4096)
		n, err := manager.Read(packet)
		if err != nil {
			t.Fatal(err)
		}
		if text := string(packet[:n]); strings.Contains(text, "STOPPING=1") {
			break
		} else if text != "WATCHDOG=1" {
			t.Fatalf("the service manager was told %q", text)
		}
	}
	_ = daemon.Wait() // what it says of the stop is looked at elsewhere
}

// lonelyBench writes a bench whose one instrument is not there.
func lonelyBench(t *testing.T, dir string) string {
	t.Helper()
	file := filepath.Join(dir, "bench.yaml")
	text := `bench: pier-end
book: pier.book
sheets: [brambling-8]
instruments:
  - {name: meter, port: ` + filepath.Join(dir, "not-there") + `, command_set: scpi-meter}
places:
  - name: left
    connections:
      - {test_point: rail-5v, instrument: meter, channel: 101}
`
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}
