package main

import (
	"database/sql"
	"errors"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"soakline/checks"
	"soakline/logger/book"
)

// disk is where a trial's book lies: a small one of its own where the tests may mount
// one (root), else the machine's, with a bound on how long the daemon's files may grow.
type disk struct {
	dir  string
	real bool
}

func newDisk(t *testing.T, size string) disk {
	t.Helper()
	d := disk{dir: t.TempDir()}
	err := unix.Mount("soakline-test", d.dir, "tmpfs", unix.MS_NOSUID|unix.MS_NODEV, "mode=0700,size="+size)
	if err != nil {
		t.Logf("no right to mount a small disk here (%v): the daemon's files may grow no more instead (RLIMIT_FSIZE)", err)
		return d
	}
	d.real = true
	t.Cleanup(func() {
		if err := unix.Unmount(d.dir, 0); err != nil {
			t.Error(err)
		}
	})
	return d
}

// fill leaves no room; the returned function makes it again.
func (d disk) fill(t *testing.T, k *killedBench) (makeRoom func()) {
	t.Helper()
	pid := k.daemon.Process.Pid
	if !d.real {
		log, err := os.Stat(k.book + "-wal")
		if err != nil {
			t.Fatal(err)
		}
		var before unix.Rlimit
		limit := unix.Rlimit{Cur: uint64(log.Size()), Max: unix.RLIM_INFINITY}
		if err := errors.Join(unix.Prlimit(pid, unix.RLIMIT_FSIZE, nil, &before), unix.Prlimit(pid, unix.RLIMIT_FSIZE, &limit, nil)); err != nil {
			t.Fatal(err)
		}
		return func() {
			if err := unix.Prlimit(pid, unix.RLIMIT_FSIZE, &before, nil); err != nil {
				t.Fatal(err)
			}
		}
	}
	path := filepath.Join(d.dir, "filling")
	file, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	for block := make([]byte, 4096); err == nil; {
		_, err = file.Write(block)
	}
	if !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	return func() {
		if err := os.Remove(path); err != nil {
			t.Fatal(err)
		}
	}
}

// waiting is how many readings wait for the book, as /metrics says.
func (k *killedBench) waiting(t *testing.T) float64 {
	return k.metric(t, "soakline_book_pending_readings")
}

// goesOn waits until a bench whose book could not be written is well again.
func (k *killedBench) goesOn(t *testing.T) {
	t.Helper()
	waitFor(t, "the book", func() bool {
		health, _ := k.get(t, "/healthz")
		ready, _ := k.get(t, "/readyz")
		return health == http.StatusOK && ready == http.StatusOK && k.view(t).Book.Trouble == "" && k.waiting(t) < 3*fullPerSecond
	})
}

// troubled waits until the daemon says what is wrong with its book: in its health, to
// its page, and as a loss of readiness.
func (k *killedBench) troubled(t *testing.T, want string) {
	t.Helper()
	waitFor(t, "word of "+want, func() bool { return strings.Contains(k.view(t).Book.Trouble, want) })
	for _, path := range []string{"/healthz", "/readyz"} {
		if status, text := k.get(t, path); status != http.StatusServiceUnavailable || !strings.Contains(text, want) {
			t.Errorf("%s: %d %s", path, status, text)
		}
	}
}

