package main

import (
	"context"
	"debug/elf"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"soakline/device/port/porttest"
)

// TestBinaryAlone: the program has everything that it needs inside. As root the test
// puts it alone into an empty root, with nothing beside it but the terminals, and runs
// it there as a user who owns nothing and is in the group that the port belongs to: it
// finds out who is on the port, shows live values, and serves a bench that reads it.
// Without root it is run as this user is, in sight of everything, and says so.
func TestBinaryAlone(t *testing.T) {
	mustBeStatic(t, binary(t))
	cable := porttest.NewCable(t)
	cable.Answer(meterOnItsOwn)
	a := newAlone(t, cable.Device())
	for _, try := range []struct {
		says string
		args []string
	}{
		{"Saltmarsh,M6,S60017,1.4", []string{"identify", a.port}},
		{`"mean":5.017`, []string{"peek", a.port, "--baud", "9600", "--ask", "MEAS:VOLT:DC?", "--count", "3", "--every", "0s", "--json"}},
		{"", []string{"check", "bench.yaml"}},
		{"", []string{"unit", "add", "B8-0147", "--console", "Brambling 8", "--bench", "bench.yaml"}},
	} {
		cmd := a.command(t.Context(), try.args...)
		output, err := cmd.CombinedOutput()
		if err != nil || !strings.Contains(strings.ReplaceAll(string(output), " ", ""), try.says) {
			t.Fatalf("%q as %s: %v: %s", try.args, a.who, err, output)
		}
	}
	a.serve(t)
}

// meterOnItsOwn answers what a meter is asked.
func meterOnItsOwn(line string) string {
	switch strings.TrimSpace(line) {
	case "*IDN?":
		return "Saltmarsh,M6,S60017,1.4\n"
	case "MEAS:VOLT:DC?", "MEASure:VOLTage:DC?":
		return "5.017\n"
	case "SYST:ERR?", "SYSTem:ERRor?":
		return "0,\"No error\"\n"
	}
	return ""
}

// mustBeStatic fails if the program wants a loader or libraries.
func mustBeStatic(t *testing.T, path string) {
	t.Helper()
	file, err := elf.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	for _, part := range file.Progs {
		if part.Type == elf.PT_INTERP {
			t.Errorf("%s wants a loader", filepath.Base(path))
		}
	}
	if libraries, err := file.ImportedLibraries(); err != nil || len(libraries) > 0 {
		t.Errorf("%s wants %q, %v", filepath.Base(path), libraries, err)
	}
}

// alone is the program by itself.
type alone struct {
	program, port, who string
	dir                string // the bench's, as the program sees it
	attributes         *syscall.SysProcAttr
}

const (
	ownsNothing = 65534
	loneSheet   = `name: lone
console: Brambling 8
soak: {duration: 1h, evidence_at_least_pct: 99, longest_gap: 5m}
test_points:
  - {name: rail-5v, measure: dc-voltage, every: 50ms, limit: {low_v: 4.75, high_v: 5.25, source: "for the test"}}
`
	loneBench = `bench: alone
book: alone.book
sheets: [lone.yaml]
instruments:
  - {name: meter, port: %q, command_set: scpi-meter}
places:
  - name: left
    connections: [{test_point: rail-5v, instrument: meter}]
`
)

