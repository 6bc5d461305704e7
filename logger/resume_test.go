package logger

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/logger/book"
)

// TestSoakGoesOn: the program stops in the middle of a soak and starts again. The
// soak goes on at its place and the gap is in its evidence.
func TestSoakGoesOn(t *testing.T) {
	settings := testSettings(t)
	settings.CommitEvery = 20 * time.Minute
	synctest.Test(t, func(t *testing.T) {
		feed := func(r *rig, seconds int) {
			for range seconds {
				r.volts(rail, 5.02)
				time.Sleep(time.Second)
			}
		}
		r := startRig(t, settings).run()
		begun := r.begin("B8-0147", "left", time.Hour)
		feed(r, 1200)
		r.close()
		time.Sleep(10 * time.Minute)
		r = startRig(t, settings).run()
		live := r.live("B8-0147")
		feed(r, 1805)
		finished := <-r.finished
		check := finished.Verdict.Checks[0]
		if finished.ID != begun.ID || finished.Verdict.Outcome != checks.Undecided || check.LongestGap != 10*time.Minute+time.Second {
			t.Errorf("soak %d: %s, longest gap %v", finished.ID, finished.Verdict.Outcome, check.LongestGap)
		}
		if want := encoded(t, live.judgement.End(begun.Begin.Add(time.Hour))); encoded(t, finished.Verdict) != want {
			t.Errorf("the book's verdict is\n%s\nand the live one\n%s", encoded(t, finished.Verdict), want)
		}
		if events := r.events(programName); len(events) != 1 || !strings.Contains(events[0].Text, "goes on") {
			t.Errorf("events %+v", events)
		}
		r.close()
	})
}

// TestSoakGoesOnWithAClockSetBack: while the program was away the machine's clock
// was set back by an hour. What comes now is not older than what was read before.
func TestSoakGoesOnWithAClockSetBack(t *testing.T) {
	settings := testSettings(t)
	settings.CommitEvery = 20 * time.Minute
	synctest.Test(t, func(t *testing.T) {
		r := startRig(t, settings).run()
		r.begin("B8-0147", "left", 3*time.Hour)
		for range 600 {
			r.volts(rail, 5.02)
			time.Sleep(time.Second)
		}
		last := r.now()
		r.close()
		r = startRig(t, settings)
		r.clock.offset = -time.Hour
		r.run()
		live := r.live("B8-0147")
		for range 60 {
			r.volts(rail, 5.02)
			time.Sleep(time.Second)
		}
		synctest.Wait() // the owner has judged what came
		standing := live.judgement.Standings()[0]
		if standing.Readings < 600+60-10 || standing.At.Before(last) {
			t.Errorf("%d readings are judged, the latest of %v; before the stop it was %v", standing.Readings, standing.At, last)
		}
		if events := r.events(programName); len(events) != 2 || !strings.Contains(events[0].Text+events[1].Text, "behind what was read before") {
			t.Errorf("events %+v", events)
		}
		r.close()
	})
}

