package port

import (
	"errors"
	"os"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// deny makes the device one that only its owner, or its group, may use.
func deny(t *testing.T, device string, group int, mode os.FileMode) {
	t.Helper()
	if os.Geteuid() != 0 {
		// The device is one's own: without rights even its owner is refused.
		mode &= 0o077
		group = -1
	}
	if err := errors.Join(os.Chown(device, -1, group), os.Chmod(device, mode)); err != nil {
		t.Fatal(err)
	}
}

func TestSP9DeniedSaysWhatToDo(t *testing.T) {
	c := newCable(t)
	deny(t, c.Device(), 0, 0o600)
	report := ask(t, c.Device())
	if report.Kind != KindDenied || !report.Transient {
		t.Errorf("a node just made: %+v, want denied and transient", report)
	}
	for _, want := range []string{"/etc/udev/rules.d/", `SUBSYSTEM=="tty"`, `GROUP="`, `MODE="0660"`} {
		if !strings.Contains(report.Hint, want) {
			t.Errorf("hint %q does not say %q", report.Hint, want)
		}
	}
}

func TestDeniedNamesTheGroup(t *testing.T) {
	c := newCable(t)
	group, err := user.LookupGroup(serialGroup())
	if err != nil {
		t.Fatalf("this system has neither a group dialout nor uucp: %v", err)
	}
	id, err := strconv.Atoi(group.Gid)
	if err != nil {
		t.Fatal(err)
	}
	deny(t, c.Device(), id, 0o660)
	report := ask(t, c.Device())
	if report.Kind != KindDenied {
		t.Fatalf("got %+v", report)
	}
	if os.Geteuid() != 0 {
		// A plain user cannot give his terminal to that group, so the hint is asked
		// for a node that belongs to it, if there is one.
		t.Logf("not root: the node keeps its group; hint %q", report.Hint)
		return
	}
	for _, want := range []string{"group " + group.Name, "sudo usermod -aG " + group.Name + " nobody", `SUBSYSTEM=="tty"`} {
		if !strings.Contains(report.Hint, want) {
			t.Errorf("hint %q does not say %q", report.Hint, want)
		}
	}
}

func TestSP9DenialOfAnOldNodeIsLasting(t *testing.T) {
	if settling("/dev/null") {
		t.Error("/dev/null counts as just made")
	}
	if settling(filepath.Join(t.TempDir(), "gone")) {
		t.Error("a node that is not there counts as just made")
	}
}

func TestUdevRuleForAPortWithoutIdentity(t *testing.T) {
	want := `SUBSYSTEM=="tty", KERNEL=="ttyXYZ9", GROUP="` + serialGroup() + `", MODE="0660"`
	if got := udevRule(t.Context(), "/dev/ttyXYZ9"); got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

func TestBusySaysWho(t *testing.T) {
	c := newCable(t)
	if err := os.Chmod(c.Device(), 0o666); err != nil {
		t.Fatal(err)
	}
	holder := start(t, "hold", c.Device())
	_, err := Open(t.Context(), c.Device(), plain)
	e, ok := errors.AsType[*Error](err)
	if want := "(process " + strconv.Itoa(holder.cmd.Process.Pid) + ")"; !ok || !strings.Contains(e.Hint, want) {
		t.Errorf("%v, hint %q, does not say %q", err, e.Hint, want)
	}
	if err := holder.end(); err != nil {
		t.Error(err)
	}
	// A plain user reads the kernel's list of locks, and learns of this process.
	openOwn(t, c.Device())
	if report := ask(t, c.Device()); !strings.Contains(report.Hint, "(process "+strconv.Itoa(os.Getpid())+")") {
		t.Errorf("the other process was told %q", report.Hint)
	}
}

func TestHoldersSeesOpenDescriptors(t *testing.T) {
	c := newCable(t)
	// The cable keeps a descriptor of the slave.
	if got := holders()[c.Device()]; got != self {
		t.Errorf("held by %q, want %q", got, self)
	}
	if got := holderOf(filepath.Join(t.TempDir(), "gone"), nil); got != "" {
		t.Errorf("what is not there is held by %q", got)
	}
	if state, who := stateOf(c.Device(), holders()); state != StateBusy || who != self {
		t.Errorf("%s by %q", state, who)
	}
	if state, _ := stateOf(c.Device(), nil); state != StateFree {
		t.Errorf("nobody holds it, and it is %s", state)
	}
	if state, _ := stateOf(filepath.Join(t.TempDir(), "gone"), nil); state != StateDenied {
		t.Errorf("what cannot be opened is %s", state)
	}
}
