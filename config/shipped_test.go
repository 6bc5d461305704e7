package config

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
)

func shippedSheet(t *testing.T, name string) checks.Sheet {
	t.Helper()
	text, err := Show(name)
	if err != nil {
		t.Fatal(err)
	}
	sheet, err := ParseSheet(name, []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return sheet
}

func TestShippedFilesAreWithoutMistakes(t *testing.T) {
	wantSets := []string{"line-talker", "scpi-meter", "scpi-scope", "scpi-supply"}
	if got := CommandSetNames(); !slices.Equal(got, wantSets) {
		t.Errorf("command sets %q, want %q", got, wantSets)
	}
	if got, want := SheetNames(), []string{"brambling-8", "corncrake-ii"}; !slices.Equal(got, want) {
		t.Errorf("sheets %q, want %q", got, want)
	}
	for _, name := range CommandSetNames() {
		if set, err := ShippedCommandSet(name); err != nil || set.Name != name || set.About == "" {
			t.Errorf("command set %s: name %q: %v", name, set.Name, err)
		}
	}
	for _, name := range SheetNames() {
		if sheet := shippedSheet(t, name); sheet.Name != name || len(sheet.Hash) != 64 {
			t.Errorf("sheet %s names itself %q, hash %q", name, sheet.Name, sheet.Hash)
		}
	}
}

// A source names a standard, a data sheet, or says that there is none.
func TestEveryShippedLimitHasASource(t *testing.T) {
	named := []string{"BT.470-6", "SMPTE 170M", "EN 50049-1", "data sheet", "common practice, no source"}
	for _, name := range SheetNames() {
		for _, point := range shippedSheet(t, name).TestPoints {
			for _, c := range point.Checks {
				if !slices.ContainsFunc(named, func(s string) bool { return strings.Contains(c.Limit.Source, s) }) {
					t.Errorf("%s %s %s: source %q names nothing", name, point.Name, c.Measure, c.Limit.Source)
				}
			}
			if strings.HasPrefix(string(point.Name), "reservoir") && !strings.Contains(point.Caution, "Stored charge") {
				t.Errorf("%s %s: no caution on stored charge", name, point.Name)
			}
		}
	}
}

// What the shipped limits must be, from where they come.
func TestShippedLimits(t *testing.T) {
	const none = -1 // an open end
	rows := []struct {
		sheet, point       string
		measure            device.Measure
		low, high, nominal float64
		tolerance          float64 // of the ends, from rounding in the sheet
		source             string
	}{
		{"brambling-8", "rail-5v", device.DCVoltage, 4.75, 5.25, 5, 0, "W-02/W-08, 5 V +/-5 %"},
		{"brambling-8", "composite", device.LumaPeakToPeak, 0.95, 1.05, 1, 0, "V-01, BT.470-6; 5 % common practice, no source"},
		{"brambling-8", "composite", device.SyncAmplitude, 0.8 * 0.3, none, 0.3, 1e-12, "V-02, BT.470-6; 80 % common practice, no source"},
		{"brambling-8", "composite", device.Burst, 0.75 * 0.3, none, 0.3, 1e-12, "V-05, BT.470-6; 75 % common practice, no source"},
		{"brambling-8", "composite", device.LinePeriod, 64e-6 * 0.999, 64e-6 * 1.001, 64e-6, 1e-12, "V-20, BT.470-6; 0.1 % common practice, no source"},
		{"corncrake-ii", "composite", device.LumaPeakToPeak, 0.95, 1.05, 1, 0, "V-01, SMPTE 170M; 5 % common practice, no source"},
		{"corncrake-ii", "composite", device.SyncAmplitude, 0.8 * 2 / 7, none, 2.0 / 7, 1e-6, "V-02, SMPTE 170M, 40 IRE = 2/7 V"},
		{"corncrake-ii", "composite", device.Burst, 0.75 * 2 / 7, none, 2.0 / 7, 1e-6, "V-05, SMPTE 170M, 40 IRE = 2/7 V"},
		{"corncrake-ii", "composite", device.LinePeriod, 572.0 / 9 * 0.999e-6, 572.0 / 9 * 1.001e-6, 572.0 / 9 * 1e-6, 1e-10, "V-20, SMPTE 170M, 572/9 us"},
		{"corncrake-ii", "composite", device.Overshoot, none, 0.04, none, 0, "common practice, no source"},
		{"corncrake-ii", "composite", device.Rise, none, 85e-9, none, 0, "common practice, no source"},
		{"corncrake-ii", "composite", device.Noise, none, 0.01, none, 0, "common practice, no source"},
	}
	for _, row := range rows {
		limit := limitOf(t, shippedSheet(t, row.sheet), row.point, row.measure)
		for _, end := range []struct{ got, want float64 }{{limit.Low, row.low}, {limit.High, row.high}, {limit.Nominal, row.nominal}} {
			if end.want == none {
				end.want, end.got = 0, cmpIf(end.got)
			}
			if d := end.got - end.want; d > row.tolerance || d < -row.tolerance || d != d {
				t.Errorf("%s %s %s: %v, want %v (%s)", row.sheet, row.point, row.measure, end.got, end.want, row.source)
			}
		}
	}
}

// cmpIf is 0 for an end that is not there (an infinity or NaN), else 1.
func cmpIf(end float64) float64 {
	if end-end != 0 { // holds for infinities and NaN alone
		return 0
	}
	return 1
}

func limitOf(t *testing.T, sheet checks.Sheet, point string, m device.Measure) checks.Limit {
	t.Helper()
	for _, p := range sheet.TestPoints {
		for _, c := range p.Checks {
			if string(p.Name) == point && c.Measure == m {
				return c.Limit
			}
		}
	}
	t.Fatalf("sheet %s does not check %s at %s", sheet.Name, m, point)
	return checks.Limit{}
}

func TestShowOffersTheNearest(t *testing.T) {
	_, err := Show("scpi-metre")
	if _, ok := errors.AsType[*device.NameError](err); !ok || !strings.Contains(err.Error(), `did you mean "scpi-meter"?`) {
		t.Errorf("got %v", err)
	}
}

func TestDemo(t *testing.T) {
	t.Setenv("SOAKLINE_LISTEN", "0.0.0.0:1") // the demo must not heed it
	ports := map[string]string{"meter": "/dev/pts/1", "scope": "/dev/pts/2", "thermometer": "tcp://127.0.0.1:3", "supply": "/dev/pts/4"}
	dir := t.TempDir()
	b, err := LoadDemo(ports, dir)
	if err != nil {
		t.Fatal(err)
	}
	if b.Book != filepath.Join(dir, "demo.book") || b.Listen != DefaultListen || len(b.Places) != 2 || len(b.Loaded) != 2 {
		t.Errorf("demo's bench: %+v", b.Settings)
	}
	for _, in := range b.Instruments {
		if in.Port != ports[in.Name] {
			t.Errorf("%s is at %q, want %q", in.Name, in.Port, ports[in.Name])
		}
	}
	for i, place := range b.Places { // what is not wired stays silent, and the demo could not end with a pass
		for _, point := range b.Sheets[i].TestPoints {
			if !slices.ContainsFunc(place.Connections, func(c logger.Connection) bool { return c.TestPoint == point.Name }) {
				t.Errorf("place %s is not wired to %s of sheet %s", place.Name, point.Name, b.Sheets[i].Name)
			}
		}
	}
	delete(ports, "scope")
	if _, err := LoadDemo(ports, dir); err == nil || !strings.Contains(err.Error(), `"scope" at demo:scope`) {
		t.Errorf("without a scope: %v", err)
	}
}

func TestFormatSheetReadsBack(t *testing.T) {
	for _, name := range []string{"everything.yaml", "sheet.yaml", "resistance.yaml"} {
		sheet, err := ParseSheet(name, readGood(t, name))
		if err != nil {
			t.Fatal(err)
		}
		text, err := FormatSheet(sheet)
		if err != nil {
			t.Fatal(err)
		}
		back, err := ParseSheet(name, text)
		if diff := cmp.Diff(sheet, back, cmpopts.EquateNaNs(), cmpopts.IgnoreFields(checks.Sheet{}, "Hash")); diff != "" || err != nil {
			t.Errorf("%s: %v\n(-written +read):\n%s\n%s", name, err, diff, text)
		}
	}
	if _, err := FormatSheet(checks.Sheet{}); err == nil {
		t.Error("an empty sheet was written")
	}
}
