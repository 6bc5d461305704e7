package book

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
)

// childEnv makes the test binary play a part: "PART PATH NUMBER".
const childEnv = "BOOK_TEST_CHILD"

// parts are what the test binary can play.
var parts = map[string]func(path string, number int) error{"write": writeForEver, "idle": sayMemory, "work": workAndSayMemory, "import": importSource}

func TestMain(m *testing.M) {
	part := strings.Fields(os.Getenv(childEnv))
	if len(part) == 0 {
		os.Exit(m.Run())
	}
	number, err := strconv.Atoi(part[2])
	if err == nil {
		err = parts[part[0]](part[1], number)
	}
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// child prepares the test binary as such a program.
func child(t *testing.T, part string, path string, number int) *exec.Cmd {
	t.Helper()
	executable, err := os.Executable()
	must(t, err)
	cmd := exec.CommandContext(t.Context(), executable)
	cmd.Env = append(os.Environ(), fmt.Sprintf("%s=%s %s %d", childEnv, part, path, number))
	cmd.Stderr = os.Stderr
	return cmd
}

// crashCommit is the commit interval in the crash test.
const crashCommit = 20 * time.Millisecond

// numbered is reading number i of the crash test: its value is its number.
func numbered(i int) TaggedReading {
	tag := rail
	tag.TestPoint += checks.TestPointName("abcd"[i%4 : i%4+1])
	d := scpi.NewDecimal(int64(i), 0)
	return TaggedReading{tag, device.Reading{Measure: tag.Measure, Value: d.Float64(), Digits: d, At: begin.Add(time.Duration(i) * time.Millisecond)}}
}

// writeForEver appends numbered readings, ten each millisecond, and says what it does:
// "+ number when" that it has handed in the readings up to a number, "b when" that a
// commit begins, "c took" that it has ended, and after each flush "= number" up to which number the readings
// are promised to be in the book. Times are nanoseconds.
func writeForEver(path string, start int) error {
	b, err := Open(context.Background(), path, Options{Program: "soakline test"})
	if err != nil {
		return err
	}
	w := NewWriter(b, WriterOptions{CommitEvery: crashCommit, Committed: func(c Commit) {
		if c.Err == nil { // one write each: lines of two goroutines do not mix
			fmt.Println("c", c.Took.Nanoseconds())
		}
	}})
	w.store = func(ctx context.Context, bt *batch, j *journal) (outcome, error) {
		fmt.Println("b", time.Now().UnixNano())
		return b.store(ctx, bt, j)
	}
	go func() { _ = w.Run(context.Background()) }()
	pace := time.NewTicker(time.Millisecond)
	for i := start; ; i++ {
		if err := w.Append(numbered(i)); err != nil {
			return err
		}
		if i%10 != 9 {
			continue
		}
		fmt.Println("+", i, time.Now().UnixNano())
		if i%1000 == 999 {
			if err := w.Flush(context.Background()); err != nil {
				return err
			}
			fmt.Println("=", i)
		}
		<-pace.C
	}
}

// TestKill: a writing program is killed at random moments. Each time the book is
// whole, holds all that a flush had promised and all that was handed in before the
// last commit began, and from there on an unbroken run of readings, none of them
// twice; the next program goes on. What is missing had waited for its commit for at most
// one interval, or as long as the commit before it took. BOOK_KILLS=1000 kills as often as the promise is
// made for.
func TestKill(t *testing.T) {
	const few, perBook = 20, 40
	rounds := many(t, "BOOK_KILLS", few)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	path, next, total, within := "", 0, 0, 0
	var waits []time.Duration
	for round := range rounds {
		if round%perBook == 0 { // a book is read from its begin after each kill
			path, next = filepath.Join(t.TempDir(), "bench.book"), 0
		}
		life := killOnce(t, path, next, random)
		before := next
		next = checkWhole(t, path, life.promised)
		checkClean(t, path)
		total += next - before
		wait := life.missing(t, next)
		waits = append(waits, wait)
		if wait <= max(crashCommit, life.took)+crashCommit/2 { // programs take turns
			within++
		}
		if t.Failed() {
			t.Fatalf("after kill %d", round+1)
		}
	}
	slices.Sort(waits)
	t.Logf("%d readings, %d kills; the oldest that was missing had waited %v (median), %v (19 of 20), %v (most) for its commit of every %v; in %d kills no longer than that or the commit before",
		total, rounds, waits[len(waits)/2], waits[len(waits)*19/20], waits[len(waits)-1], crashCommit, within)
	if within < rounds/2 { // a busy machine has programs wait for their turn
		t.Errorf("in %d of %d kills more is missing than one commit interval", rounds-within, rounds)
	}
}

// lifetime is what a program said before it was killed.
type lifetime struct {
	promised int
	handed   []handedIn
	began    time.Time     // the last commit that ended
	took     time.Duration // that one
	begins   time.Time     // the one that was under way; zero if none was
	killed   time.Time
}

// handedIn says that the readings up to a number had been handed in.
type handedIn struct {
	number int
	at     time.Time
}

// missing is how long the first reading that is not in the book had waited before its
// commit began, or the kill came; 0 if none is missing that is known of.
func (l *lifetime) missing(t *testing.T, have int) time.Duration {
	t.Helper()
	for i, h := range l.handed {
		if h.number < have {
			continue
		}
		if h.at.Before(l.began) {
			t.Errorf("reading %d was handed in at %v, before the last commit began at %v, and is missing", have, h.at, l.began)
		}
		first := h.at // the first of ten is older than the last by less than the mark before
		if i > 0 && h.number > have {
			first = l.handed[i-1].at
		}
		until := l.killed
		if !l.begins.IsZero() && l.begins.Before(until) {
			until = l.begins
		}
		return max(0, until.Sub(first))
	}
	return 0
}

// hear takes in a line of the program.
func (l *lifetime) hear(t *testing.T, line string) {
	t.Helper()
	var what string
	var number, when int64
	if _, err := fmt.Sscan(line+" 0", &what, &number, &when); err != nil {
		t.Fatalf("it said %q: %v", line, err)
	}
	switch what {
	case "+":
		l.handed = append(l.handed, handedIn{int(number), time.Unix(0, when)})
	case "b":
		l.begins = time.Unix(0, number)
	case "c":
		l.began, l.took, l.begins = l.begins, time.Duration(number), time.Time{}
	case "=":
		l.promised = int(number)
	}
}

// killOnce starts a program that writes from number start on, kills it at a random
// moment, and returns what it had said.
func killOnce(t *testing.T, path string, start int, random *rand.Rand) *lifetime {
	t.Helper()
	cmd := child(t, "write", path, start)
	stdout, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	life := &lifetime{promised: start - 1}
	killed := make(chan time.Time, 1)
	kill := func() {
		killed <- time.Now()
		_ = cmd.Process.Kill() // SIGKILL: nothing can be tidied up
	}
	var timer *time.Timer
	lines := bufio.NewScanner(stdout)
	for lines.Scan() {
		if timer == nil { // it is at work
			timer = time.AfterFunc(time.Duration(random.Int64N(int64(10*crashCommit))), kill)
			defer timer.Stop()
		}
		life.hear(t, lines.Text())
	}
	if err := cmd.Wait(); err == nil || cmd.ProcessState.ExitCode() != -1 {
		t.Fatalf("the program was not killed but ended by itself: %v", err)
	}
	life.killed = <-killed
	return life
}

// checkWhole opens the book and returns the number of readings in it: it must be
// an unbroken run from 0 beyond what was promised.
func checkWhole(t *testing.T, path string, promised int) int {
	t.Helper()
	b := openAt(t, path, Options{})
	defer b.Close()
	var verdict string
	must(t, b.writing.QueryRowContext(t.Context(), `PRAGMA integrity_check`).Scan(&verdict))
	if verdict != "ok" {
		t.Errorf("integrity_check: %s", verdict)
	}
	n := 0
	for _, r := range readAll(t, b, Filter{}) {
		if r != asKept(numbered(n)) {
			t.Fatalf("reading %d is %+v, want %+v: one is missing, doubled or torn", n, r, numbered(n))
		}
		n++
	}
	if n <= promised {
		t.Errorf("%d readings in the book, but up to number %d they were promised", n, promised)
	}
	return n
}

// checkClean wants a book without faults.
func checkClean(t *testing.T, path string) {
	t.Helper()
	b := openAt(t, path, Options{})
	defer b.Close()
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("book check: %v", problems)
	}
}

