package main

import (
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"soakline/logger/page"
)

// finalSheet is a final test that one meter can take; STEPS and GAP are filled in, and
// its limits are invented.
const finalSheet = `name: final-alone
console: Brambling 8
soak: {duration: 2s, longest_gap: GAP, evidence_at_least_pct: 50}
test_points:
  - name: rail-5v
    connect: meter at the regulator
    measure: dc-voltage
    settle: 0s
    limit: {low_v: 4.75, high_v: 5.25, source: common practice, guard: {rule: guard-banded, ratio: 1, width_v: WIDTH}}
  - name: reservoir
    caution: Stored charge.
    discharge: {below_v: 2, watch_for: 1s}
    measure: dc-voltage
    settle: 0s
    limit: {low_v: 7, high_v: 16, source: common practice}
final:
  steps:
STEPS`

const soakedAndRail = `    - {name: soaked, soak: {}}
    - {name: rail, measure: rail-5v, settling: {measure: dc-voltage, spread_v: 0.01, for: 500ms, within: 10s}, causes_low: [regulator worn]}
    - {name: level, measure: reservoir, after: [rail]}
`

const finalBenchFile = `bench: pier-end
book: demo.book
listen: 127.0.0.1:0
sheets: [sheet.yaml]
instruments:
  - {name: meter, port: %q, command_set: scpi-meter, DUE
     accuracy: [{measure: dc-voltage, of_reading_pct: 0.015, of_range_pct: 0.004, range_v: 10}]}
places:
  - name: left
    connections:
      - {test_point: rail-5v, instrument: meter, channel: 101}
      - {test_point: reservoir, instrument: meter, channel: 102}
`

// finalOptions fill the bench's and the sheet's gaps.
type finalOptions struct{ steps, gap, width, due string }

// newFinalBench is a simulated bench with one unit that can be taken through a final
// test in seconds.
func newFinalBench(t *testing.T, o finalOptions) roundBench {
	t.Helper()
	dir := t.TempDir()
	sim := start(t, binary(t), "simulate", "--demo", dir)
	var ready struct {
		Ports map[string]string `json:"ports"`
	}
	if err := json.Unmarshal([]byte(sim.line(t)), &ready); err != nil {
		t.Fatal(err)
	}
	b := roundBench{file: filepath.Join(dir, "bench.yaml"), sim: sim}
	sheet := strings.NewReplacer("STEPS", o.steps, "GAP", or(o.gap, "1m"), "WIDTH", or(o.width, "0.01")).Replace(finalSheet)
	write(t, filepath.Join(dir, "sheet.yaml"), sheet)
	write(t, b.file, strings.Replace(fmt.Sprintf(finalBenchFile, ready.Ports["meter"]), "DUE", o.due, 1))
	b.soakline(t, exitDone, "unit", "add", "B8-0147", "--console", "Brambling 8")
	return b
}

func or(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

// TestFinalVerdicts: pass, and each way not to pass, by its exit code and one line
// that says why. judge says the same of each.
func TestFinalVerdicts(t *testing.T) {
	for _, test := range []struct {
		name    string
		options finalOptions
		before  func(*testing.T, roundBench)
		soak    int
		want    int
		line    string
	}{
		{"pass", finalOptions{}, nil, exitDone, exitDone, `^PASS +B8-0147`},
		{"fail", finalOptions{}, func(t *testing.T, b roundBench) { b.fault(t, "B8-0147 step rail-5v -0.4") }, exitDone, exitFail,
			`rail: rail-5v dc-voltage is outside: 4\.6\d+ V, low limit 4\.75 V,\s+uncertainty`},
		{"guard band", finalOptions{width: "0.24"}, nil, exitUndecided, exitUndecided, `rail: rail-5v dc-voltage stands in its guard band: 5\.01`},
		{"gap", finalOptions{gap: "100ms"}, nil, exitUndecided, exitUndecided, `soaked: soak 1: .*had\s+no\s+fresh\s+reading|soaked: soak 1: `},
		{"calibration overdue", finalOptions{due: "calibration_due: 2020-02-29,"}, nil, exitDone, exitUndecided,
			`calibration of meter \(Saltmarsh,M6,S60017,1\.4\) was due on\s+2020-02-29`},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			test.options.steps = soakedAndRail
			b := newFinalBench(t, test.options)
			if test.name == "gap" {
				b.sheetFresh(t)
			}
			b.soakline(t, test.soak, "soak", "begin", "--unit", "B8-0147")
			if test.before != nil {
				test.before(t, b)
			}
			out, _ := b.soakline(t, test.want, "final", "--unit", "B8-0147", "--hands-free")
			matches(t, out, test.line)
			again, _ := b.soakline(t, test.want, "judge", "--final", "1")
			matches(t, again, `the same as the verdict of .*, to the last bit`)
			b.soakline(t, exitDone, "book", "check")
		})
	}
}

