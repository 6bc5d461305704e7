package logger

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

var finalSoakBegin = time.Date(2026, 11, 2, 8, 0, 0, 0, time.UTC)

// soakedForFinal is a book with a soak that has ended, with a reading a second but for
// those of the times that are left out.
func soakedForFinal(t *testing.T, length time.Duration, without func(second int) bool) (*book.Book, book.SoakID) {
	t.Helper()
	b, err := book.Open(t.Context(), filepath.Join(t.TempDir(), "pier.book"), book.Options{Now: func() time.Time { return finalSoakBegin.AddDate(0, 2, 0) }})
	must(t, err)
	t.Cleanup(func() { must(t, b.Close()) })
	must(t, b.AddUnit(t.Context(), book.Unit{ID: "B8-0147", Console: "Brambling 8"}))
	id, err := b.BeginSoak(t.Context(), book.Soak{Bench: "pier", Place: "left", Unit: "B8-0147", Planned: length, Begin: finalSoakBegin,
		Sheet: book.SheetCopy{Name: "fixture", Text: sheetText, Hash: book.HashSheet(sheetText)}})
	must(t, err)
	var seconds []int
	for second := range int(length.Seconds()) + 1 {
		if !without(second) {
			seconds = append(seconds, second)
		}
	}
	readRail(t, b, seconds...)
	must(t, b.EndSoak(t.Context(), id, book.SoakEnded, finalSoakBegin.Add(length), ""))
	return b, id
}

// readRail writes a reading of the rail at some seconds of the soak.
func readRail(t *testing.T, b *book.Book, seconds ...int) {
	t.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	writer, ended := book.NewWriter(b, book.WriterOptions{}), make(chan error, 1)
	go func() { ended <- writer.Run(ctx) }()
	digits, err := scpi.ParseDecimal("5.01")
	must(t, err)
	for _, second := range seconds {
		must(t, writer.Append(book.TaggedReading{Tag: book.Tag{Bench: "pier", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v", Instrument: "meter", Measure: device.DCVoltage},
			Reading: device.Reading{Measure: device.DCVoltage, Value: digits.Float64(), Digits: digits, At: finalSoakBegin.Add(time.Duration(second) * time.Second)}}))
	}
	stop()
	must(t, <-ended)
}

// shortSheet is the sheet of the tests for a soak of a minute.
func shortSheet() checks.Sheet {
	sheet := testSheet()
	sheet.Soak = checks.SoakPlan{Duration: time.Minute, EvidenceAtLeast: 0.99, LongestGap: 5 * time.Second}
	return sheet
}

// TestSoakIsJudgedOnce: the verdict on a soak is kept while what it rests on stays,
// by each sheet, and is that which the readings give.
func TestSoakIsJudgedOnce(t *testing.T) {
	b, id := soakedForFinal(t, time.Minute, func(second int) bool { return second > 20 && second < 40 })
	times := 0
	judged := judgedSoaks{anew: func(ctx context.Context, from *book.Book, id book.SoakID, sheet checks.Sheet) (checks.Verdict, error) {
		times++
		return judgeForFinal(ctx, from, id, sheet)
	}}
	other := shortSheet()
	other.Hash, other.Soak.LongestGap, other.Soak.EvidenceAtLeast = "another", time.Minute, 0.5
	for _, row := range []struct {
		name    string
		act     func()
		sheet   checks.Sheet
		times   int
		outcome checks.Outcome
	}{
		{"first", func() {}, shortSheet(), 1, checks.Undecided},
		{"again", func() {}, shortSheet(), 1, checks.Undecided},
		{"by another sheet", func() {}, other, 2, checks.Pass},
		{"by the first again", func() {}, shortSheet(), 2, checks.Undecided},
		{"a later reading", func() { readRail(t, b, 90) }, shortSheet(), 2, checks.Undecided},
		{"readings that came late", func() { readRail(t, b, 22, 24, 26, 28, 30, 32, 34, 36, 38) }, shortSheet(), 3, checks.Pass},
	} {
		row.act()
		got, err := judged.judge(t.Context(), b, id, row.sheet)
		must(t, err)
		want, err := JudgeFromBook(t.Context(), b, id, row.sheet)
		must(t, err)
		if times != row.times || got.Outcome != row.outcome || encoded(t, got) != encoded(t, want) {
			t.Errorf("%s: judged %d times, want %d; %s, want %s; %v", row.name, times, row.times, got.Outcome, row.outcome, got.Sentences(nil))
		}
	}
	for range 2 * mostJudged {
		other.Hash += "+"
		if _, err := judged.judge(t.Context(), b, id, other); err != nil || len(judged.kept) > mostJudged {
			t.Fatalf("%d verdicts are kept, %v", len(judged.kept), err)
		}
	}
}

// TestFinalAfterThinning: the soak that a final test relies on was thinned since; by
// its own sheet it is the verdict that was given, by another it cannot be judged.
func TestFinalAfterThinning(t *testing.T) {
	b, id := soakedForFinal(t, 5*time.Hour, func(int) bool { return false })
	verdict, err := JudgeFromBook(t.Context(), b, id, shortSheet())
	must(t, err)
	must(t, KeepVerdict(t.Context(), b, id, finalSoakBegin.Add(5*time.Hour), verdict))
	done, err := b.Thin(t.Context(), book.Thin{OlderThan: 24 * time.Hour, KeepAround: time.Second, Step: 10 * time.Second})
	if err != nil || len(done) != 1 || done[0].Readings == 0 {
		t.Fatalf("nothing was thinned: %+v, %v", done, err)
	}
	got, err := new(judgedSoaks).judge(t.Context(), b, id, shortSheet())
	if err != nil || encoded(t, got) != encoded(t, verdict) {
		t.Errorf("by its own sheet: %v, %v", got, err)
	}
	other := shortSheet()
	other.Hash = "another"
	if _, err := judgeForFinal(t.Context(), b, id, other); !errors.Is(err, book.ErrThinned) {
		t.Errorf("by another sheet: %v", err)
	}
}
