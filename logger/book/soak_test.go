package book

import (
	"errors"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"soakline/checks"
	"soakline/device"
)

var sheetText = []byte("name: brambling-8\n")

func aSoak() Soak {
	return Soak{
		Bench: "quay", Place: "left", Unit: "B8-0147", Sheet: SheetCopy{Name: "brambling-8", Text: sheetText},
		Planned: 8 * time.Hour, Begin: begin,
		Instruments: []SoakInstrument{{Name: "meter", Port: "/dev/ttyUSB0", Identity: "Saltmarsh,M6,1234,1.0", Since: begin}},
	}
}

// soaked is a new book with one unit and one running soak.
func soaked(t *testing.T) (*Book, SoakID) {
	t.Helper()
	b := openNew(t)
	addUnit(t, b, "B8-0147")
	id, err := b.BeginSoak(t.Context(), aSoak())
	must(t, err)
	return b, id
}

func someExcursion() checks.Excursion {
	return checks.Excursion{
		Check: checks.CheckKey{TestPoint: "rail-5v", Measure: device.DCVoltage}, State: checks.Outside, Edge: checks.HighEdge,
		From: begin.Add(time.Hour), To: begin.Add(2 * time.Hour), Worst: 5.31, WorstAt: begin.Add(90 * time.Minute), WorstU: 0.0007, Limit: 5.25,
	}
}

// TestSoakIsFoundAgain: a soak that nobody closed is running after the book was
// opened anew, with all that judging needs.
func TestSoakIsFoundAgain(t *testing.T) {
	b, id := soaked(t)
	must(t, b.AddSoakInstrument(t.Context(), id, SoakInstrument{Name: "scope", Port: "usb:0403:6001", Identity: "Saltmarsh,S2,7,2.1"}))
	path := b.Path()
	must(t, b.Close())
	b = openAt(t, path, Options{})
	got, err := b.RunningSoaks(t.Context(), "quay")
	want := aSoak()
	want.ID, want.State, want.Console, want.Sheet.Hash = id, SoakRunning, "Brambling 8", HashSheet(sheetText)
	want.Instruments = append(want.Instruments, SoakInstrument{Name: "scope", Port: "usb:0403:6001", Identity: "Saltmarsh,S2,7,2.1", Since: begin})
	if diff := cmp.Diff([]Soak{want}, got); err != nil || diff != "" {
		t.Error(err, diff)
	}
	if other, err := b.RunningSoaks(t.Context(), "another bench"); len(other) != 0 || err != nil {
		t.Errorf("another bench runs %v (%v)", other, err)
	}
	must(t, b.EndSoak(t.Context(), id, SoakStopped, begin.Add(time.Hour), "asked to"))
	ended, err := b.Soak(t.Context(), id)
	if err != nil || ended.State != SoakStopped || ended.Reason != "asked to" || !ended.End.Equal(begin.Add(time.Hour)) {
		t.Errorf("after its end: %+v (%v)", ended, err)
	}
	if running, err := b.RunningSoaks(t.Context(), "quay"); len(running) != 0 || err != nil {
		t.Errorf("still running: %v (%v)", running, err)
	}
}

func TestSoakRefuses(t *testing.T) {
	change := func(f func(*Soak)) Soak { s := aSoak(); f(&s); return s }
	tests := []struct {
		name string
		soak Soak
		want error
	}{
		{"the unit is soaked already", change(func(s *Soak) { s.Place = "right" }), ErrExists},
		{"the place is taken", change(func(s *Soak) { s.Unit = "B8-0152" }), ErrExists},
		{"unknown unit", change(func(s *Soak) { s.Unit, s.Place = "B8-9999", "right" }), ErrNotFound},
		{"no duration", change(func(s *Soak) { s.Planned = 0 }), ErrInvalid},
		{"sheet without text", change(func(s *Soak) { s.Sheet.Text = nil }), ErrInvalid},
		{"hash of another text", change(func(s *Soak) { s.Sheet.Hash = HashSheet([]byte("other")) }), ErrInvalid},
	}
	b, id := soaked(t)
	addUnit(t, b, "B8-0152")
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			if _, err := b.BeginSoak(t.Context(), test.soak); !errors.Is(err, test.want) {
				t.Errorf("%v, want %v", err, test.want)
			}
		})
	}
	ctx := t.Context()
	for name, err := range map[string]error{
		"end of an unknown soak":      b.EndSoak(ctx, 99, SoakEnded, begin, ""),
		"note at an unknown soak":     b.AddSoakInstrument(ctx, 99, SoakInstrument{}),
		"excursion of an unknown":     b.PutExcursion(ctx, 99, someExcursion()),
		"gap of an unknown":           b.PutGap(ctx, 99, checks.Gap{From: begin}),
		"verdict on an unknown":       b.PutVerdict(ctx, 99, begin, checks.Verdict{}),
		"note about an unknown unit":  b.AddNote(ctx, "none", Note{Text: "x"}),
		"a soak that is not there":    second(b.Soak(ctx, 99)),
		"a verdict that is not there": second(b.Verdict(ctx, id)),
		"a unit that is not there":    second(b.Unit(ctx, "none")),
	} {
		if !errors.Is(err, ErrNotFound) {
			t.Errorf("%s: %v, want %v", name, err, ErrNotFound)
		}
	}
	if err := b.EndSoak(ctx, id, SoakRunning, begin, ""); !errors.Is(err, ErrInvalid) {
		t.Errorf("end as running: %v", err)
	}
	if soaks, err := b.Soaks(ctx, ""); len(soaks) != 1 || err != nil {
		t.Errorf("the refused ones left something behind: %v (%v)", soaks, err)
	}
}

