package main

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"soakline/device/port"
	"soakline/device/port/porttest"
	"soakline/device/simbench"
)

// ranHere is what a command wrote and ended with.
type ranHere struct {
	stdout, stderr string
	code           int
}

// runHere runs a command in this process, off a terminal.
func runHere(ctx context.Context, args ...string) ranHere {
	var stdout, stderr bytes.Buffer
	root := rootCommand()
	root.SetArgs(args)
	root.SetOut(&stdout)
	root.SetErr(&stderr)
	code := explain(&stderr, root.ExecuteContext(ctx))
	return ranHere{stdout.String(), stderr.String(), code}
}

// demoInstruments runs the demo's simulated instruments until the test ends, and
// returns the folder of their ports.
func demoInstruments(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	bench, err := simbench.New(simbench.DemoConfig(dir))
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	ended := make(chan error, 1)
	go func() { ended <- bench.Run(ctx) }()
	t.Cleanup(func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	})
	select {
	case <-bench.Ready():
	case err := <-ended:
		ended <- nil
		t.Fatalf("the simulated bench did not start: %v", err)
	}
	if strings.HasPrefix(bench.Ports()["meter"], "tcp://") {
		t.Skip("this system has no pseudo-terminals")
	}
	return dir
}

// masks hide what differs from run to run.
var masks = []struct {
	what *regexp.Regexp
	with string
}{
	{regexp.MustCompile(`\d\d:\d\d:\d\d\.\d{3}`), "TIME"},
	{regexp.MustCompile(`in (less than 1|\d+) ms`), "in N ms"},
	{regexp.MustCompile(`/dev/pts/\d+`), "DEVICE"},
	{regexp.MustCompile(`gives [-+][\d.E+-]+`), "gives FIGURE"},
	{regexp.MustCompile(`\d+\.\d+ (V|C)`), "FIGURE $1"},
	{regexp.MustCompile(`sd [\d.]+ .?V, [\d.]+ readings`), "sd FIGURE, FIGURE readings"},
}

func masked(text, dir string) string {
	text = strings.ReplaceAll(text, dir, "DIR")
	for _, m := range masks {
		text = m.what.ReplaceAllString(text, m.with)
	}
	return text
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", "firstlook", name+".txt")
	if os.Getenv("SOAKLINE_GOLDEN") == "write" {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s:\n%s\nwant:\n%s", name, got, want)
	}
}

func TestIdentify(t *testing.T) {
	t.Parallel()
	dir := demoInstruments(t)
	for _, name := range []string{"meter", "scope", "supply", "thermometer"} {
		t.Run(name, func(t *testing.T) {
			ran := runHere(t.Context(), "identify", filepath.Join(dir, name))
			if ran.code != exitDone || ran.stderr != "" {
				t.Errorf("exit code %d\n%s", ran.code, ran.stderr)
			}
			golden(t, name, masked(ran.stdout, dir))
		})
	}
}

// What identify prints is accepted by check inside a bench's file.
func TestIdentifiedSnippet(t *testing.T) {
	t.Parallel()
	dir := demoInstruments(t)
	for name, want := range map[string]struct{ looks, measure string }{
		"meter": {"meter", "dc-voltage"}, "scope": {"scope", "peak-to-peak"}, "supply": {"supply", "dc-voltage"}, "thermometer": {"talker", "dc-voltage"},
	} {
		t.Run(name, func(t *testing.T) {
			ran := runHere(t.Context(), "identify", "--json", filepath.Join(dir, name))
			var view foundView
			if err := json.Unmarshal([]byte(ran.stdout), &view); err != nil || ran.code != exitDone {
				t.Fatalf("%v, exit code %d, %s", err, ran.code, ran.stderr)
			}
			if view.Looks != want.looks || (view.Identity == nil) != (want.looks == "talker") || view.Baud != 9600 {
				t.Errorf("%+v", view)
			}
			file := filepath.Join(dir, name+".yaml")
			sheet := fmt.Sprintf(snippetSheet, want.measure)
			bench := "bench: first\nbook: first.book\nsheets: [first-sheet.yaml]\n" + view.BenchYAML +
				"places:\n  - name: left\n    connections:\n      - {test_point: point, instrument: " + view.Looks + ", channel: 1}\n"
			write(t, filepath.Join(dir, "first-sheet.yaml"), sheet)
			write(t, file, bench)
			if ran := runHere(t.Context(), "check", file); ran.code != exitDone {
				t.Errorf("check refuses it:\n%s\n%s", ran.stderr, bench)
			}
		})
	}
}

