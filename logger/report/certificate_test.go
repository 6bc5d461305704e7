package report

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

func paperOf(t *testing.T, c Certificate, format Format) string {
	t.Helper()
	var paper bytes.Buffer
	must(t, c.Write(&paper, format))
	return paper.String()
}

// again writes it once more.
func again(t *testing.T, c Certificate, format Format) string { return paperOf(t, c, format) }

// TestOneFigureEverywhere: a figure has the same digits in every format, those that
// the terminal prints.
func TestOneFigureEverywhere(t *testing.T) {
	c := certified(t, stories["fail"])
	rail := c.Checks[0]
	if want := checks.Figure(float64(rail.Mean.Value), 0.0009, device.Volt); rail.Mean.Text != want {
		t.Fatalf("mean %q, want %q", rail.Mean.Text, want)
	}
	mean, u := rail.Mean.cut()
	worst := rail.Excursions[0].Worst.Text
	for _, format := range []Format{HTML, JSON, CSV} {
		text := paperOf(t, c, format)
		for _, figure := range []string{mean, u, worst, "+0.1460 V ± 0.0085"} {
			if format == HTML {
				figure = strings.ReplaceAll(figure, "+", "&#43;")
			}
			if !strings.Contains(text, figure) {
				t.Errorf("%s does not say %q", format, figure)
			}
		}
	}
}

func TestFormats(t *testing.T) {
	c := certified(t, stories["undecided"])
	var back map[string]any
	must(t, json.Unmarshal([]byte(paperOf(t, c, JSON)), &back))
	if back["outcome"] != "undecided" || back["final_test"] != nil || len(back["checks"].([]any)) != 6 {
		t.Errorf("JSON %v", back["outcome"])
	}
	ripple := back["checks"].([]any)[1].(map[string]any)
	if limit := ripple["limit"].(map[string]any); limit["low"] != nil || limit["high"] != 1.0 || limit["text"] != "at most 1 V" {
		t.Errorf("an open end is %v", limit)
	}
	rows, err := csv.NewReader(strings.NewReader(paperOf(t, c, CSV))).ReadAll()
	must(t, err)
	if !slices.Equal(rows[0], csvHead) || len(rows) < 80 {
		t.Errorf("%d rows, head %v", len(rows), rows[0])
	}
	for _, format := range []Format{HTML, PDF, JSON, CSV, JUnit, Label} {
		if format.Validate() != nil || format.ContentType() == "" || paperOf(t, c, format) != again(t, c, format) {
			t.Errorf("%s differs from itself", format)
		}
	}
	if err := Format("parchment").Validate(); err == nil || !strings.Contains(err.Error(), "there are html, pdf, json, csv, junit, label") {
		t.Errorf("parchment: %v", err)
	}
	if err := c.Write(&bytes.Buffer{}, "parchment"); err == nil {
		t.Error("parchment was written")
	}
	for name, want := range map[string]Format{"a.pdf": PDF, "a.HTML": HTML, "a.csv": CSV, "a.json": JSON, "a": HTML, "pdf": HTML} {
		if got := FormatOf(name); got != want {
			t.Errorf("%s is %s, want %s", name, got, want)
		}
	}
}

// TestCapacitorsOverTime: figures up to the verdict, in every format.
func TestCapacitorsOverTime(t *testing.T) {
	c := certified(t, story{})
	const want = "reservoir-ripple capacitance: 2130 µF ± 20 (round of 24 Nov 2026) -> 2080 µF ± 20 (round of 24 Nov 2026); too few figures for a trend (2 of "
	if lines := c.capacitorLines(); len(lines) != 1 || !strings.HasPrefix(lines[0], want) {
		t.Fatalf("%q", lines)
	}
	for _, format := range []Format{HTML, CSV, JSON} {
		if text := paperOf(t, c, format); !strings.Contains(text, "2080 µF ± 20") {
			t.Errorf("%s does not say the capacitance", format)
		}
	}
	if text := ran(t, "pdftotext", "-layout", written(t, c, PDF), "-"); !strings.Contains(text, "2080 µF ± 20") {
		t.Errorf("the paper says\n%s", text)
	}
	later := capacitorPart(logger.HistoryCourse{Check: checks.CheckKey{TestPoint: "reservoir", Measure: device.Capacitance},
		Figures: []logger.HistoryFigure{{At: soakBegin, Value: 1e-3}, {At: soakBegin.Add(time.Hour), Value: 2e-3}}}, nil, soakBegin)
	if len(later.Figures) != 1 || later.Trend != "" {
		t.Errorf("what came after the verdict: %+v", later)
	}
}

