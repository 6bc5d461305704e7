package ship

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/url"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger"
	"soakline/logger/book"
)

// lineBench is one bench of a line: all of a daemon but its ports and its page. Its
// meter has 16 channels, each read 10 times a second.
type lineBench struct {
	*logger.Bench
	book    *book.Book
	shipper *Shipper
}

const (
	linePoints = 16
	lineEvery  = 100 * time.Millisecond
)

// lineSheet checks 16 rails; its limits are invented.
func lineSheet(text []byte) checks.Sheet {
	sheet := checks.Sheet{Name: "line", Console: "Brambling 8", Hash: book.HashSheet(text),
		Soak: checks.SoakPlan{Duration: time.Hour, EvidenceAtLeast: 0.99, LongestGap: time.Minute}}
	for i := range linePoints {
		sheet.TestPoints = append(sheet.TestPoints, checks.TestPoint{Name: checks.TestPointName(fmt.Sprintf("rail-%d", i)),
			Checks: []checks.Check{{Measure: device.DCVoltage, Every: lineEvery, FreshFor: 3 * time.Second, Hold: 2 * time.Second, Settle: 5 * time.Second,
				Limit: checks.Limit{Low: 4.75, High: 5.25, Source: "common practice, no source", Guard: checks.GuardBand{Rule: checks.Simple}}}}})
	}
	return sheet
}

// newLineBench makes one that ships to a target.
func newLineBench(t testing.TB, number int, to Target) *lineBench {
	t.Helper()
	dir, text := t.TempDir(), []byte("the sheet of a line")
	b, err := book.Open(t.Context(), filepath.Join(dir, "line.book"), book.Options{Program: "soakline test"})
	must(t, err)
	t.Cleanup(func() { must(t, b.Close()) })
	sheet := lineSheet(text)
	place := logger.Place{Name: "left"}
	for i, point := range sheet.TestPoints {
		place.Connections = append(place.Connections, logger.Connection{TestPoint: point.Name, Instrument: "meter", Channel: strconv.Itoa(i)})
	}
	settings := logger.Settings{Bench: fmt.Sprintf("pier-%03d", number), CommitEvery: time.Second, Sheets: []checks.Sheet{sheet}, Places: []logger.Place{place},
		Instruments: []logger.InstrumentSettings{{Name: "meter", Port: filepath.Join(dir, "none"),
			Commands: device.CommandSet{Name: "meter", Asks: []device.Ask{{Measure: device.DCVoltage, Send: "READ?"}}}}}}
	bench := logger.NewBench(settings, logger.Options{Book: b, Log: quiet(), SheetTexts: map[string][]byte{sheet.Hash: text},
		ParseSheet: func(string, []byte) (checks.Sheet, error) { return sheet, nil }})
	return &lineBench{Bench: bench, book: b, shipper: New(b, []Target{to}, quiet())}
}

// start begins a soak and returns what ends the bench, the book's last commit before
// the shipping.
func (l *lineBench) start(t testing.TB) (stop func()) {
	t.Helper()
	stopShipping := running(t, l.shipper.Run)
	stopBench := running(t, l.Run)
	unit := checks.UnitID("unit-of-" + l.Settings().Bench)
	must(t, l.AddUnit(t.Context(), book.Unit{ID: unit, Console: "Brambling 8"}))
	_, err := l.BeginSoak(t.Context(), logger.SoakRequest{Unit: unit})
	must(t, err)
	return func() { stopBench(); stopShipping() }
}

// read plays the meter until the context ends.
func (l *lineBench) read(ctx context.Context) error {
	ticker := time.NewTicker(lineEvery)
	defer ticker.Stop()
	var at time.Time
	for n := int64(0); ; n++ {
		select {
		case <-ctx.Done():
			return nil
		case <-ticker.C:
			now := scpi.Steady.Now().Truncate(time.Millisecond)
			if !now.After(at) { // a late tick and the next; the engine keeps one reading of a millisecond
				now = at.Add(time.Millisecond)
			}
			at = now
			for i := range int64(linePoints) {
				d := scpi.NewDecimal(500_000+(n*31+i*7)%997, -5)
				l.TakeReading("meter", strconv.FormatInt(i, 10), device.Reading{Measure: device.DCVoltage, Value: d.Float64(), Digits: d, At: at})
			}
		}
	}
}

// processor is the processor time of a process, in user and system, so far.
func processor(t testing.TB, pid int) time.Duration {
	t.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	must(t, err)
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')')+1:]))
	var ticks int64
	for _, field := range fields[11:13] { // utime, stime of proc(5)
		n, err := strconv.ParseInt(field, 10, 64)
		must(t, err)
		ticks += n
	}
	return time.Duration(ticks) * 10 * time.Millisecond // sysconf(_SC_CLK_TCK) is 100 on Linux
}