// TestVerdictThatWasMissing: the program died between the end of a soak and its
// verdict; the next start gives it.
func TestVerdictThatWasMissing(t *testing.T) {
	settings := testSettings(t)
	r := startRig(t, settings).run()
	soak := r.begin("B8-0147", "left", time.Hour)
	r.volts(rail, 5.02)
	r.sync()
	r.close()
	b, err := book.Open(t.Context(), settings.Book, book.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if err := b.EndSoak(t.Context(), soak.ID, book.SoakEnded, soak.Begin.Add(time.Hour), ""); err != nil {
		t.Fatal(err)
	}
	if err := b.Close(); err != nil {
		t.Fatal(err)
	}
	r = startRig(t, settings).run()
	if finished := <-r.finished; finished.ID != soak.ID || finished.Verdict.Outcome != checks.Undecided {
		t.Errorf("soak %d: %s", finished.ID, finished.Verdict.Outcome)
	}
	r.close()
	r = startRig(t, settings).run()
	r.close()
	if len(r.finished) != 0 {
		t.Error("the verdict was given twice")
	}
}

// TestSoakThatCannotGoOn: the bench says what is wrong and what can be done, and
// whoever asks it something is not left waiting.
func TestSoakThatCannotGoOn(t *testing.T) {
	settings := testSettings(t)
	r := startRig(t, settings).run()
	r.begin("B8-0147", "left", time.Hour)
	r.close()
	settings.Places = settings.Places[1:]
	r = startRig(t, settings)
	err := r.Run(t.Context())
	if err == nil || !strings.Contains(err.Error(), `no place named "left"`) || !strings.Contains(err.Error(), "soakline soak end --unit B8-0147") {
		t.Errorf("the bench ended with %v", err)
	}
	if _, err := r.BeginSoak(t.Context(), SoakRequest{Unit: "B8-0148"}); !errors.Is(err, ErrStopped) {
		t.Errorf("asked for a soak it says %v", err)
	}
	runs, err := r.book.Runs(t.Context(), "pier")
	if err != nil || runs[len(runs)-1].End.IsZero() {
		t.Errorf("the run looks as if it had been cut off: %+v, %v", runs, err)
	}
	if err := r.book.Close(); err != nil {
		t.Error(err)
	}
}

// TestStoppingWithSoaks: the bench stops with one soak running and the verdict on
// another being given. Nothing hangs, the verdict is in the book, the soak is still
// running there, and every reading is.
func TestStoppingWithSoaks(t *testing.T) {
	for range 20 {
		settings := testSettings(t)
		r := startRig(t, settings).run()
		r.begin("B8-0147", "left", time.Hour)
		r.begin("B8-0148", "right", time.Hour)
		const sent = 500
		for range sent {
			r.volts(rail, 5.02)
			r.volts(other, 5.01)
		}
		r.sync()
		if err := r.ask(t.Context(), func() {
			r.endSoak(context.Background(), r.soaks[0], ending{state: book.SoakStopped, at: r.now(), reason: "stop"})
		}); err != nil {
			t.Fatal(err)
		}
		r.close()
		keptAs(t, settings.Book, 1, checks.Undecided)
		b, err := book.Open(t.Context(), settings.Book, book.Options{ReadOnly: true})
		if err != nil {
			t.Fatal(err)
		}
		running, err := b.RunningSoaks(t.Context(), "pier")
		if err != nil || len(running) != 1 || running[0].Unit != "B8-0148" {
			t.Errorf("running in the book: %+v, %v", running, err)
		}
		kept := 0
		for range b.SoakReadings(t.Context(), 2) {
			kept++
		}
		if kept != sent {
			t.Errorf("%d of %d readings are in the book", kept, sent)
		}
		if err := b.Close(); err != nil {
			t.Error(err)
		}
	}
}

// TestEndIsTriedAgain: an end that the book does not take is not taken for written;
// the next try writes it.
func TestEndIsTriedAgain(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	r.begin("B8-0147", "left", time.Hour)
	soak := *r.live("B8-0147")
	how := ending{state: book.SoakStopped, at: r.now(), reason: "stop", written: make(chan struct{})}
	cancelled, cancel := context.WithCancel(t.Context())
	cancel()
	if r.writeEnd(cancelled, &soak, how) {
		t.Error("the end was written although the book could not be")
	}
	if !r.writeEnd(t.Context(), &soak, how) {
		t.Error("the end could not be written")
	}
	<-how.written
}

// TestWhoAnswers: an instrument that answers after a soak has begun is written down
// with it, and so is another that takes its place.
func TestWhoAnswers(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	soak := r.begin("B8-0147", "left", time.Hour)
	live := r.live("B8-0147")
	if err := r.ask(t.Context(), func() { live.instruments["meter"] = book.SoakInstrument{Name: "meter", Identity: "another"} }); err != nil {
		t.Fatal(err)
	}
	r.TakeEvent(device.Event{Instrument: "meter", Kind: device.Opened, At: r.now().Add(time.Second)})
	r.TakeEvent(device.Event{Instrument: "nobody", Kind: device.Opened, At: r.now()})
	r.sync()
	if err := r.writer.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	kept, err := r.book.Soak(t.Context(), soak.ID)
	if err != nil || len(kept.Instruments) != 2 {
		t.Errorf("instruments %+v, %v", kept.Instruments, err)
	}
}
