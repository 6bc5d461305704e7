//go:build unix

package main

import (
	"bufio"
	"context"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/logger/book"
)

// TestSixtyFourInstruments reads 64 instruments in another process 100 times a second
// each through the daemon, and scrapes it meanwhile. Nothing may be lost: every answer
// that was given is in the book, once. It also tells how long after its last byte a
// reading is in what a scrape gets that is asked for then.
//
// SOAKLINE_SIXTYFOUR=60s is the length of the trial; without it a few seconds show
// that nothing is lost.
func TestSixtyFourInstruments(t *testing.T) {
	length := 3 * time.Second
	if text := os.Getenv("SOAKLINE_SIXTYFOUR"); text != "" {
		var err error
		if length, err = time.ParseDuration(text); err != nil {
			t.Fatal(err)
		}
	}
	b := newStampedBench(t)
	b.begin(t)
	t.Logf("load before: %s", load())
	scrapes := b.scrapeFor(t, length)
	t.Logf("load after: %s", load())
	b.end(t)
	given := b.given(t)
	b.compare(t, given, length)
	tellLatency(t, scrapes, given)
}

// stampedBench is a daemon that reads the stamper.
type stampedBench struct {
	killedBench
	dir     string
	listens string // the daemon's address
	since   time.Time
	stamper *process
}

const (
	stampedUnits  = 16
	pointsOfAUnit = stampers / stampedUnits
)

