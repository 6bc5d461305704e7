package logger

import (
	"context"
	"database/sql"
	"strings"
	"testing"
	"time"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// hold keeps the owner busy until the returned function is called.
func (r *rig) hold() (release func()) {
	r.t.Helper()
	busy, free := make(chan struct{}), make(chan struct{})
	go func() {
		if err := r.ask(context.WithoutCancel(r.t.Context()), func() { close(busy); <-free }); err != nil {
			r.t.Error(err)
		}
	}()
	<-busy
	return func() { close(free) }
}

// TestFlood: readings for which the owner has no time are counted, are in the book
// as a loss, are missing from the evidence that is shown, and count in the verdict.
func TestFlood(t *testing.T) {
	settings := testSettings(t)
	r := startRig(t, settings).run()
	soak := r.begin("B8-0147", "left", time.Hour)
	// Times are given, so that the losses have a length that does not depend on how
	// quick this machine is: a reading every 100 ms.
	at := func(i int) time.Time { return soak.Begin.Add(time.Duration(i) * 100 * time.Millisecond) }
	release := r.hold()
	const sent = inboxSize + 1000
	for i := range sent {
		r.reading(rail, 5.02, at(i))
	}
	release()
	r.sync()
	lost := r.Counters.Losses()[lostInbox]
	if lost < 1000 || lost > 1001 { // one may have been on its way to the owner
		t.Errorf("%d readings were lost, want 1000", lost)
	}
	if got := r.Counters.Series()[book.Tag{Bench: "pier", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v",
		Instrument: "meter", Measure: device.DCVoltage}].Readings; got != sent-lost {
		t.Errorf("%d readings were taken and %d lost, want %d together", got, lost, sent)
	}
	r.tellNow(t)
	live := r.live("B8-0147")
	end := at(sent)
	share := 0.0
	if err := r.ask(t.Context(), func() { share = live.judgement.Evidence(end) }); err != nil {
		t.Fatal(err)
	}
	if share > 0.95 || share < 0.8 {
		t.Errorf("the evidence is %g, and 100 s of 919 s are lost", share)
	}
	if !strings.Contains(r.log.String(), "readings were lost") {
		t.Error("the log does not say that readings were lost")
	}
	r.reading(rail, 5.02, end)
	r.sync()
	r.clock.Shift(sent * 100 * time.Millisecond)
	r.clock.set(scpi.Stray{SleepKnown: true})
	if err := r.EndSoak(t.Context(), "B8-0147", "enough"); err != nil {
		t.Fatal(err)
	}
	verdict := (<-r.finished).Verdict
	check := verdict.Checks[0]
	if check.Lost != int(lost) || verdict.Outcome == checks.Pass || !hasCause(check.Gaps, lostInbox) {
		t.Errorf("%s with %d lost, gaps %v", verdict.Outcome, check.Lost, check.Gaps)
	}
	losses, err := r.book.Losses(t.Context(), book.Filter{Unit: "B8-0147"})
	if err != nil || len(losses) == 0 {
		t.Fatalf("losses in the book: %v, %v", losses, err)
	}
	r.close()
}

// tellNow has the owner see to the losses that it would see to at its next tick.
func (r *rig) tellNow(t *testing.T) {
	t.Helper()
	if err := r.ask(t.Context(), func() { r.tellLosses(endOfTime) }); err != nil {
		t.Fatal(err)
	}
}

func hasCause(gaps []checks.Gap, cause string) bool {
	for _, gap := range gaps {
		if strings.Contains(gap.Cause, cause) {
			return true
		}
	}
	return false
}

// TestRecordsThatWaitAreBounded: a record can be a megabyte, and the owner may be
// busy: no more than a few wait, the others are counted.
func TestRecordsThatWaitAreBounded(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	release := r.hold()
	for range 3 * mostRecords {
		r.TakeCapture("meter", rail, device.Capture{At: r.now(), Volts: make([]float64, 10)})
	}
	if waiting := r.records.Load(); waiting != mostRecords {
		t.Errorf("%d records wait", waiting)
	}
	if lost := r.Counters.Losses()[lostInbox]; lost != 2*mostRecords {
		t.Errorf("%d records were counted as lost, want %d", lost, 2*mostRecords)
	}
	release()
	r.sync()
	r.TakeCapture("meter", rail, device.Capture{At: r.now()})
	if lost := r.Counters.Losses()[lostInbox]; lost != 2*mostRecords {
		t.Error("there is room again, and a record was lost")
	}
}

// TestSlowBook: somebody else holds the book's file, so that commits hang. Readings
// wait, the bench answers at once, and all are in the book afterwards.
func TestSlowBook(t *testing.T) {
	settings := testSettings(t)
	settings.CommitEvery = 10 * time.Millisecond
	r := startRig(t, settings).run()
	soak := r.begin("B8-0147", "left", time.Hour)
	holder, err := sql.Open("sqlite", "file:"+settings.Book+"?_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer holder.Close()
	holder.SetMaxOpenConns(1)
	if _, err := holder.ExecContext(t.Context(), "BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	const sent = 2000
	for i := range sent {
		r.reading(rail, 5.02, soak.Begin.Add(time.Duration(i)*time.Millisecond))
	}
	r.sync()
	for r.Health().CommittingSince.IsZero() { // until a commit hangs
		snapshot, err := r.Snapshot(t.Context())
		if err != nil || len(snapshot.Soaks) != 1 {
			t.Fatalf("the bench does not answer: %v", err)
		}
	}
	snapshot, err := r.Snapshot(t.Context())
	if err != nil || snapshot.Book.Pending == 0 {
		t.Errorf("while a commit hangs: %+v, %v", snapshot.Book, err)
	}
	if _, err := holder.ExecContext(t.Context(), "ROLLBACK"); err != nil {
		t.Fatal(err)
	}
	if err := r.writer.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	kept := 0
	for _, err := range r.book.SoakReadings(t.Context(), soak.ID) {
		if err != nil {
			t.Fatal(err)
		}
		kept++
	}
	if kept != sent || len(r.Health().Lost) != 0 {
		t.Errorf("%d of %d readings are in the book, lost %v", kept, sent, r.Health().Lost)
	}
	r.close()
}
