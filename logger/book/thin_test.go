package book

import (
	"errors"
	"math"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"soakline/checks"
)

// oldSoak is a soak of 10 h of one test point at 2 readings/s, with an excursion in
// its fifth hour, a round in its eighth, and a verdict; other readings are around it.
func oldSoak(t *testing.T) (*Book, SoakID) {
	t.Helper()
	b := openNew(t)
	addUnit(t, b, "B8-0147")
	ctx := t.Context()
	id, err := b.BeginSoak(ctx, Soak{Bench: "quay", Place: "left", Unit: "B8-0147", Planned: 10 * time.Hour, Begin: begin,
		Sheet: SheetCopy{Name: "brambling-8", Text: sheetText}})
	must(t, err)
	var readings []TaggedReading
	for i := -10_000; i < 90_000; i++ {
		readings = append(readings, digits(t, rail, time.Duration(i)*500*time.Millisecond, "5.01"+string(rune('0'+i&7))+string(rune('0'+i>>3&7))))
	}
	write(t, b, readings...)
	from := begin.Add(5 * time.Hour)
	must(t, b.PutExcursion(ctx, id, checks.Excursion{Check: checks.CheckKey{TestPoint: "rail-5v", Measure: rail.Measure},
		State: checks.Outside, From: from, To: from.Add(time.Minute), Worst: 5.3, WorstAt: from}))
	round := aRound("while it soaks")
	round.Begin = begin.Add(8 * time.Hour)
	round.ID, err = b.BeginRound(ctx, round)
	must(t, err)
	must(t, b.EndRound(ctx, round.ID, round.Begin.Add(time.Minute)))
	must(t, b.EndSoak(ctx, id, SoakEnded, begin.Add(10*time.Hour), ""))
	must(t, b.PutVerdict(ctx, id, begin.Add(10*time.Hour), checks.Verdict{Outcome: checks.Pass}))
	return b, id
}

// after opens a book for upkeep some time after the tests' begin, beside b.
func after(t *testing.T, b *Book, later time.Duration) *Book {
	t.Helper()
	return openAt(t, b.Path(), Options{Beside: true, Now: func() time.Time { return begin.Add(later) }})
}

// TestThin: what is near the excursion, near the round or not of the soak is all
// there; of the rest the envelopes are left, which chart the same; the book says so,
// and imports nothing of it again.
func TestThin(t *testing.T) {
	b, id := oldSoak(t)
	all := readAll(t, b, Filter{})
	chart, err := b.Envelopes(t.Context(), Filter{}, 20)
	must(t, err)
	var csv strings.Builder
	_, err = b.ExportCSV(t.Context(), &csv, Filter{})
	must(t, err)
	const days = 24 * time.Hour
	upkeep := after(t, b, 90*days)
	if none, err := upkeep.Thin(t.Context(), Thin{OlderThan: 91 * days}); len(none) != 0 || err != nil {
		t.Errorf("a soak too young: %v (%v)", none, err)
	}
	done, err := upkeep.Thin(t.Context(), Thin{OlderThan: 30 * days})
	if err != nil || len(done) != 1 || done[0].Soak != id || done[0].Readings < 30_000 {
		t.Fatalf("%+v (%v)", done, err)
	}
	kept := make(map[time.Time]bool)
	left := readAll(t, b, Filter{})
	for _, r := range left {
		kept[r.At] = true
	}
	if len(left) != len(all)-int(done[0].Readings) {
		t.Errorf("%d readings left of %d, %d thinned", len(left), len(all), done[0].Readings)
	}
	for _, r := range all {
		since := r.At.Sub(begin)
		if near := since < 0 || since > 10*time.Hour || within(since, 5*time.Hour) || within(since, 8*time.Hour); near && !kept[r.At] {
			t.Fatalf("the reading %v after the soak's begin is gone", since)
		}
	}
	sameChart(t, b, chart[0])
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("book check: %v", problems)
	}
	if err := b.Whole(t.Context(), id); !errors.Is(err, ErrThinned) {
		t.Errorf("the soak is whole: %v", err)
	}
	told, err := b.Thinnings(t.Context())
	if err != nil || len(told) != 1 || told[0] != done[0] {
		t.Errorf("the book says %+v (%v), want %+v", told, err, done[0])
	}
	if again, err := upkeep.Thin(t.Context(), Thin{OlderThan: 30 * days}); len(again) != 0 || err != nil {
		t.Errorf("thinned twice: %v (%v)", again, err)
	}
	in, err := b.ImportCSV(t.Context(), strings.NewReader(csv.String()), nil)
	if err != nil || in.Readings != 0 || in.Known != int64(len(all)) {
		t.Errorf("import of all readings: %+v (%v)", in, err)
	}
	info, err := b.Info(t.Context())
	if err != nil || info.Thinned != done[0].Readings || info.Readings != int64(len(left)) {
		t.Errorf("info: %+v (%v)", info, err)
	}
}