func newAlone(t *testing.T, terminal string) *alone {
	t.Helper()
	a := &alone{program: binary(t), port: terminal, dir: t.TempDir(), who: "this user"}
	root := ""
	if os.Geteuid() == 0 {
		root = a.jail(t, terminal)
	} else {
		t.Log("not root: the program is run as this user, in sight of all files, so what it needs beside itself does not show")
	}
	for name, text := range map[string]string{"lone.yaml": loneSheet, "bench.yaml": fmt.Sprintf(loneBench, a.port)} {
		if err := os.WriteFile(filepath.Join(root, a.dir, name), []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	return a
}

// jail makes an empty root with the program, the terminals and a folder of its own, and
// gives the terminal to the group of serial ports.
func (a *alone) jail(t *testing.T, terminal string) (root string) {
	t.Helper()
	group := dialout(t)
	root, err := os.MkdirTemp("", "soakline-alone-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := os.RemoveAll(root); err != nil {
			t.Error(err)
		}
	})
	pts := filepath.Join(root, "dev", "pts")
	err = errors.Join(os.Chmod(root, 0o755), os.MkdirAll(pts, 0o755), os.Mkdir(filepath.Join(root, "bench"), 0o700),
		os.Chown(filepath.Join(root, "bench"), ownsNothing, ownsNothing), copyFile(a.program, filepath.Join(root, "soakline")),
		os.Chown(terminal, 0, group), os.Chmod(terminal, 0o660), syscall.Mount("/dev/pts", pts, "", syscall.MS_BIND, ""))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(pts, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	a.program, a.dir, a.who = "/soakline", "/bench", "nobody in the group of serial ports, in an empty root"
	a.attributes = &syscall.SysProcAttr{Chroot: root,
		Credential: &syscall.Credential{Uid: ownsNothing, Gid: ownsNothing, Groups: []uint32{uint32(group)}}}
	return root
}

// dialout is the number of the group of serial ports; any other will do where there is
// none of that name.
func dialout(t *testing.T) int {
	t.Helper()
	group, err := user.LookupGroup("dialout")
	if err != nil {
		t.Logf("there is no group dialout here, so group 20 stands for it: %v", err)
		return 20
	}
	id, err := strconv.Atoi(group.Gid)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

func copyFile(from, to string) error {
	source, err := os.Open(from)
	if err != nil {
		return err
	}
	defer source.Close()
	target, err := os.OpenFile(to, os.O_CREATE|os.O_WRONLY, 0o755)
	if err != nil {
		return err
	}
	_, err = io.Copy(target, source)
	return errors.Join(err, target.Close())
}

// command is the program with nothing in its environment.
func (a *alone) command(ctx context.Context, args ...string) *exec.Cmd {
	cmd := exec.CommandContext(ctx, a.program, args...)
	cmd.Dir, cmd.Env, cmd.SysProcAttr = a.dir, []string{}, a.attributes
	return cmd
}

// serve runs the bench until a soak has readings in /metrics, and ends it by a signal.
func (a *alone) serve(t *testing.T) {
	t.Helper()
	address := freeAddress(t)
	daemon := a.command(context.WithoutCancel(t.Context()), "serve", "--bench", "bench.yaml", "--listen", address)
	log := &strings.Builder{}
	daemon.Stderr = log
	if err := daemon.Start(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- daemon.Wait() }()
	defer func() {
		_ = daemon.Process.Kill() // it has ended, unless the test has failed
	}()
	waitFor(t, "the daemon", func() bool { return answers(address, "/readyz") })
	if output, err := a.command(t.Context(), "soak", "begin", "--unit", "B8-0147", "--for", "1h", "--bench", "bench.yaml").CombinedOutput(); err != nil {
		t.Fatalf("soak begin: %v: %s", err, output)
	}
	var view struct {
		Book struct {
			Written uint64 `json:"written_readings"`
		} `json:"book"`
	}
	waitFor(t, "readings in the book", func() bool {
		output, err := a.command(t.Context(), "soak", "status", "--json", "--bench", "bench.yaml").Output()
		return err == nil && json.Unmarshal(output, &view) == nil && view.Book.Written > 5
	})
	if err := daemon.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	select {
	case err := <-ended:
		if err != nil {
			t.Errorf("it ended with %v: %s", err, log)
		}
	case <-time.After(20 * time.Second):
		t.Error("it does not end")
	}
}

// answers tells whether something good comes from an address.
func answers(address, path string) bool {
	answer, err := http.Get("http://" + address + path)
	if err != nil {
		return false
	}
	return answer.Body.Close() == nil && answer.StatusCode == http.StatusOK
}