const snippetSheet = `name: first
console: Brambling 8
soak: {duration: 1h, evidence_at_least_pct: 99, longest_gap: 1m}
test_points:
  - name: point
    measure: %s
    limit: {low_v: 0.9, high_v: 5.25, source: "invented"}
`

func write(t *testing.T, path, text string) {
	t.Helper()
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
}

func TestPeek(t *testing.T) {
	dir := demoInstruments(t)
	ran := runHere(t.Context(), "peek", filepath.Join(dir, "meter"), "--ask", "MEAS:VOLT:DC?", "--every", "20ms", "--count", "4", "--baud", "9600")
	if ran.code != exitDone || ran.stderr != "" {
		t.Errorf("exit code %d\n%s", ran.code, ran.stderr)
	}
	golden(t, "peek", masked(ran.stdout, dir))
	ran = runHere(t.Context(), "peek", filepath.Join(dir, "meter"), "--ask", ":MEASURE:VOLTAGE:DC?;:MEAS:VOLT:AC?", "--every", "0s", "--count", "20", "--json")
	var view peekView
	if err := json.Unmarshal([]byte(ran.stdout), &view); err != nil || ran.code != exitDone {
		t.Fatalf("%v, exit code %d, %s", err, ran.code, ran.stderr)
	}
	// The demo's 5 V rail is 5.022 V less 0.012 ohm times 0.42 A.
	if view.N != 20 || view.Unit != "" || view.Mean == nil || *view.Mean < 5.016 || *view.Mean > 5.018 || *view.SD > 1e-3 || *view.RateHz < 1 {
		t.Errorf("%s", ran.stdout)
	}
}

// Ctrl-C is how a person ends it: the summary comes, and the exit code is 0.
func TestPeekInterrupted(t *testing.T) {
	cable := porttest.NewCable(t)
	ctx, cancel := context.WithCancel(t.Context())
	asked := 0
	cable.Answer(func(line string) string {
		if !strings.HasPrefix(line, "READ?") {
			return ""
		}
		if asked++; asked == 5 {
			cancel()
		}
		return "+1.250000E+00\n"
	})
	ran := runHere(ctx, "peek", cable.Path(), "--ask", "READ?", "--every", "1ms", "--baud", "115200")
	if ran.code != exitDone || !strings.Contains(ran.stdout, "\nn ") || !strings.Contains(ran.stdout, "mean 1.25, sd 0") {
		t.Errorf("exit code %d\n%s%s", ran.code, ran.stdout, ran.stderr)
	}
}

// A port that is pulled out while values come is told, and they go on.
func TestPeekSurvivesUnplugging(t *testing.T) {
	cable := porttest.NewCable(t)
	asked := 0
	cableIn := make(chan struct{}, 1)
	reply := func(line string) string {
		if !strings.HasPrefix(line, "READ?") {
			return ""
		}
		if asked++; asked == 4 {
			cableIn <- struct{}{}
			return ""
		}
		return "1.5\n"
	}
	cable.Answer(reply)
	back := make(chan struct{})
	go func() {
		defer close(back)
		<-cableIn
		cable.Pull()
		cable.Return()
		cable.Answer(reply)
	}()
	ran := runHere(t.Context(), "peek", cable.Path(), "--ask", "READ?", "--every", "1ms", "--count", "6", "--baud", "115200")
	close(cableIn) // had it failed, the plug would still be in
	<-back
	if ran.code != exitDone || !strings.Contains(ran.stderr, "lost") || strings.Count(ran.stdout, "   1.5\n") != 6 {
		t.Errorf("exit code %d\n%s%s", ran.code, ran.stdout, ran.stderr)
	}
}

