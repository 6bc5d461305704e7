package logger

import (
	"errors"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// TestSoakOfEightHours: a reading a second for eight hours, in a bubble of time.
// The verdict that is kept is that of the book, and equal to the live one to the
// last bit.
func TestSoakOfEightHours(t *testing.T) {
	rows := []struct {
		name    string
		at      func(second int) (volts float64, silent bool)
		outcome checks.Outcome
		reason  string
	}{
		{"good", func(int) (float64, bool) { return 5.02, false }, checks.Pass, ""},
		{"the rail sags for a minute in the fourth hour", func(s int) (float64, bool) {
			if s >= 3*3600 && s < 3*3600+60 {
				return 4.7, false
			}
			return 5.02, false
		}, checks.Fail, "left its limits"},
		{"the meter is silent for six minutes", func(s int) (float64, bool) { return 5.02, s >= 7200 && s < 7560 }, checks.Undecided, "had no fresh reading"},
		{"nothing is ever read", func(int) (float64, bool) { return 0, true }, checks.Undecided, ""},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			settings := testSettings(t)
			settings.CommitEvery = 20 * time.Minute // the disk has no part in this
			synctest.Test(t, func(t *testing.T) {
				r := startRig(t, settings).run()
				begun := r.begin("B8-0147", "left", 8*time.Hour)
				live := r.live("B8-0147")
				for second := range 8 * 3600 {
					if volts, silent := row.at(second); !silent {
						r.volts(rail, volts)
					}
					time.Sleep(time.Second)
				}
				finished := <-r.finished
				if finished.ID != begun.ID || finished.Verdict.Outcome != row.outcome {
					t.Errorf("soak %d: %s, want soak %d: %s (%v)", finished.ID, finished.Verdict.Outcome, begun.ID, row.outcome, finished.Verdict.Sentences(nil))
				}
				if text := strings.Join(finished.Verdict.Sentences(nil), "; "); !strings.Contains(text, row.reason) {
					t.Errorf("reasons %q, want %q in them", text, row.reason)
				}
				if want := encoded(t, live.judgement.End(begun.Begin.Add(8*time.Hour))); encoded(t, finished.Verdict) != want {
					t.Errorf("the book's verdict is\n%s\nand the live one\n%s", encoded(t, finished.Verdict), want)
				}
				r.close()
			})
			keptAs(t, settings.Book, 1, row.outcome)
		})
	}
}