// many is how often a random fault is tried: few times in every test run, or as
// often as the environment says.
func many(t *testing.T, variable string, few int) int {
	t.Helper()
	text := os.Getenv(variable)
	if text == "" {
		return few
	}
	n, err := strconv.Atoi(text)
	if err != nil || n < 1 {
		t.Fatalf("%s=%q is no number from 1 up", variable, text)
	}
	return n
}

func asKept(r TaggedReading) TaggedReading {
	r.At = micro(r.At)
	return r
}

// TestLossIsAtMostOneInterval: what a kill can take is what was appended within the
// last commit interval, so that the time of a commit by the clock bounds it. Here
// the readings carry the time of their appending.
func TestLossIsAtMostOneInterval(t *testing.T) {
	b := openNew(t)
	const every = 50 * time.Millisecond
	committed := make(chan time.Time)
	done := make(chan struct{})
	w := NewWriter(b, WriterOptions{CommitEvery: every, Committed: func(Commit) {
		select {
		case committed <- time.Now():
		case <-done:
		}
	}})
	stop := running(t, w)
	for range 5 {
		appended := time.Now()
		r := numbered(1)
		r.At = appended
		must(t, w.Append(r))
		at := <-committed
		newest, err := b.Last(t.Context(), Filter{})
		if err != nil || len(newest) != 1 || !newest[0].At.Equal(micro(appended)) {
			t.Errorf("a commit at %v, and the newest reading is %+v (%v), want the one of %v", at, newest, err, appended)
		}
	}
	close(done)
	must(t, stop())
}

// TestSecondProcessIsTold: another process holds the book.
func TestSecondProcessIsTold(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	cmd := child(t, "write", path, 0)
	stdout, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	lines := bufio.NewScanner(stdout)
	for lines.Scan() && !strings.HasPrefix(lines.Text(), "=") {
		continue
	}
	_, err = Open(t.Context(), path, Options{})
	checkRefusal(t, err, ErrHeld, path, fmt.Sprintf("process %d", cmd.Process.Pid))
	reader := openAt(t, path, Options{ReadOnly: true})
	if n, err := reader.Count(t.Context(), Filter{}); n < 200 || err != nil {
		t.Errorf("the second process reads %d readings (%v), want 200 or more", n, err)
	}
	must(t, cmd.Process.Kill())
	if err := cmd.Wait(); err == nil {
		t.Error("it ended by itself")
	}
	openAt(t, path, Options{}) // the lock ended with the process
}