func second[T any](_ T, err error) error { return err }

// TestSoakReadingsAreThoseOfItsTime: from the begin to the end, its unit only.
func TestSoakReadingsAreThoseOfItsTime(t *testing.T) {
	b, id := soaked(t)
	other := rail
	other.Unit = "B8-0152"
	elsewhere := rail
	elsewhere.Bench = "pier"
	write(t, b,
		digits(t, rail, -time.Microsecond, "1"), digits(t, rail, 0, "2"), digits(t, rail, time.Hour, "3"),
		digits(t, rail, time.Hour+time.Microsecond, "4"), digits(t, other, time.Minute, "5"), digits(t, elsewhere, time.Minute, "6"))
	values := func(filter Filter) (all []float64) {
		for _, r := range readAll(t, b, filter) {
			all = append(all, r.Value)
		}
		return all
	}
	if got := values(Filter{Soak: id}); !cmp.Equal(got, []float64{2, 3, 4}) {
		t.Errorf("while it runs: %v", got)
	}
	must(t, b.EndSoak(t.Context(), id, SoakEnded, begin.Add(time.Hour), ""))
	if got := values(Filter{Soak: id}); !cmp.Equal(got, []float64{2, 3}) {
		t.Errorf("when it has ended: %v", got)
	}
	if got := values(Filter{Soak: id, Since: begin.Add(time.Second), Until: begin.Add(2 * time.Hour)}); !cmp.Equal(got, []float64{3}) {
		t.Errorf("the soak narrows the time: %v", got)
	}
	if got := values(Filter{Soak: id, Unit: "B8-0152"}); got != nil {
		t.Errorf("a filter that contradicts the soak: %v", got)
	}
	for _, err := range b.SoakReadings(t.Context(), 99) {
		if !errors.Is(err, ErrNotFound) {
			t.Errorf("an unknown soak: %v", err)
		}
	}
}

// TestCutOffRunIsOnRecord: a start without a stop, followed by another start.
func TestCutOffRunIsOnRecord(t *testing.T) {
	b := openNew(t)
	_, err := b.BeginRun(t.Context(), "quay")
	must(t, err)
	id, err := b.BeginRun(t.Context(), "quay")
	must(t, err)
	must(t, b.EndRun(t.Context(), id))
	runs, err := b.Runs(t.Context(), "quay")
	if err != nil || len(runs) != 2 || !runs[0].End.IsZero() || !runs[1].End.Equal(begin) || runs[1].Program != "soakline test" {
		t.Errorf("runs %+v (%v)", runs, err)
	}
}

// TestRecordIsJudged: what a soak's record gives, the checks judge; the same again
// after the book was opened anew.
func TestRecordIsJudged(t *testing.T) {
	b, id := soaked(t)
	sheet := checks.Sheet{
		Name: "brambling-8", Hash: HashSheet(sheetText),
		TestPoints: []checks.TestPoint{{Name: "rail-5v", Checks: []checks.Check{{
			Measure: device.DCVoltage, FreshFor: time.Minute,
			Limit: checks.Limit{Low: 4.75, High: 5.25, Nominal: 5, Guard: checks.GuardBand{Rule: checks.Simple}},
		}}}},
		Soak: checks.SoakPlan{EvidenceAtLeast: 0.9, LongestGap: time.Hour},
	}
	for i := range 481 {
		text := "5.0121"
		if i == 100 || i == 101 {
			text = "5.3"
		}
		write(t, b, digits(t, rail, time.Duration(i)*time.Minute, text))
	}
	lost := &batch{}
	lost.lose(digits(t, rail, 30*time.Second, "5"), LostQueueFull)
	_, err := b.store(t.Context(), lost, newJournal())
	must(t, err)
	must(t, b.EndSoak(t.Context(), id, SoakEnded, begin.Add(8*time.Hour), ""))
	judge := func(b *Book) checks.Verdict {
		record, failed, err := b.Record(t.Context(), id)
		must(t, err)
		v := checks.Judge(sheet, record)
		must(t, failed())
		return v
	}
	live := judge(b)
	if live.Outcome != checks.Fail || live.Checks[0].Readings != 481 || live.Checks[0].Lost != 1 {
		t.Errorf("verdict %+v", live)
	}
	must(t, b.PutVerdict(t.Context(), id, time.Time{}, live))
	path := b.Path()
	must(t, b.Close())
	b = openAt(t, path, Options{ReadOnly: true})
	again, err := EncodeVerdict(judge(b))
	must(t, err)
	kept, err := b.Verdict(t.Context(), id)
	must(t, err)
	want, err := EncodeVerdict(kept.Verdict)
	if err != nil || string(again) != string(want) {
		t.Errorf("judged again: %v\n%s\nkept:\n%s", err, again, want)
	}
}

// TestRecordSaysThatReadingFailed: a verdict on half the readings is none.
func TestRecordSaysThatReadingFailed(t *testing.T) {
	b, id := soaked(t)
	write(t, b, digits(t, rail, 0, "5"))
	_, err := b.writing.ExecContext(t.Context(), `UPDATE tail SET data = x'00'`)
	must(t, err)
	record, failed, err := b.Record(t.Context(), id)
	must(t, err)
	for r := range record.Readings {
		t.Errorf("read %+v", r)
	}
	if failed() == nil {
		t.Error("nothing is said")
	}
	if _, _, err := b.Record(t.Context(), 99); !errors.Is(err, ErrNotFound) {
		t.Errorf("an unknown soak: %v", err)
	}
}