// within tells whether a time is around a minute's event as Thin keeps it.
func within(since, event time.Duration) bool {
	return since >= event-defaultKeepAround && since <= event+time.Minute+defaultKeepAround
}

// sameChart compares a chart of the whole book with one of before it was thinned: at
// the ends of intervals an envelope of a minute counts on one side.
func sameChart(t *testing.T, b *Book, before Envelope) {
	t.Helper()
	chart, err := b.Envelopes(t.Context(), Filter{}, len(before.Buckets))
	must(t, err)
	var n, want int64
	for i, bucket := range chart[0].Buckets {
		old := before.Buckets[i]
		n, want = n+bucket.Count, want+old.Count
		if bucket.Low != old.Low || bucket.High != old.High || math.Abs(bucket.Mean-old.Mean) > 1e-4 {
			t.Errorf("bucket %d: %+v, want %+v", i, bucket, old)
		}
	}
	if n != want {
		t.Errorf("%d readings in the chart, want %d", n, want)
	}
}

// TestThinKeepsWhatIsNotShipped: a target of shipping that has nothing yet keeps all.
func TestThinKeepsWhatIsNotShipped(t *testing.T) {
	b, _ := oldSoak(t)
	_, err := b.writing.ExecContext(t.Context(), `INSERT INTO ship_target (name, chain, refused) VALUES ('engine', 0, 0)`)
	must(t, err)
	done, err := after(t, b, 9000*time.Hour).Thin(t.Context(), Thin{OlderThan: time.Hour})
	if err != nil || len(done) != 1 || done[0].Readings != 0 {
		t.Errorf("%+v (%v)", done, err)
	}
	if err := b.Whole(t.Context(), 1); err != nil {
		t.Errorf("nothing was thinned, but %v", err)
	}
}

// TestCheckOfThinned: damage in envelopes is named, and a repair keeps the rest.
func TestCheckOfThinned(t *testing.T) {
	b, _ := oldSoak(t)
	_, err := after(t, b, 9000*time.Hour).Thin(t.Context(), Thin{OlderThan: time.Hour})
	must(t, err)
	before := exported(t, b)
	chart, err := b.Envelopes(t.Context(), Filter{}, 20)
	must(t, err)
	mended(t, b, before, true)
	_, err = b.Repair(t.Context(), b.Path()+".second", nil)
	must(t, err)
	sameChart(t, openAt(t, b.Path()+".second", Options{}), chart[0])
	_, err = b.writing.ExecContext(t.Context(), `UPDATE thinned SET data = x'00112233' WHERE id = (SELECT min(id) FROM thinned)`)
	must(t, err)
	if problems := checked(t, b); len(problems) != 1 || !strings.Contains(problems[0].Text, "envelopes of its") {
		t.Errorf("book check: %v", problems)
	}
}

// TestShrink: what is free goes back to the disk while a writer goes on in another
// process's way; not one of its readings is missing.
func TestShrink(t *testing.T) {
	b, _ := oldSoak(t)
	upkeep := after(t, b, 9000*time.Hour)
	_, err := upkeep.Thin(t.Context(), Thin{OlderThan: time.Hour})
	must(t, err)
	_, err = b.writing.ExecContext(t.Context(), `PRAGMA wal_checkpoint(TRUNCATE)`)
	must(t, err)
	before := readAll(t, b, Filter{})
	var committed atomic.Int64
	some := make(chan struct{})
	w := NewWriter(b, WriterOptions{CommitEvery: time.Millisecond, Committed: func(c Commit) {
		if c.Err == nil && committed.Add(int64(c.Readings)) == int64(c.Readings) {
			close(some)
		}
	}})
	stop := running(t, w)
	var appended atomic.Int64
	ended := make(chan struct{})
	var appending sync.WaitGroup
	appending.Go(func() {
		for {
			select {
			case <-ended:
				return
			default:
			}
			i := appended.Load()
			if w.Append(digits(t, rail, 40*time.Hour+time.Duration(i)*time.Millisecond, "5.0")) == nil {
				appended.Add(1)
			}
		}
	})
	<-some
	freed, err := upkeep.Shrink(t.Context())
	close(ended)
	appending.Wait()
	must(t, stop())
	if err != nil || freed < 10_000 {
		t.Errorf("%d bytes given back (%v)", freed, err)
	}
	after := readAll(t, b, Filter{})
	if len(after) != len(before)+int(appended.Load()) || !slices.Equal(after[:len(before)], before) {
		t.Errorf("%d readings, were %d and %d more", len(after), len(before), appended.Load())
	}
	if problems := checked(t, b); len(problems) > 0 {
		t.Errorf("book check: %v", problems)
	}
}