// TestFullDisk: what cannot be written is an error in every format.
func TestFullDisk(t *testing.T) {
	c := certified(t, story{})
	for _, w := range writers {
		if err := c.Write(failingWriter{}, w.name); !errors.Is(err, errFull) {
			t.Errorf("%s: %v", w.name, err)
		}
	}
}

// TestHostileNamesOnPaper: names are text in every format, whatever is in them.
func TestHostileNamesOnPaper(t *testing.T) {
	c := certified(t, story{})
	for _, name := range append(hostile, "\U0001F600 \u202e") {
		if name == "" {
			continue
		}
		c.Unit, c.Console, c.Bench, c.Reasons, c.Sheet.Name = name, name, name, []string{name}, name
		c.Notes[0].Text, c.Changes.Before, c.Checks[0].TestPoint, c.Instruments[0].Identity = name, name, name, name
		c.Cautions[0].Text = name
		for _, format := range []Format{HTML, PDF, JSON, CSV, Label} {
			text := paperOf(t, c, format)
			if format == HTML && (strings.Contains(text, "<img") || strings.Contains(text, "<script") || strings.Contains(text, `"onload`)) {
				t.Errorf("%q became an element", name)
			}
		}
	}
}

func TestBadInput(t *testing.T) {
	b, id := soakedBook(t, story{})
	ctx := t.Context()
	must(t, b.AddUnit(ctx, book.Unit{ID: "B8-0001", Console: "Brambling 8"}))
	must(t, b.AddUnit(ctx, book.Unit{ID: "B8-0002", Console: "Brambling 8"}))
	_, text := benchSheet()
	running, err := b.BeginSoak(ctx, book.Soak{Bench: "quay", Place: "right", Unit: "B8-0002", Sheet: book.SheetCopy{Name: "brambling-8", Text: text}, Planned: time.Hour, Begin: soakBegin})
	must(t, err)
	torn := certOptions()
	torn.ParseSheet = func(string, []byte) (checks.Sheet, error) { return checks.Sheet{}, errFull }
	of := func(soak book.SoakID) Options { o := certOptions(); o.Soak = soak; return o }
	for _, test := range []struct {
		name    string
		in      *book.Book
		unit    checks.UnitID
		options Options
		want    error
		text    string
	}{
		{"unknown unit", b, "B8-9999", certOptions(), book.ErrNotFound, "B8-9999"},
		{"empty book", emptyBook(t), certUnit, certOptions(), book.ErrNotFound, "B8-0147"},
		{"never soaked", b, "B8-0001", certOptions(), ErrNothingJudged, "it has been on no soak and had no final test"},
		{"soak runs", b, "B8-0002", certOptions(), ErrNothingJudged, "soak 2 has not ended"},
		{"that soak runs", b, "B8-0002", of(running), ErrNothingJudged, "soak 2 of B8-0002"},
		{"another's soak", b, "B8-0001", of(id), book.ErrNotFound, "soak 1 is of B8-0147, not of B8-0001"},
		{"no such soak", b, certUnit, of(99), book.ErrNotFound, "soak 99"},
		{"a sheet that cannot be read", b, certUnit, torn, errFull, "the sheet that the book kept"},
	} {
		_, err := NewCertificate(ctx, test.in, test.unit, test.options)
		if !errors.Is(err, test.want) || !strings.Contains(err.Error(), test.text) || strings.Contains(err.Error(), "\n") {
			t.Errorf("%s: %v, want %v: %q", test.name, err, test.want, test.text)
		}
	}
	ended, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := NewCertificate(ended, b, certUnit, certOptions()); err == nil {
		t.Error("an ended context gave a certificate")
	}
}

