package logger

import (
	"fmt"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"soakline/checks"
	"soakline/device"
)

// TestRunsOfEvents: of events that come again and again the book keeps the first,
// once a minute how many there were, and the rest when the run ends or the bench
// stops.
func TestRunsOfEvents(t *testing.T) {
	settings := testSettings(t)
	settings.CommitEvery = time.Hour
	synctest.Test(t, func(t *testing.T) {
		r := startRig(t, settings).run()
		event := func(kind device.Kind, text string) {
			r.TakeEvent(device.Event{Instrument: "scope", Kind: kind, Text: text, At: r.now()})
			time.Sleep(time.Second)
		}
		time.Sleep(tick / 2) // never at the same moment as a tick
		for range 150 {
			event(device.Silence, "no answer")
		}
		event(device.Returned, "again after silence")
		for i := range 3 {
			event(device.Garbage, fmt.Sprintf("garbage %d", i))
		}
		event(device.Opened, "open")
		event(device.Silence, "no answer")
		event(device.Silence, "no answer at all")
		r.stop()
		if err := <-r.ended; err != nil {
			t.Fatal(err)
		}
		var texts []string
		for _, e := range r.events("scope") {
			texts = append(texts, e.Text)
		}
		// 149 more come after the first, and every minute ends with the tick after one.
		want := []string{"no answer", "60 times more: no answer", "60 times more: no answer", "29 times more: no answer",
			"again after silence", "garbage 0", "2 times more: garbage 2", "open", "no answer", "once more: no answer at all"}
		if strings.Join(texts, "|") != strings.Join(want, "|") {
			t.Errorf("the book has\n%s\nwant\n%s", strings.Join(texts, "\n"), strings.Join(want, "\n"))
		}
		if got := r.Counters.Troubles()[Trouble{"scope", device.Silence}]; got != 152 {
			t.Errorf("%d silences are counted, want 152", got)
		}
		if err := r.book.Close(); err != nil {
			t.Error(err)
		}
	})
}

// TestExcursionIsKeptWhileItLasts: an excursion is in the book before the soak ends.
func TestExcursionIsKeptWhileItLasts(t *testing.T) {
	r := startRig(t, testSettings(t)).run()
	defer r.close()
	soak := r.begin("B8-0147", "left", time.Hour)
	for second := range 20 {
		r.reading(rail, 4.5, soak.Begin.Add(time.Duration(second)*time.Second))
	}
	r.sync()
	if err := r.writer.Flush(t.Context()); err != nil {
		t.Fatal(err)
	}
	kept, err := r.book.Excursions(t.Context(), soak.ID)
	if err != nil || len(kept) != 1 || !kept[0].To.IsZero() || kept[0].State != checks.Outside {
		t.Fatalf("excursions in the book: %+v, %v", kept, err)
	}
	begun := 0
	for key, n := range r.Counters.Excursions() {
		if key.Unit == "B8-0147" && key.State == checks.Outside {
			begun += int(n)
		}
	}
	if begun != 1 {
		t.Errorf("%d excursions are counted, want 1", begun)
	}
}