func TestFirstLookRefuses(t *testing.T) {
	silent := func() string { // each row its own: they run at once
		cable := porttest.NewCable(t)
		cable.Answer(func(string) string { return "" })
		return cable.Path()
	}
	held := porttest.NewCable(t)
	holder, err := port.Open(t.Context(), held.Path(), port.Settings{Baud: 9600, DataBits: 8, Parity: "none", StopBits: "1", Flow: "none"})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := holder.Close(); err != nil {
			t.Error(err)
		}
	})
	absent := filepath.Join(t.TempDir(), "nothing")
	for _, row := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"identify"}, exitUsage, "accepts 1 arg(s)"},
		{[]string{"identify", "usb:zz"}, exitUsage, "four hexadecimal digits"},
		{[]string{"identify", absent}, exitTrouble, "absent"},
		{[]string{"identify", held.Path()}, exitTrouble, "busy"},
		{[]string{"identify", "tcp://127.0.0.1:1"}, exitTrouble, "127.0.0.1:1"},
		{[]string{"identify", silent()}, exitTrouble, "tried 9600, 115200, 19200, 57600, 38400, 4800, 2400, 1200 8N1; 9600 7E1; each ending in LF, CR LF and CR"},
		{[]string{"peek", silent()}, exitUsage, `"ask" not set`},
		{[]string{"peek", silent(), "--ask", "OUTP ON"}, exitUsage, "not only a question"},
		{[]string{"peek", silent(), "--ask", "OUTP ON;:OUTP?"}, exitUsage, "not only a question"},
		{[]string{"peek", silent(), "--ask", `DISP:TEXT "a;b?"`}, exitUsage, "not only a question"},
		{[]string{"peek", silent(), "--ask", "READ?\nOUTP ON?"}, exitUsage, "--ask"},
		{[]string{"peek", silent(), "--ask", ""}, exitUsage, "--ask"},
		{[]string{"peek", silent(), "--ask", "READ?", "--every", "-1s"}, exitUsage, "negative"},
		{[]string{"peek", silent(), "--ask", "READ?", "--count", "-1"}, exitUsage, "negative"},
		{[]string{"peek", silent(), "--ask", "READ?", "--baud", "9600", "--parity", "sometimes"}, exitUsage, "sometimes"},
		{[]string{"peek", silent(), "--ask", "READ?", "--baud", "9600"}, exitTrouble, "no answer"},
		{[]string{"peek", held.Path(), "--ask", "READ?", "--baud", "9600"}, exitTrouble, "busy"},
		{[]string{"peek", absent, "--ask", "READ?"}, exitTrouble, "absent"},
		{[]string{"ports", "extra"}, exitUsage, "extra"},
	} {
		t.Run(strings.Join(row.args, " "), func(t *testing.T) {
			t.Parallel()
			ran := runHere(t.Context(), row.args...)
			if ran.code != row.code || !strings.Contains(ran.stderr, row.says) || ran.stdout != "" {
				t.Errorf("exit code %d, want %d and %q\n%s%s", ran.code, row.code, row.says, ran.stdout, ran.stderr)
			}
		})
	}
}

func TestPrintPorts(t *testing.T) {
	var b bytes.Buffer
	err := printPorts(&b, []port.Info{
		{Path: "/dev/ttyUSB0", USB: true, VendorID: "0403", ProductID: "6001", Serial: "A10023", Product: "USB serial", State: port.StateFree},
		{Path: "/dev/ttyUSB1", USB: true, VendorID: "1a86", ProductID: "7523", ByPath: "/dev/serial/by-path/usb-1.3", State: port.StateBusy, Holder: "logger (pid 12)"},
		{Path: "/dev/ttyS0", State: port.StateDenied},
	})
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "ports", b.String())
	b.Reset()
	if err := printPorts(&b, nil); err != nil || !strings.Contains(b.String(), "no serial port found") {
		t.Errorf("%v, %s", err, b.String())
	}
	if views := viewPorts(nil); views == nil {
		t.Error("no ports are null in JSON, not an empty list")
	}
}

// The words of SCPI-1999, volume 2, MEASure, tell the unit.
func TestMeasureOf(t *testing.T) {
	for ask, want := range map[string]string{
		"MEAS:VOLT:DC?": "V", "meas:volt? (@101)": "V", ":MEASure:SCALar:CURRent:AC? 1": "A", "MEAS:RES?": "ohm", "MEAS:FREQ?": "Hz",
		"MEAS:TEMP?": "°C", "MEASU:VOLT?": "", "READ?": "", "MEAS:VOLT:DC?;:READ?": "", "": "",
	} {
		if got := measureOf(ask).Unit().Symbol; got != want {
			t.Errorf("%q: %q, want %q", ask, got, want)
		}
	}
}
