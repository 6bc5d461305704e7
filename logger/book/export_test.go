package book

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"soakline/checks"
	"soakline/device"
)

// line is one decoded line of line protocol.
type line struct {
	measurement string
	tags        [][2]string
	fields      map[string]any
	nanoseconds int64
}

// decode reads line protocol with the published decoder.
func decode(t testing.TB, text []byte) (lines []line) {
	t.Helper()
	d := lineprotocol.NewDecoderWithBytes(text)
	for d.Next() {
		name, err := d.Measurement()
		must(t, err)
		l := line{measurement: string(name), fields: map[string]any{}}
		for {
			key, value, err := d.NextTag()
			must(t, err)
			if key == nil {
				break
			}
			l.tags = append(l.tags, [2]string{string(key), string(value)})
		}
		for {
			key, value, err := d.NextField()
			must(t, err)
			if key == nil {
				break
			}
			l.fields[string(key)] = value.Interface()
		}
		at, err := d.Time(lineprotocol.Nanosecond, time.Time{})
		must(t, err)
		l.nanoseconds = at.UnixNano()
		lines = append(lines, l)
	}
	return lines
}

// TestLinesTellTheBook: the published decoder gives every figure back to the last
// digit, readings of one microsecond included.
func TestLinesTellTheBook(t *testing.T) {
	b := openNew(t)
	overshoot := Tag{Bench: "quay", Unit: "B8-0147", TestPoint: "composite", Measure: device.Overshoot}
	third := TaggedReading{overshoot, device.Reading{Measure: device.Overshoot, Value: 1.0 / 3, At: begin.Add(time.Second)}}
	write(t, b, digits(t, rail, 0, "5.0121"), digits(t, rail, 0, "5.0122"), digits(t, rail, time.Microsecond, "-0"), third,
		digits(t, rail, time.Hour, "1.23456789012345678E-300"))
	var text bytes.Buffer
	count, err := b.ExportLines(t.Context(), &text, Filter{})
	if err != nil || count != (Exported{Readings: 5}) {
		t.Fatalf("%+v, %v", count, err)
	}
	if want := "reading,bench=quay,console=Brambling\\ 8,instrument=meter,measure=dc-voltage,test_point=rail-5v,unit=B8-0147 volts=5.0121 1773480413589793000\n"; !strings.HasPrefix(text.String(), want) {
		t.Errorf("first line of\n%swant\n%s", text.String(), want)
	}
	kept := readAll(t, b, Filter{})
	lines := decode(t, text.Bytes())
	if len(lines) != len(kept) {
		t.Fatalf("%d lines, want %d", len(lines), len(kept))
	}
	for i, l := range lines {
		value, ok := l.fields[kept[i].Tag.Measure.Unit().Plural].(float64)
		if !ok || math.Float64bits(value) != math.Float64bits(kept[i].Value) || len(l.fields) != 1 {
			t.Errorf("line %d: %+v, want %v", i, l, kept[i])
		}
		if late := time.Duration(l.nanoseconds - kept[i].At.UnixNano()); late != map[int]time.Duration{1: 1}[i] {
			t.Errorf("line %d is %v after its reading", i, late)
		}
	}
	if got := lines[3].tags; !cmp.Equal(got, [][2]string{{"bench", "quay"}, {"measure", "overshoot"}, {"test_point", "composite"}, {"unit", "B8-0147"}}) {
		t.Errorf("empty tags are not left out, or the order is wrong: %v", got)
	}
}

// TestLineEscapes has the worked line of the published format (line protocol page
// of the InfluxDB v2 documentation: comma and space are escaped in a measurement,
// comma, equals and space in a tag, quote and backslash in a text field).
func TestLineEscapes(t *testing.T) {
	var e lineprotocol.Encoder
	e.StartLine("rail check")
	e.AddTag("point", "C1,5V=A")
	e.AddField("v", lineprotocol.MustNewValue(5.012))
	e.AddField("n", lineprotocol.MustNewValue(int64(3)))
	e.AddField("note", lineprotocol.MustNewValue(`say "ok"`))
	e.EndLine(time.Unix(0, 1556813561098000000))
	want := `rail\ check,point=C1\,5V\=A v=5.012,n=3i,note="say \"ok\"" 1556813561098000000` + "\n"
	if got := string(e.Bytes()); got != want || e.Err() != nil {
		t.Errorf("got  %swant %s%v", got, want, e.Err())
	}
}