// verdictOf ends the soak and the daemon, has the book checked, and gives the verdict.
func (k *killedBench) verdictOf(t *testing.T) checks.Verdict {
	t.Helper()
	if output, err := k.run("soak", "end", "--unit", "B8-0147", "--reason", "end of the test"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	waitFor(t, "the verdict", func() bool { _, err := k.run("soak", "show", "1"); return err == nil })
	if err := k.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := k.daemon.Wait(); err != nil {
		t.Errorf("the daemon ended with %v: %s", err, k.daemon.log)
	}
	if output, err := k.run("book", "check"); err != nil {
		t.Errorf("book check: %v: %s", err, output)
	}
	b, err := book.Open(t.Context(), k.book, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	kept, err := b.Verdict(t.Context(), 1)
	if err != nil {
		t.Fatal(err)
	}
	return kept.Verdict
}

// TestDiskFullForAWhile: the disk of the book is full and then free again. The daemon
// goes on reading, says what is wrong, and every reading is in the book afterwards.
// DISK_SECONDS is for how long it is full.
func TestDiskFullForAWhile(t *testing.T) {
	t.Parallel()
	d := newDisk(t, "4m")
	k := newFullBench(t, d.dir, "")
	k.serve(t)
	k.beginSoak(t)
	waitFor(t, "readings in the book", func() bool { return k.view(t).Book.WrittenReadings > fullPerSecond })
	makeRoom := d.fill(t, k)
	k.troubled(t, "disk")
	before := k.metric(t, "soakline_readings_total")
	rest(trialTime(t, "DISK_SECONDS", 3*time.Second))
	taken := k.metric(t, "soakline_readings_total") - before
	if waiting := k.waiting(t); taken < fullPerSecond || waiting < taken {
		t.Errorf("while the disk was full %g readings were taken, and %g wait", taken, waiting)
	}
	makeRoom()
	k.goesOn(t)
	if lost := k.metric(t, "soakline_readings_lost_total"); lost > 0 {
		t.Errorf("%g readings were lost", lost)
	}
	for _, check := range k.verdictOf(t).Checks {
		if check.Lost > 0 || check.GapCount > 0 {
			t.Errorf("%s: %d lost, gaps %v", check.Check, check.Lost, check.Gaps)
		}
	}
}

// TestDiskFullBeyondTheBound: the disk is full for longer than readings can wait. What
// is lost is counted, shown, and a gap in the evidence; the daemon goes on by itself.
func TestDiskFullBeyondTheBound(t *testing.T) {
	t.Parallel()
	const bound = 1000
	d := newDisk(t, "4m")
	k := newFullBench(t, d.dir, "")
	text, err := os.ReadFile(k.file)
	if err != nil {
		t.Fatal(err)
	}
	bounded := strings.Replace(string(text), "book: \""+k.book+"\"", "book: {file: \""+k.book+"\", waiting: 1000}", 1)
	if err := os.WriteFile(k.file, []byte(bounded), 0o600); err != nil {
		t.Fatal(err)
	}
	k.serve(t)
	k.beginSoak(t)
	waitFor(t, "readings in the book", func() bool { return k.view(t).Book.WrittenReadings > fullPerSecond })
	makeRoom := d.fill(t, k)
	waitFor(t, "losses", func() bool { return k.metric(t, "soakline_readings_lost_total") > 4*fullPerSecond })
	if waiting := k.waiting(t); waiting != bound {
		t.Errorf("%g readings wait, want %d", waiting, bound)
	}
	if lost := k.view(t).Book.LostReadings; lost[book.LostQueueFull] < 4*fullPerSecond {
		t.Errorf("the page is told of %v", lost)
	}
	makeRoom()
	k.goesOn(t)
	lost := k.view(t).Book.LostReadings[book.LostQueueFull]
	verdict, counted := k.verdictOf(t), 0
	for _, check := range verdict.Checks {
		counted += check.Lost
		full := func(gap checks.Gap) bool { return strings.Contains(gap.Cause, book.LostQueueFull) }
		if check.Lost == 0 || check.LongestGap < 2*time.Second || !slices.ContainsFunc(check.Gaps, full) {
			t.Errorf("%s: %d lost, gaps %v", check.Check, check.Lost, check.Gaps)
		}
	}
	if verdict.Outcome == checks.Pass || counted != int(lost) {
		t.Errorf("%s with %d lost readings in the verdict; %d were shown", verdict.Outcome, counted, lost)
	}
}

// immutable is a file's flag that lets nobody write to it (linux/fs.h, FS_IMMUTABLE_FL).
const immutable = 0x10

// protect lets nothing be written into the book's files any more, as on a disk that
// the system has made read-only because it failed (ioctl_iflags(2));
// the returned function takes that back.
func protect(t *testing.T, k *killedBench) (writable func()) {
	t.Helper()
	var undo []func() error
	for _, path := range []string{k.book, k.book + "-wal"} {
		file, err := os.Open(path)
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { file.Close() })
		flags, err := unix.IoctlGetInt(int(file.Fd()), unix.FS_IOC_GETFLAGS)
		if err == nil {
			err = unix.IoctlSetPointerInt(int(file.Fd()), unix.FS_IOC_SETFLAGS, flags|immutable)
		}
		if err != nil {
			t.Logf("no right to make files read-only here (%v): the daemon's files may grow no more instead (RLIMIT_FSIZE)", err)
			return disk{}.fill(t, k)
		}
		undo = append(undo, func() error { return unix.IoctlSetPointerInt(int(file.Fd()), unix.FS_IOC_SETFLAGS, flags) })
	}
	writable = sync.OnceFunc(func() {
		for _, step := range undo {
			if err := step(); err != nil {
				t.Error(err)
			}
		}
	})
	t.Cleanup(writable) // or the folder could not be removed
	return writable
}

// TestDiskReadOnly: the book can be written no more, and then again. Reading goes on,
// and nothing is missing.
func TestDiskReadOnly(t *testing.T) {
	t.Parallel()
	k := newFullBench(t, t.TempDir(), "")
	k.serve(t)
	k.beginSoak(t)
	waitFor(t, "readings in the book", func() bool { return k.view(t).Book.WrittenReadings > fullPerSecond })
	writable := protect(t, k)
	k.troubled(t, "book "+k.book)
	before := k.metric(t, "soakline_readings_total")
	waitFor(t, "readings meanwhile", func() bool { return k.metric(t, "soakline_readings_total") > before+2*fullPerSecond })
	writable()
	k.goesOn(t)
	for _, check := range k.verdictOf(t).Checks {
		if check.Lost > 0 || check.GapCount > 0 {
			t.Errorf("%s: %d lost, gaps %v", check.Check, check.Lost, check.Gaps)
		}
	}
}

// TestSlowDisk: commits take as long as a disk that is about to fail makes them take.
// The bench answers and reads meanwhile, and says how far it is behind.
func TestSlowDisk(t *testing.T) {
	t.Parallel()
	k := newFullBench(t, t.TempDir(), "")
	k.serve(t)
	k.beginSoak(t)
	waitFor(t, "readings in the book", func() bool { return k.view(t).Book.WrittenReadings > fullPerSecond })
	release := stall(t, k)
	before := k.metric(t, "soakline_readings_total")
	waitFor(t, "a commit that hangs", func() bool { return k.waiting(t) > 3*fullPerSecond })
	if taken := k.metric(t, "soakline_readings_total") - before; taken < 2*fullPerSecond {
		t.Errorf("%g readings were taken while a commit hung", taken)
	}
	release()
	k.goesOn(t)
	for _, check := range k.verdictOf(t).Checks {
		if check.Lost > 0 || check.GapTotal > 250*time.Millisecond { // a pause of the machine is no pause of the disk
			t.Errorf("%s: %d lost, gaps %v", check.Check, check.Lost, check.Gaps)
		}
	}
}

// stall has every commit wait, as if the disk did, for as long as the other program's
// transaction lasts.
func stall(t *testing.T, k *killedBench) (release func()) {
	t.Helper()
	holder, err := sql.Open("sqlite", "file:"+k.book+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	holder.SetMaxOpenConns(1)
	t.Cleanup(func() { holder.Close() })
	if _, err := holder.ExecContext(t.Context(), "BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	return func() {
		if _, err := holder.ExecContext(t.Context(), "ROLLBACK"); err != nil {
			t.Fatal(err)
		}
		if err := holder.Close(); err != nil {
			t.Fatal(err)
		}
	}
}