// TestWhatHasChangedSince: a sheet that is another one today is said, and dates of
// calibration that the book does not have are the bench's of today.
func TestWhatHasChangedSince(t *testing.T) {
	b, _ := soakedBook(t, story{})
	sheet, _ := benchSheet()
	sheet.Hash = strings.Repeat("ab", 32)
	options := certOptions()
	options.Bench = logger.Settings{Sheets: []checks.Sheet{sheet}, Instruments: []logger.InstrumentSettings{
		{Name: "meter", Calibrated: time.Date(2026, 2, 1, 0, 0, 0, 0, time.UTC), CalibrationDue: time.Date(2027, 2, 1, 0, 0, 0, 0, time.UTC)}}}
	c, err := NewCertificate(t.Context(), b, certUnit, options)
	must(t, err)
	if len(c.Remarks) != 1 || !strings.Contains(c.Remarks[0], "has changed since (sha256 abababababab… today)") {
		t.Errorf("remarks %q", c.Remarks)
	}
	if record := strings.Join(c.record(), "\n"); !strings.Contains(record, "calibrated 2026-02-01, due 2027-02-01, as the bench's file says today") ||
		!strings.Contains(record, "Saltmarsh,S2,7,2.1 (usb:1209:0001:55, since 24 Nov 2026 09:10 bench), no calibration date given") {
		t.Errorf("record %s", record)
	}
}

// TestCertificateOfAFinalTest: the final test is what it is about, with the soak
// that it relies on; a unit that came back later is about its new soak.
func TestCertificateOfAFinalTest(t *testing.T) {
	b, soak := soakedBook(t, story{})
	ctx := t.Context()
	_, text := benchSheet()
	at := soakBegin.Add(5 * time.Hour)
	day := time.Date(2026, 10, 1, 0, 0, 0, 0, time.UTC)
	id, err := b.BeginFinal(ctx, book.Final{Bench: "quay", Place: "left", Unit: certUnit, Sheet: book.SheetCopy{Name: "brambling-8", Text: text}, Begin: at,
		Instruments: []checks.FinalInstrument{{Name: "meter", Port: "/dev/ttyUSB0", Identity: "Saltmarsh,M6,100234,1.04", Calibrated: day.AddDate(-1, 0, 0), CalibrationDue: day}}})
	must(t, err)
	must(t, b.AddStepResult(ctx, id, checks.StepResult{Step: "soaked", Kind: checks.StepSoak, Act: checks.Taken, Begin: at, End: at, Soak: int64(soak)}))
	must(t, b.EndFinal(ctx, id, at.Add(10*time.Minute), ""))
	key := checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}
	limit := checks.Limit{Low: 4.75, Nominal: 5, High: 5.25, Guard: checks.GuardBand{Rule: checks.GuardBanded, Ratio: 1}}
	reason := checks.StepReason{Kind: checks.FigureOutside, Step: "rail", Text: "rail-5v dc-voltage 5.3100 V is outside", Causes: []string{"the regulator's ground is open"}}
	must(t, b.PutFinalVerdict(ctx, id, at.Add(10*time.Minute), checks.FinalVerdict{Outcome: checks.Fail, Unit: certUnit, SheetName: "brambling-8", SheetHash: book.HashSheet(text),
		Begin: at, End: at.Add(10 * time.Minute), Decision: checks.FinalDecision{Rule: checks.GuardBanded, Ratio: 1}, Reasons: []checks.StepReason{reason},
		Steps: []checks.StepVerdict{{Step: "soaked", Kind: checks.StepSoak, Outcome: checks.Pass, Said: "soak 1 passed", Taken: 1},
			{Step: "rail", Kind: checks.StepMeasure, Outcome: checks.Fail, Taken: 2, Reasons: []checks.StepReason{reason}, Figures: []checks.FinalFigure{{Check: key,
				Instrument: "meter", Value: 5.31, Figure: 5.31, U: 0.0009, Limit: limit, State: checks.Outside, Edge: checks.HighEdge, Probability: 0, Low: 5.3, High: 5.31, Outcome: checks.Fail}}}}}))
	c, err := NewCertificate(ctx, b, certUnit, certOptions())
	must(t, err)
	if c.Outcome != checks.Fail || c.Final == nil || c.Soak == nil || c.Soak.Outcome != checks.Pass || len(c.Checks) != 6 || c.Chain.Position != 2 {
		t.Fatalf("outcome %s, final %+v, soak %+v, chain %+v", c.Outcome, c.Final, c.Soak, c.Chain)
	}
	for _, format := range []Format{HTML, CSV, JSON} {
		text := paperOf(t, c, format)
		for _, want := range []string{"soak 1 passed", "5.3100 V", "the regulator", "2025-10-01", "2026-10-01"} {
			if !strings.Contains(text, want) {
				t.Errorf("%s does not say %q", format, want)
			}
		}
	}
	if text := ran(t, "pdftotext", "-layout", written(t, c, PDF), "-"); !strings.Contains(text, "Final test, step by step") || !strings.Contains(text, "Look for: the regulator's ground is open.") {
		t.Errorf("the paper says\n%s", text)
	}
	must(t, logger.KeepVerdict(ctx, b, soak, at.Add(time.Hour), checks.Verdict{Outcome: checks.Pass, Begin: soakBegin, End: at, Planned: time.Hour, Evidence: math.NaN()}))
	later, err := NewCertificate(ctx, b, certUnit, certOptions())
	if err != nil || later.Final != nil || later.Outcome != checks.Pass {
		t.Errorf("after a later verdict on a soak: %+v, %v", later.Final, err)
	}
}