func TestVisible(t *testing.T) {
	for name, want := range map[string]string{
		"rail-5v": "rail-5v", "": "", "two\nlines": "two␊lines", "\r\t\x00\x7f": "␍␉␀␡", `C:\dir\`: `C:\dir＼`, `\`: `＼`,
		"bad \xff byte": "bad � byte", "75 Ω": "75 Ω",
	} {
		if got := visible(name); got != want {
			t.Errorf("%q gives %q, want %q", name, got, want)
		}
	}
}

// FuzzLines: whatever a name holds, the decoder reads one reading with the visible
// form of it.
func FuzzLines(f *testing.F) {
	f.Add("quay", "Brambling 8", "B8-0147", "rail-5v", "meter")
	f.Add("a,b", "c=d", "e f", "\\", "\\\\,")
	f.Add("#x", "_y", "\n", "\"", "back\\ slash")
	f.Fuzz(func(t *testing.T, bench, console, unit, point, instrument string) {
		tag := Tag{bench, checks.ConsoleName(console), checks.UnitID(unit), checks.TestPointName(point), instrument, device.DCVoltage}
		var text bytes.Buffer
		w := newLineWriter(&text)
		must(t, w.reading(digits(t, tag, 0, "5.0121")))
		must(t, w.flush())
		var want [][2]string
		for _, named := range [][2]string{
			{"bench", bench}, {"console", console}, {"instrument", instrument}, {"measure", "dc-voltage"}, {"test_point", point}, {"unit", unit},
		} {
			if named[1] != "" {
				want = append(want, [2]string{named[0], visible(named[1])})
			}
		}
		lines := decode(t, text.Bytes())
		if len(lines) != 1 || !cmp.Equal(lines[0].tags, want) || lines[0].fields["volts"] != 5.0121 {
			t.Fatalf("%q gives %+v, want tags %q", text.String(), lines, want)
		}
	})
}

// judgedSoak is a book with a soak that has ended, an excursion and a verdict.
func judgedSoak(t *testing.T) (*Book, SoakID) {
	t.Helper()
	b, id := soaked(t)
	ctx := t.Context()
	write(t, b, digits(t, rail, time.Minute, "5.31"))
	lasting := someExcursion()
	lasting.From, lasting.To, lasting.Edge, lasting.Limit = begin.Add(3*time.Hour), time.Time{}, checks.LowEdge, math.Inf(-1)
	must(t, errors.Join(b.PutExcursion(ctx, id, someExcursion()), b.PutExcursion(ctx, id, lasting),
		b.EndSoak(ctx, id, SoakEnded, begin.Add(8*time.Hour), ""),
		b.PutVerdict(ctx, id, begin.Add(8*time.Hour), checks.Verdict{
			Outcome: checks.Fail, SheetName: "brambling-8", SheetHash: "3f2a", Evidence: 0.998,
			Reasons: []checks.Reason{{Kind: checks.LeftLimit, Check: someExcursion().Check, Begin: begin, Excursion: someExcursion()}},
		})))
	return b, id
}

func TestExcursionsAndVerdictsAsLines(t *testing.T) {
	b, id := judgedSoak(t)
	var text bytes.Buffer
	count, err := b.ExportLines(t.Context(), &text, Filter{Soak: id})
	if err != nil || count != (Exported{1, 2, 1}) {
		t.Fatalf("%+v, %v", count, err)
	}
	lines := decode(t, text.Bytes())
	wantTags := [][2]string{{"bench", "quay"}, {"console", "Brambling 8"}, {"measure", "dc-voltage"}, {"test_point", "rail-5v"}, {"unit", "B8-0147"}}
	reasons := lines[3].fields["reasons"]
	want := []line{
		{"excursion", wantTags, map[string]any{
			"edge": "high", "limit_volts": 5.25, "seconds": 3600.0, "state": "outside", "volts": 5.31,
		}, begin.Add(time.Hour).UnixNano()},
		{"excursion", wantTags, map[string]any{"edge": "low", "state": "outside", "volts": 5.31}, begin.Add(3 * time.Hour).UnixNano()},
		{"verdict", [][2]string{wantTags[0], wantTags[1], wantTags[4]}, map[string]any{
			"evidence_ratio": 0.998, "outcome": "fail", "reasons": reasons, "sheet": "brambling-8", "sheet_hash": "3f2a", "soak": int64(id),
		}, begin.Add(8 * time.Hour).UnixNano()},
	}
	if diff := cmp.Diff(want, lines[1:], cmp.AllowUnexported(line{})); diff != "" {
		t.Error(diff)
	}
	if words, ok := reasons.(string); !ok || !strings.Contains(words, "rail-5v") {
		t.Errorf("reasons %v", reasons)
	}
}

func TestExportFilters(t *testing.T) {
	b, id := judgedSoak(t)
	other := rail
	other.Unit, other.Console = "CC2-0003", "Corncrake II"
	write(t, b, digits(t, other, 2*time.Minute, "4.9"))
	for _, test := range []struct {
		filter Filter
		want   Exported
	}{
		{Filter{}, Exported{2, 2, 1}},
		{Filter{Unit: "B8-0147"}, Exported{1, 2, 1}},
		{Filter{Unit: "CC2-0003"}, Exported{1, 0, 0}},
		{Filter{Console: "Corncrake II"}, Exported{1, 0, 0}},
		{Filter{Bench: "pier"}, Exported{}},
		{Filter{TestPoint: "rail-5v"}, Exported{2, 2, 0}},
		{Filter{TestPoint: "composite"}, Exported{}},
		{Filter{Instrument: "meter"}, Exported{2, 0, 0}},
		{Filter{Measure: device.Frequency}, Exported{}},
		{Filter{Since: begin.Add(2 * time.Minute)}, Exported{1, 2, 1}},
		{Filter{Since: begin.Add(time.Hour), Until: begin.Add(time.Hour + 1)}, Exported{0, 1, 0}},
		{Filter{Until: begin.Add(2 * time.Minute)}, Exported{1, 0, 0}},
		{Filter{Soak: id, TestPoint: "rail-5v"}, Exported{1, 2, 0}},
	} {
		if got, err := b.ExportLines(t.Context(), io.Discard, test.filter); err != nil || got != test.want {
			t.Errorf("%+v gives %+v (%v), want %+v", test.filter, got, err, test.want)
		}
		if got, err := b.ExportCSV(t.Context(), io.Discard, test.filter); err != nil || got != test.want.Readings {
			t.Errorf("%+v gives %d records (%v), want %d", test.filter, got, err, test.want.Readings)
		}
	}
	if _, err := b.ExportLines(t.Context(), io.Discard, Filter{Soak: 99}); !errors.Is(err, ErrNotFound) {
		t.Errorf("an unknown soak: %v", err)
	}
}

// TestCSVTellsTheBook reads RFC 4180 back with the standard library.
func TestCSVTellsTheBook(t *testing.T) {
	b := openNew(t)
	odd := Tag{Bench: "quay, west", Console: `the "8"`, Unit: "two\nlines", TestPoint: "rail-5v", Instrument: "meter", Measure: device.Temperature}
	plain := digits(t, rail, 2*time.Second, "5.00")
	plain.StandardUncertainty = 0
	write(t, b, digits(t, rail, 0, "-1.00213E-3"), TaggedReading{odd, device.Reading{Measure: device.Temperature, Value: 0.30000000000000004, At: begin.Add(time.Second), StandardUncertainty: 0.1}}, plain)
	var text bytes.Buffer
	if n, err := b.ExportCSV(t.Context(), &text, Filter{}); n != 3 || err != nil {
		t.Fatal(n, err)
	}
	if n := strings.Count(text.String(), "\r\n"); n != 4 || strings.Count(text.String(), "\n") != 4 {
		t.Errorf("%d records end in CR LF, want 4: %q", n, text.String())
	}
	got, err := csv.NewReader(&text).ReadAll()
	want := [][]string{
		csvHeader,
		{"2026-03-14T09:26:53.589793Z", "quay", "Brambling 8", "B8-0147", "rail-5v", "meter", "dc-voltage", "-0.00100213", "V", "0.0007"},
		{"2026-03-14T09:26:54.589793Z", "quay, west", `the "8"`, "two␊lines", "rail-5v", "meter", "temperature", "0.30000000000000004", "°C", "0.1"},
		{"2026-03-14T09:26:55.589793Z", "quay", "Brambling 8", "B8-0147", "rail-5v", "meter", "dc-voltage", "5.00", "V", ""},
	}
	if diff := cmp.Diff(want, got); err != nil || diff != "" {
		t.Error(err, diff)
	}
}

// fullDisk fails after some bytes, as a disk does that is full.
type fullDisk struct{ room int }

func (d *fullDisk) Write(p []byte) (int, error) {
	if len(p) > d.room {
		return 0, errors.New("no space left on device")
	}
	d.room -= len(p)
	return len(p), nil
}

func TestExportSaysThatItFailed(t *testing.T) {
	b, _ := judgedSoak(t)
	for i := range 4000 {
		if i%1000 == 0 {
			write(t, b, digits(t, rail, time.Duration(i)*time.Hour, fmt.Sprint(i)))
		}
	}
	if _, err := b.ExportLines(t.Context(), &fullDisk{}, Filter{}); err == nil || !strings.Contains(err.Error(), "no space left") {
		t.Errorf("lines: %v", err)
	}
	if _, err := b.ExportCSV(t.Context(), &fullDisk{}, Filter{}); err == nil || !strings.Contains(err.Error(), "no space left") {
		t.Errorf("CSV: %v", err)
	}
}