// own is the processor time of this process.
func own(t testing.TB) time.Duration {
	t.Helper()
	var usage syscall.Rusage
	must(t, syscall.Getrusage(syscall.RUSAGE_SELF, &usage))
	return time.Duration(usage.Utime.Nano() + usage.Stime.Nano())
}

// lineSize is how many benches a line has: a few, or what SOAKLINE_LINE_BENCHES says.
func lineSize(t testing.TB) int {
	t.Helper()
	text := os.Getenv("SOAKLINE_LINE_BENCHES")
	if text == "" {
		return 8
	}
	n, err := strconv.Atoi(text)
	must(t, err)
	return n
}

// TestLine runs a line of benches, each with its own book and 160 readings/s, that
// ship to one engine, and says what that costs. None may be missing in the end.
func TestLine(t *testing.T) {
	benches, long := lineSize(t), seconds(t, 4)
	e := newVictoria(t)
	to := target(e.write)
	to.Every, to.Timeout = time.Second, 30*time.Second
	var line []*lineBench
	var stops, stopReading []func()
	for i := range benches {
		l := newLineBench(t, i, to)
		line, stops = append(line, l), append(stops, l.start(t))
	}
	begun, engineBegun, begin := own(t), processor(t, e.process.Process.Pid), time.Now()
	for _, l := range line {
		stopReading = append(stopReading, running(t, l.read))
	}
	worst, end := time.Duration(0), time.After(long)
	var pending int64
	for going := true; going; {
		select {
		case <-end:
			going = false
		case <-time.After(500 * time.Millisecond):
			lag, n := lagOf(line)
			worst, pending = max(worst, lag), max(pending, n)
		}
	}
	took := time.Since(begin).Seconds()
	used, engineUsed := own(t)-begun, processor(t, e.process.Process.Pid)-engineBegun
	var ending sync.WaitGroup
	for i := range line {
		ending.Go(func() { stopReading[i](); stops[i]() })
	}
	ending.Wait()
	var written int64
	for _, l := range line {
		n, err := l.book.Count(t.Context(), book.Filter{})
		must(t, err)
		written += n
		if lost := l.Counters.Losses(); len(lost) > 0 {
			t.Errorf("%s lost readings: %v", l.Settings().Bench, lost)
		}
	}
	t.Logf("%d benches, %.0f readings/s for %.0f s: %.2f processors for the benches, %.2f for the engine; the slowest was %.1f s behind, at most %d readings waited",
		benches, float64(written)/took, took, used.Seconds()/took, engineUsed.Seconds()/took, worst.Seconds(), pending)
	for _, l := range line {
		if s := l.shipper.Status()[0]; s.Pending != 0 || s.Refused != 0 {
			t.Errorf("%+v", s)
		}
	}
	// What the engine took is to be seen there a moment later.
	patience := time.Now().Add(10 * time.Second)
	there := int64(-1)
	waitFor(t, "the engine to show what it has", func() bool {
		there = countSamples(t, e)
		return there == written || time.Now().After(patience)
	})
	if there != written {
		t.Errorf("the engine has %d readings, the books have %d", there, written)
	}
	if want := float64(benches) * linePoints * 10 * took; float64(written) < 0.95*want && !raceDetector { // which takes several times as long
		t.Errorf("%d readings were taken, %.0f should have been: this machine does not carry that many benches", written, want)
	}
}

// lagOf is how old the oldest reading is that is not shipped, and how many wait.
func lagOf(line []*lineBench) (worst time.Duration, pending int64) {
	for _, l := range line {
		s := l.shipper.Status()[0]
		if !s.Oldest.IsZero() {
			worst = max(worst, time.Since(s.Oldest))
		}
		pending += s.Pending
	}
	return worst, pending
}

// countSamples counts what the engine has; one time of a series twice is a failure.
func countSamples(t testing.TB, e *engine) (n int64) {
	t.Helper()
	_ = e.get(t, "/internal/force_flush", nil).Close()
	body := e.get(t, "/api/v1/export", url.Values{"match[]": {"reading_volts"}, "reduce_mem_usage": {"0"}})
	defer body.Close()
	lines := bufio.NewScanner(body)
	lines.Buffer(nil, 64<<20)
	for lines.Scan() {
		var series struct {
			Timestamps []int64 `json:"timestamps"`
		}
		must(t, json.Unmarshal(lines.Bytes(), &series))
		for i, at := range series.Timestamps {
			if i > 0 && at <= series.Timestamps[i-1] {
				t.Fatalf("a time is there twice, or out of order: %d", at)
			}
		}
		n += int64(len(series.Timestamps))
	}
	must(t, lines.Err())
	return n
}