func TestIdentityIsReadBack(t *testing.T) {
	day := time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	want := Identity{Unit: "shelf 3|B8-0147", Outcome: "pass", Day: day, Position: 17, Hash: "3f2a99c0d1e2f304"}
	if got, err := ParseIdentity(want.String() + "\r\n"); err != nil || got != want {
		t.Errorf("%+v, %v", got, err)
	}
	for _, text := range []string{"", "B8-0147", "soakline|pass|2026-11-25|17:3f2a", "other|pass|2026-11-25|17:3f|B8", "soakline|pass|yesterday|17:3f|B8",
		"soakline|pass|2026-11-25|x:3f|B8", "soakline|pass|2026-11-25|0:3f|B8", "soakline|pass|2026-11-25|17:3f|"} {
		if got, err := ParseIdentity(text); err == nil {
			t.Errorf("%q gave %+v", text, got)
		}
	}
}

// FuzzIdentity: what is read is written again as it was.
func FuzzIdentity(f *testing.F) {
	f.Add("soakline|pass|2026-11-25|17:3f2a99c0d1e2f304|B8-0147")
	f.Fuzz(func(t *testing.T, text string) {
		identity, err := ParseIdentity(text)
		if err != nil {
			return
		}
		if again, err := ParseIdentity(identity.String()); err != nil || again.Unit != strings.TrimSpace(identity.Unit) || again.Position != identity.Position {
			t.Fatalf("%q: %+v, then %+v (%v)", text, identity, again, err)
		}
	})
}

func TestTogether(t *testing.T) {
	got := together([]string{"a x", "b y"}, []string{"a x left", "b y left", "the soak ended", "b y sagged"})
	if want := []string{"a x, b y left", "the soak ended", "b y sagged"}; !slices.Equal(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestPercentText(t *testing.T) {
	for share, want := range map[float64]string{1: "100 %", 0.99999: "99.9 %", 0.958: "95.8 %", 0: "0 %", math.NaN(): "not known"} {
		if got := percentText(checks.Number(share)); got != want {
			t.Errorf("%v is %q, want %q", share, got, want)
		}
	}
}

// TestSpans: the unit stands once where both ends have it.
func TestSpans(t *testing.T) {
	for _, row := range []struct{ low, high, want string }{
		{"5.0060 V ± 0.0018", "5.0173 V ± 0.0018", "5.0060 to 5.0173 V"}, {"980 mV", "1.02 V", "980 mV to 1.02 V"},
		{"-0.2 %", "1.23 % ± 0.1", "-0.2 to 1.23 %"}, {checks.NotKnown, checks.NotKnown, checks.NotKnown}, {"5 V", "5 V ± 1", "5 V"}, {"3", "4", "3 to 4"},
	} {
		if got := (CheckPart{Low: FigurePart{Text: row.low}, High: FigurePart{Text: row.high}}).spanText(); got != row.want {
			t.Errorf("%q and %q: %q, want %q", row.low, row.high, got, row.want)
		}
	}
}