// keptAs: the book is whole and has this verdict, and judging it again gives the
// same one.
func keptAs(t *testing.T, path string, id book.SoakID, want checks.Outcome) {
	t.Helper()
	b, err := book.Open(t.Context(), path, book.Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	kept, err := b.Verdict(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	again, err := JudgeFromBook(t.Context(), b, id, testSheet())
	if err != nil {
		t.Fatal(err)
	}
	if kept.Outcome != want || encoded(t, again) != encoded(t, kept.Verdict) {
		t.Errorf("kept %s, want %s; judged again %s", encoded(t, kept.Verdict), want, encoded(t, again))
	}
}

// TestSoakStopped: a soak that is stopped is at best undecided, keeps its reason,
// and its place can be taken at once.
func TestSoakStopped(t *testing.T) {
	settings := testSettings(t)
	r := startRig(t, settings).run()
	defer r.close()
	r.begin("B8-0147", "left", time.Hour)
	live := r.live("B8-0147")
	r.volts(rail, 5.02)
	r.sync()
	if err := r.EndSoak(t.Context(), "B8-0147", "smell of hot varnish"); err != nil {
		t.Fatal(err)
	}
	r.begin("B8-0148", "left", time.Hour)
	finished := <-r.finished
	if finished.Verdict.Outcome != checks.Undecided {
		t.Errorf("outcome %s", finished.Verdict.Outcome)
	}
	if want := encoded(t, live.judgement.End(finished.Verdict.End)); encoded(t, finished.Verdict) != want {
		t.Errorf("the book's verdict is\n%s\nand the live one\n%s", encoded(t, finished.Verdict), want)
	}
	kept, err := r.book.Soak(t.Context(), 1)
	if err != nil || kept.State != book.SoakStopped || kept.Reason != "smell of hot varnish" {
		t.Errorf("kept %+v, %v", kept, err)
	}
	if err := r.EndSoak(t.Context(), "B8-0147", "again"); !errors.Is(err, ErrNotSoaks) {
		t.Errorf("ended twice: %v", err)
	}
}

func TestSoakRefused(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	if err := r.book.AddUnit(t.Context(), book.Unit{ID: "X-1", Console: "Corncrake II"}); err != nil {
		t.Fatal(err)
	}
	r.begin("B8-0147", "left", time.Hour)
	rows := []struct {
		name, unit, place string
		want              error
		text              string
	}{
		{"not booked in", "B8-9999", "", book.ErrNotFound, "B8-9999"},
		{"console without a sheet", "X-1", "", ErrNoSheet, `"Corncrake II"`},
		{"place taken", "B8-0148", "left", ErrNoPlace, "place left is taken by B8-0147"},
		{"test point not wired", "B8-0148", "shelf", ErrNoPlace, "place shelf has nothing at rail-5v"},
		{"no such place", "B8-0148", "roof", ErrNoPlace, `no place named "roof"`},
		{"on a soak already", "B8-0147", "right", book.ErrExists, "running soak"},
	}
	for _, row := range rows {
		_, err := r.BeginSoak(t.Context(), SoakRequest{Unit: checks.UnitID(row.unit), Place: row.place})
		if !errors.Is(err, row.want) || !strings.Contains(err.Error(), row.text) {
			t.Errorf("%s: %v, want %v with %q", row.name, err, row.want, row.text)
		}
	}
	if r.begin("B8-0148", "", time.Hour).Place != "right" {
		t.Error("the free place is not found")
	}
	_, err := r.BeginSoak(t.Context(), SoakRequest{Unit: "B8-0149"})
	if !errors.Is(err, ErrNoPlace) {
		t.Errorf("no free place: %v", err)
	}
}

// TestTwoAskForOnePlace: of units that ask for the same place at the same time one
// gets it.
func TestTwoAskForOnePlace(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	var wg sync.WaitGroup
	errs := make(chan error, 3)
	for _, unit := range []checks.UnitID{"B8-0147", "B8-0148", "B8-0149"} {
		wg.Go(func() {
			_, err := r.BeginSoak(t.Context(), SoakRequest{Unit: unit, Place: "left"})
			errs <- err
		})
	}
	wg.Wait()
	close(errs)
	begun := 0
	for err := range errs {
		if err == nil {
			begun++
		} else if !errors.Is(err, ErrNoPlace) {
			t.Errorf("refused with %v", err)
		}
	}
	if begun != 1 {
		t.Errorf("%d units have the place", begun)
	}
}

// TestVerdictsShown: a unit's earlier verdict is not shown beside its new soak, and
// of a unit that was soaked at two places the later one is.
func TestVerdictsShown(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	for _, place := range []string{"left", "right"} {
		r.begin("B8-0147", place, time.Hour)
		snapshot, err := r.Snapshot(t.Context())
		if err != nil || len(snapshot.Soaks) != 1 || len(snapshot.Finished) != 0 {
			t.Fatalf("%d soaks, %d verdicts beside them, %v", len(snapshot.Soaks), len(snapshot.Finished), err)
		}
		if err := r.EndSoak(t.Context(), "B8-0147", "moved"); err != nil {
			t.Fatal(err)
		}
		<-r.finished
	}
	snapshot, err := r.Snapshot(t.Context())
	if err != nil || len(snapshot.Finished) != 1 || snapshot.Finished[0].Place != "right" {
		t.Errorf("shown: %+v, %v", snapshot.Finished, err)
	}
	// A verdict that comes late is not shown over a later one.
	late := snapshot.Finished[0]
	late.ID, late.Place = 1, "left"
	if err := r.ask(t.Context(), func() { r.showFinished(late) }); err != nil {
		t.Fatal(err)
	}
	if snapshot, _ = r.Snapshot(t.Context()); len(snapshot.Finished) != 1 || snapshot.Finished[0].ID != 2 {
		t.Errorf("after a late one: %+v", snapshot.Finished)
	}
}

// TestReadingOfTheOneBefore: what was on its way when a soak began is not the new
// unit's.
func TestReadingOfTheOneBefore(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	before := r.now().Add(-time.Millisecond)
	soak := r.begin("B8-0147", "left", time.Hour)
	r.reading(rail, 11.9, before)
	r.reading(rail, 5.02, soak.Begin)
	r.sync()
	if err := r.writer.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	for reading, err := range r.book.Readings(t.Context(), book.Filter{Unit: "B8-0147"}) {
		if err != nil || reading.Value != 5.02 {
			t.Errorf("the book has %+v, %v", reading, err)
		}
	}
}

// TestClockSetBack: the machine's clock is set back during a soak. Not one reading
// is lost, the book says what happened, and when no soak runs the new time holds.
func TestClockSetBack(t *testing.T) {
	settings := testSettings(t)
	settings.CommitEvery = 20 * time.Minute
	synctest.Test(t, func(t *testing.T) {
		r := startRig(t, settings).run()
		r.begin("B8-0147", "left", time.Hour)
		for second := range 3600 {
			if second == 1000 {
				r.clock.set(scpi.Stray{Ahead: -time.Hour, SleepKnown: true})
			}
			r.volts(rail, 5.02)
			time.Sleep(time.Second)
		}
		verdict := (<-r.finished).Verdict
		if verdict.Outcome != checks.Pass || verdict.Checks[0].OutOfOrder != 0 || verdict.Checks[0].GapCount != 0 {
			t.Errorf("verdict %+v", verdict)
		}
		time.Sleep(time.Second)
		events := r.events(programName) // by their times: the second was set back
		if len(events) != 2 || !strings.Contains(events[1].Text, "set back by 1h0m0s during a soak") || !strings.Contains(events[0].Text, "by the new one") {
			t.Errorf("events %+v", events)
		}
		if got := time.Until(r.clock.Now()); got != -time.Hour {
			t.Errorf("with no soak the clock is off by %v, want %v", got, -time.Hour)
		}
		r.close()
	})
}

// TestMachineSlept: time that the machine slept is a gap, never part of a pass;
// where it cannot be told from a clock that was set ahead, it is one as well.
func TestMachineSlept(t *testing.T) {
	for _, stray := range []scpi.Stray{{Ahead: 6 * time.Minute, Slept: 6 * time.Minute, SleepKnown: true}, {Ahead: 6 * time.Minute}} {
		settings := testSettings(t)
		settings.CommitEvery = 20 * time.Minute
		synctest.Test(t, func(t *testing.T) {
			r := startRig(t, settings).run()
			r.begin("B8-0147", "left", time.Hour)
			for second := range 3600 - 360 {
				if second == 1000 {
					r.clock.set(stray)
				}
				r.volts(rail, 5.02)
				time.Sleep(time.Second)
			}
			verdict := (<-r.finished).Verdict
			if gap := verdict.Checks[0].LongestGap; verdict.Outcome != checks.Undecided || gap < 6*time.Minute || gap > 6*time.Minute+2*time.Second {
				t.Errorf("%+v: %s with a gap of %v", stray, verdict.Outcome, gap)
			}
			if events := r.events(programName); len(events) != 1 || !strings.Contains(events[0].Text, "slept for 6m0s") {
				t.Errorf("events %+v", events)
			}
			r.close()
		})
	}
}