// sheetFresh has readings wanted so fast that the meter, at 20 ms a reading and two
// points, leaves gaps that are longer than this sheet allows.
func (b roundBench) sheetFresh(t *testing.T) {
	t.Helper()
	path := filepath.Join(filepath.Dir(b.file), "sheet.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	write(t, path, strings.ReplaceAll(string(text), "settle: 0s", "settle: 0s\n    every: 1s\n    fresh_for: 1s"))
}

// TestFinalBadInput: each mistake is one clear line and its exit code.
func TestFinalBadInput(t *testing.T) {
	b := newFinalBench(t, finalOptions{steps: soakedAndRail})
	for _, test := range []struct {
		name, line string
		want       int
		args       []string
	}{
		{"an unknown unit", `unit B8-9999 is not in the book; book it in: soakline unit add B8-9999 --console NAME`, exitUsage, []string{"final", "--unit", "B8-9999", "--hands-free"}},
		{"no unit", `say which unit`, exitUsage, []string{"final", "--hands-free"}},
		{"an empty scan", `there is no asset number in it`, exitUsage, []string{"final", "--unit", "\t\r\n", "--hands-free"}},
		{"nobody there", `a person is needed at a terminal`, exitUsage, []string{"final", "--unit", "B8-0147"}},
		{"an empty book", `final test 1`, exitTrouble, []string{"judge", "--final", "1"}},
		{"no number", `"x" is no number of a final test`, exitUsage, []string{"final", "show", "x"}},
		{"nothing to give up", `no final test under way`, exitTrouble, []string{"final", "give-up", "--unit", "B8-0147", "--reason", "r"}},
		{"a place that is not there", `there is no place named "attic" \(there are left\)`, exitUsage, []string{"final", "--unit", "B8-0147", "--place", "attic", "--hands-free"}},
	} {
		_, stderr := b.soakline(t, test.want, test.args...)
		matches(t, stderr, `soakline: .*`+test.line)
		if lines := strings.Count(stderr, "\nsoakline: ") + strings.Count(stderr[:min(len(stderr), 10)], "soakline: "); lines != 1 {
			t.Errorf("%s: %d lines\n%s", test.name, lines, stderr)
		}
	}
	other := filepath.Join(t.TempDir(), "other.book")
	write(t, other, "this is a letter, not a book, and it is long enough to be looked at")
	_, stderr := b.soakline(t, exitTrouble, "final", "--unit", "B8-0147", "--hands-free", "--book", other)
	matches(t, stderr, `soakline: book .*other\.book: open: `)
}

// TestFinalWithoutItsInstrument: what could not be read leaves the test open, says so
// in one line, and is read by the next call.
func TestFinalWithoutItsInstrument(t *testing.T) {
	t.Parallel()
	b := newFinalBench(t, finalOptions{steps: "    - {name: rail, measure: rail-5v}\n    - {name: pause, wait: 10ms}\n"})
	b.fault(t, "meter silence on")
	_, stderr := b.soakline(t, exitTrouble, "final", "--unit", "B8-0147", "--hands-free")
	matches(t, stderr, `soakline: final test 1 of B8-0147: rail could not be read; soakline final --unit B8-0147 goes on there`)
	b.fault(t, "meter silence off")
	out, _ := b.soakline(t, exitDone, "final", "--unit", "b8-0147", "--hands-free")
	matches(t, out, `it goes on: 2 of 2 steps have a result`, `^PASS`)
}

// TestFinalOfAChangedSheet: the sheet is another since the test began, and since the
// soak began.
func TestFinalOfAChangedSheet(t *testing.T) {
	t.Parallel()
	b := newFinalBench(t, finalOptions{steps: soakedAndRail + "    - {name: sound, question: \"Is there sound?\"}\n"})
	b.soakline(t, exitDone, "soak", "begin", "--unit", "B8-0147")
	b.soakline(t, exitUndecided, "final", "--unit", "B8-0147", "--hands-free")
	path := filepath.Join(filepath.Dir(b.file), "sheet.yaml")
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	write(t, path, strings.Replace(string(text), "    - {name: sound, question: \"Is there sound?\"}\n", "", 1))
	_, stderr := b.soakline(t, exitUsage, "final", "--unit", "B8-0147", "--hands-free")
	matches(t, stderr, `soakline: final test 1 of B8-0147: the test sheet has changed since it began \(final-alone, sha256 [0-9a-f]{12} then, [0-9a-f]{12} now\)`)
	daemon := start(t, binary(t), "serve", "--bench", b.file)
	waitForDaemon(t, b)
	_, stderr = b.soakline(t, exitUsage, "final", "--unit", "B8-0147", "--hands-free")
	matches(t, stderr, `soakline: final test 1 of B8-0147: the test sheet has changed since it began`)
	if err := daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	_ = daemon.Wait() // how it ends is tried elsewhere
	out, _ := b.soakline(t, exitUndecided, "final", "--unit", "B8-0147", "--hands-free", "--anew", "sheet renewed")
	matches(t, out, `the test sheet has changed since soak 1 began`)
}

// TestFinalAtATerminal is a person's way through: a new unit is scanned and booked
// in, a step is taken again, one is skipped, the test is stopped and gone on with.
func TestFinalAtATerminal(t *testing.T) {
	t.Parallel()
	b := newFinalBench(t, finalOptions{steps: `    - {name: rail, measure: rail-5v}
    - {name: sound, question: "Is there sound?", sense: listen, causes: [output stage]}
    - {name: level, measure: reservoir}
    - {name: long, wait: 10m}
`})
	x := b.onTerminal(t, "final")
	x.until(t, "asset number")
	x.types(t, "]C1*B8-0200*\r\n") // prefix, stars, and two line ends
	x.until(t, "its number books it in")
	x.press(t, "7")
	x.until(t, `"7" is none of them`)
	x.press(t, "1")
	x.until(t, "B8-0200 is booked in as Brambling 8")
	x.until(t, "step 1 of 4")
	x.until(t, "[Enter go on")
	x.press(t, "what")
	x.until(t, `"what" is no key here`)
	x.press(t, "")
	x.until(t, "within")
	x.until(t, "listen: Is there sound?")
	x.press(t, "")
	x.until(t, "is no key here")
	x.press(t, "n crackle on the left")
	x.until(t, "look for: output stage")
	x.press(t, "again")
	x.until(t, "listen: Is there sound?")
	x.press(t, "y")
	x.until(t, "Stored charge.")
	x.press(t, "k")
	x.until(t, "why is level skipped?")
	x.press(t, "no probe")
	x.until(t, "waiting:")
	x.press(t, "s")
	x.until(t, "stands where it is")
	x.end(t, exitUndecided)

	x = b.onTerminal(t, "final", "--unit", "B8-0200")
	x.until(t, "3 of 4 steps have a result")
	x.until(t, "waiting:")
	x.press(t, "k")
	x.until(t, "why is long skipped?")
	x.press(t, "enough")
	x.until(t, "UNDECIDED")
	x.end(t, exitUndecided)
	out, _ := b.soakline(t, exitUndecided, "judge", "--final", "1")
	matches(t, out, "level: skipped: no probe", "long: skipped: enough", "to the last bit")
}

// types types a text as it is.
func (x *terminal) types(t *testing.T, text string) {
	t.Helper()
	if _, err := x.tty.WriteString(text); err != nil {
		t.Fatal(err)
	}
}

// TestScanEndsWithATab: a scanner that is set to end with a tab.
func TestScanEndsWithATab(t *testing.T) {
	t.Parallel()
	b := newFinalBench(t, finalOptions{steps: "    - {name: pause, wait: 10ms}\n"})
	x := b.onTerminal(t, "final")
	x.until(t, "asset number")
	x.types(t, "b8-0147\t")
	x.until(t, "PASS")
	x.end(t, exitDone)
}

// TestFinalThroughTheDaemon: the same through a daemon that holds the bench, stopped
// in between by a client that goes away.
func TestFinalThroughTheDaemon(t *testing.T) {
	t.Parallel()
	b := newFinalBench(t, finalOptions{steps: soakedAndRail + "    - {name: empty, discharge: reservoir}\n"})
	b.soakline(t, exitDone, "soak", "begin", "--unit", "B8-0147")
	daemon := start(t, binary(t), "serve", "--bench", b.file)
	waitFor(t, "the daemon", func() bool {
		_, err := os.Stat(filepath.Join(filepath.Dir(b.file), "demo.book.daemon"))
		return err == nil
	})
	_, stderr := b.soakline(t, exitUndecided, "final", "--unit", "B8-0147", "--hands-free")
	matches(t, stderr, `a person is needed for empty`)
	x := b.onTerminal(t, "final", "--unit", "B8-0147")
	x.until(t, "step 4 of 4   empty")
	x.until(t, "[Enter go on")
	x.press(t, "")
	x.until(t, "V") // a voltage
	x.press(t, "stop")
	x.until(t, "stands where it is")
	x.end(t, exitUndecided)
	b.fault(t, "B8-0147 power off")
	b.fault(t, "B8-0147 clip 100 30s")
	x = b.onTerminal(t, "final", "--unit", "B8-0147")
	x.until(t, "step 4 of 4   empty")
	x.press(t, "")
	x.until(t, "PASS")
	x.end(t, exitDone)
	if err := daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := daemon.Wait(); err != nil {
		t.Error(err, daemon.log)
	}
	b.soakline(t, exitDone, "judge", "--final", "1")
}

// TestAssetNumbers: what scanners may be set to send around a code.
func TestAssetNumbers(t *testing.T) {
	units := []page.UnitView{{Unit: "B8-0147"}, {Unit: "B8-014"}, {Unit: "#9"}, {Unit: "cc-1"}, {Unit: "CC-1"}}
	for text, want := range map[string]string{
		"B8-0147": "B8-0147", " B8-0147\r\n": "B8-0147", "B8-0147\t": "B8-0147", "\x02B8-0147\x03": "B8-0147", "*B8-0147*": "B8-0147",
		"]C1B8-0147": "B8-0147", "]A0*b8-0147*\r": "B8-0147", "B8-014": "B8-014", "#9": "#9", "cc-1": "cc-1", "CC-1": "CC-1",
		"Cc-1": "", "B8-01477": "", "": "", "\t\r\n": "", "***": "", "B8-0147B8-0147": "", "\xff\xfe": "",
	} {
		if got, found := findAsset(text, units); got != want || found != (want != "") {
			t.Errorf("%q: %q, want %q", text, got, want)
		}
	}
}