func newStampedBench(t *testing.T) *stampedBench {
	t.Helper()
	b := &stampedBench{dir: t.TempDir(), since: time.Now()}
	t.Setenv(stamperEnv, fmt.Sprintf("%s %d", b.dir, b.since.UnixNano()))
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	b.stamper = start(t, self, "-test.run=^$")
	if line := b.stamper.line(t); line != "ready" {
		t.Fatalf("the stamper says %q", line)
	}
	if err := os.Unsetenv(stamperEnv); err != nil {
		t.Fatal(err)
	}
	b.file, b.book = filepath.Join(b.dir, "bench.yaml"), filepath.Join(b.dir, "sixtyfour.book")
	for name, text := range map[string]string{"bench.yaml": stampedYAML(b.dir), "stamped.yaml": stampedSheet(), "asked.yaml": stampedCommands} {
		if err := os.WriteFile(filepath.Join(b.dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return b
}

const stampedCommands = `name: asked
about: a meter that is asked for the time
line: {baud: 115200, data_bits: 8, parity: none, stop_bits: 1, flow: none, ending: lf}
identify: {send: "*IDN?"}
asks:
  - {measure: dc-voltage, send: "MEASure:VOLTage:DC?"}
error_check: {send: "SYSTem:ERRor?", every: 30s}
`

func stampedSheet() string {
	text := "name: stamped\nconsole: Brambling 8\nsoak: {duration: 1h, evidence_at_least_pct: 99, longest_gap: 5m}\ntest_points:\n"
	for point := range pointsOfAUnit {
		text += fmt.Sprintf("  - name: p%d\n    measure: dc-voltage\n    every: 10ms\n    settle: 1ms\n"+
			"    limit: {low_v: -1, high_v: 1e6, source: \"for the test\"}\n", point)
	}
	return text
}

func stampedYAML(dir string) string {
	text := "bench: pier-end\nbook: sixtyfour.book\nsheets: [stamped.yaml]\ninstruments:\n"
	for i := range stampers {
		text += fmt.Sprintf("  - {name: meter-%02d, port: %q, command_set: asked.yaml}\n", i, stampPort(dir, i))
	}
	text += "places:\n"
	for unit := range stampedUnits {
		text += fmt.Sprintf("  - name: place-%02d\n    connections:\n", unit)
		for point := range pointsOfAUnit {
			text += fmt.Sprintf("      - {test_point: p%d, instrument: meter-%02d}\n", point, unit*pointsOfAUnit+point)
		}
	}
	return text
}

// begin starts the daemon and all soaks, and waits until every instrument is read.
func (b *stampedBench) begin(t *testing.T) {
	t.Helper()
	binary(t)
	b.serve(t)
	b.listens = b.address(t)
	soak := []string{"soak", "begin", "--for", "1h"}
	for unit := range stampedUnits {
		name := fmt.Sprintf("B8-%04d", unit)
		if output, err := b.run("unit", "add", name, "--console", "Brambling 8"); err != nil {
			t.Fatalf("%v: %s", err, output)
		}
		soak = append(soak, "--unit", fmt.Sprintf("%s@place-%02d", name, unit))
	}
	if output, err := b.run(soak...); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	waitFor(t, "readings of all instruments", func() bool { return len(b.scrape(t).shown) == stampers })
}

// scrape is what one look at /metrics showed.
type scrape struct {
	asked, answered stamp
	shown           map[string]stamp // by instrument
	lost            []string
}

var shownReading = regexp.MustCompile(`^soakline_reading_volts\{.*instrument="([^"]+)".*\} (\S+)$`)

func (b *stampedBench) scrape(t *testing.T) scrape {
	t.Helper()
	s := scrape{asked: b.now(), shown: map[string]stamp{}}
	answer, err := http.Get("http://" + b.listens + "/metrics")
	if err != nil {
		t.Fatal(err)
	}
	body, err := io.ReadAll(answer.Body)
	s.answered = b.now()
	if err := answer.Body.Close(); err != nil {
		t.Fatal(err)
	}
	if err != nil || answer.StatusCode != http.StatusOK {
		t.Fatalf("%s: %v", answer.Status, err)
	}
	for line := range strings.Lines(string(body)) {
		line = strings.TrimSuffix(line, "\n")
		if found := shownReading.FindStringSubmatch(line); found != nil {
			seconds, err := strconv.ParseFloat(found[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			s.shown[found[1]] = stampOf(seconds)
		}
		if strings.HasPrefix(line, "soakline_readings_lost_total") {
			s.lost = append(s.lost, line)
		}
	}
	return s
}

func (b *stampedBench) now() stamp { return stamp(time.Since(b.since).Microseconds()) }

func stampOf(seconds float64) stamp { return stamp(math.Round(seconds * 1e6)) }

// scrapeFor scrapes ten times a second, at moments that nothing is in step with.
func (b *stampedBench) scrapeFor(t *testing.T, length time.Duration) (all []scrape) {
	t.Helper()
	for over := time.After(length); ; {
		all = append(all, b.scrape(t))
		select {
		case <-over:
			if lost := all[len(all)-1].lost; len(lost) > 0 {
				t.Errorf("readings were lost: %q", lost)
			}
			return all
		case <-time.After(50*time.Millisecond + rand.N(100*time.Millisecond)):
		}
	}
}

// end stops the daemon as Ctrl-C does, and then the meters.
func (b *stampedBench) end(t *testing.T) {
	t.Helper()
	if err := b.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := b.daemon.Wait(); err != nil {
		t.Fatalf("the daemon ended with %v: %s", err, b.daemon.log)
	}
	if err := b.stamper.stdin.Close(); err != nil {
		t.Fatal(err)
	}
	if err := b.stamper.Wait(); err != nil {
		t.Fatalf("the stamper ended with %v: %s", err, b.stamper.log)
	}
}

// given are the answers of each instrument, in order.
func (b *stampedBench) given(t *testing.T) map[string][]stamp {
	t.Helper()
	all := map[string][]stamp{}
	for i := range stampers {
		file, err := os.Open(stampLog(b.dir, i))
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Base(stampPort(b.dir, i))
		for lines := bufio.NewScanner(file); lines.Scan(); {
			s, err := strconv.ParseInt(lines.Text(), 10, 64)
			if err != nil {
				t.Fatal(err)
			}
			all[name] = append(all[name], stamp(s))
		}
		if err := file.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return all
}

// compare holds the book against what was given: all of it is there, once, but for an
// answer that was on its way when the soak began or the daemon was told to stop.
func (b *stampedBench) compare(t *testing.T, given map[string][]stamp, length time.Duration) {
	t.Helper()
	kept := map[string][]stamp{}
	err := withBook(context.WithoutCancel(t.Context()), b.book, book.Options{ReadOnly: true}, func(ctx context.Context, kb *book.Book) error {
		for r, err := range kb.Readings(ctx, book.Filter{}) {
			if err != nil {
				return err
			}
			kept[r.Tag.Instrument] = append(kept[r.Tag.Instrument], stampOf(r.Value))
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	total, span := 0, stamp(0)
	for name, stamps := range given {
		have := kept[name]
		if len(have) == 0 {
			t.Errorf("%s: nothing of %d answers is in the book", name, len(stamps))
			continue
		}
		first := slices.Index(stamps, have[0])
		if first < 0 || first > 1 || len(have)+first > len(stamps) || len(stamps)-first-len(have) > 1 || !slices.Equal(have, stamps[first:first+len(have)]) {
			t.Errorf("%s gave %d answers, and %d are in the book", name, len(stamps), len(have))
		}
		total += len(have)
		span = max(span, have[len(have)-1]-have[0])
	}
	t.Logf("%d readings of %d instruments in %.1f s (%s of it scraped), %.0f a second; all in the book, none twice",
		total, len(given), float64(span)/1e6, length, float64(total)/(float64(span)/1e6))
}

// load is the machine's, where it tells.
func load() string {
	text, err := os.ReadFile("/proc/loadavg")
	if err != nil {
		output, err := exec.Command("uptime").Output()
		if err != nil {
			return "unknown"
		}
		text = output
	}
	return strings.TrimSpace(string(text))
}
