package port

import (
	"errors"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/sys/unix"
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
	want, err := user.LookupGroup(serialGroup())
	if err != nil {
		t.Fatalf("this system has neither a group dialout nor uucp: %v", err)
	}
	id, err := strconv.Atoi(want.Gid)
	if err != nil {
		t.Fatal(err)
	}
	deny(t, c.Device(), id, 0o660)
	says := []string{"group " + want.Name, "sudo usermod -aG " + want.Name + " nobody", `SUBSYSTEM=="tty"`}
	if os.Geteuid() != 0 {
		// A plain user's terminal has a group of his own, which is not the obstacle.
		says = []string{"you are in it", "getfacl " + c.Device()}
		if !inGroupOf(t, c.Device()) {
			says = []string{"sudo usermod -aG", `SUBSYSTEM=="tty"`}
		}
	}
	report := ask(t, c.Device())
	if report.Kind != KindDenied {
		t.Fatalf("got %+v", report)
	}
	for _, want := range says {
		if !strings.Contains(report.Hint, want) {
			t.Errorf("hint %q does not say %q", report.Hint, want)
		}
	}
}

// inGroupOf tells whether this process is in the device's group.
func inGroupOf(t *testing.T, device string) bool {
	t.Helper()
	var stat unix.Stat_t
	groups, err := os.Getgroups()
	if err := errors.Join(err, unix.Stat(device, &stat)); err != nil {
		t.Fatal(err)
	}
	return slices.Contains(append(groups, os.Getegid()), int(stat.Gid))
}

func TestHintForAMemberWhoHasNotLoggedIn(t *testing.T) {
	if got := joinHint("dialout", "bench", true, "rule"); !strings.Contains(got, "log out and in again") || strings.Contains(got, "usermod") {
		t.Error(got)
	}
}

// Being in the group and refused all the same is not cured by joining it. Here it
// is the owner's missing right that refuses, as the first that counts.
func TestHintForAMemberWhoIsKeptOut(t *testing.T) {
	c := newCable(t)
	if os.Geteuid() == 0 {
		if err := os.Chown(c.Device(), nobody, nobody); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.Chmod(c.Device(), 0o060); err != nil {
		t.Fatal(err)
	}
	want := "getfacl"
	if os.Geteuid() != 0 && !inGroupOf(t, c.Device()) {
		want = "usermod" // where terminals belong to a group that this user is not in
	}
	if report := ask(t, c.Device()); report.Kind != KindDenied || !strings.Contains(report.Hint, want) {
		t.Errorf("got %+v, want %q", report, want)
	}
}

func TestHintsWithoutANode(t *testing.T) {
	gone := filepath.Join(t.TempDir(), "gone")
	if got := deniedHint(t.Context(), gone); !strings.Contains(got, "directory") {
		t.Error(got)
	}
	if got := groupName(4_000_000_000); got != "4000000000" {
		t.Errorf("a group without a name is called %q", got)
	}
	if got := busyHint(gone); !strings.Contains(got, "the program that holds the port") {
		t.Error(got)
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
