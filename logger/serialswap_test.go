package logger_test

import (
	"context"
	"testing"
	"time"

	"soakline/device"
	"soakline/logger/book"
)

// TestNamesSwappedWhileAway: two adapters swap their names while the program is away
// in the middle of a soak. When it is back it knows from the book who answered where,
// and takes nothing until the names are right again.
func TestNamesSwappedWhileAway(t *testing.T) {
	p := newPatient(t, 0)
	p.mishap = mishap{name: "names swapped while the program is away", mute: true, both: true, kinds: []device.Kind{device.Stranger}}
	patients := []*patient{p}
	settings := faultSettings(t, patients)
	ctx, cancel := context.WithTimeout(t.Context(), 4*time.Minute)
	defer cancel()
	bench, stop := faultBench(t, settings, patients)
	p.soaks(t, bench)
	p.plugIn(p.meters)
	if err := p.goesOn(ctx, bench); err != nil {
		t.Fatal(err)
	}
	stop()
	p.pullAll()
	p.swap()
	p.from = time.Now()
	bench, _ = faultBench(t, settings, patients)
	for _, m := range p.meters {
		until(ctx, t, "word of a stranger", func() bool { return strangers(t, bench.Book(), m.name) > 0 })
		if bench.Keeper(m.name).Status().Up {
			t.Errorf("%s is read, and another answers there", m.name)
		}
	}
	until(ctx, t, "the time that makes a gap", func() bool { return time.Since(p.from) > mishapLasts })
	p.to = time.Now()
	p.pullAll()
	p.swap()
	if err := p.goesOn(ctx, bench); err != nil {
		t.Fatal(err)
	}
	if err := bench.EndSoak(ctx, p.unit, "seen enough"); err != nil {
		t.Fatal(err)
	}
	p.examine(t, bench.Book())
}

// strangers is how often the book says that another instrument answered.
func strangers(t *testing.T, b *book.Book, instrument string) (n int) {
	t.Helper()
	events, err := b.Events(t.Context(), "", time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if e.Instrument == instrument && e.Kind == device.Stranger {
			n++
		}
	}
	return n
}
