package devicetest

import (
	"context"
	"errors"
	"testing"
	"time"

	"soakline/device"
)

// Rig is an instrument under test, with what can be done to it.
type Rig struct {
	Link device.Link
	// Wants are asked for; none where the instrument talks.
	Wants []device.Want
	// Check says what is wrong with a reading that the instrument never gave.
	Check func(Delivered) error
	// Pull takes the plug out; Return puts it back, with another device behind the
	// same address.
	Pull, Return func()
	// Silence stops what the instrument says until it is called with false.
	Silence func(on bool)
	// Garbage makes the next thing that it says garbage.
	Garbage func()
}

// Run tests what a Keeper promises with one kind of instrument; open gives a
// fresh one.
func Run(t *testing.T, open func(t *testing.T) Rig) {
	for _, promise := range []struct {
		name string
		test func(*testing.T, *bed)
	}{
		{"it says that it is open, and reads", reads},
		{"S-P1, S-P2: a pulled plug is told, and reading goes on when it is back", returns},
		{"S-P4: what was half said when the plug was pulled is not used", returnsTwice},
		{"silence is told, and so is its end", isSilent},
		{"garbage is told and is no reading", isGarbled},
		{"work that is brought is done between two questions", worksBetween},
		{"other wants are taken up", changesWants},
		{"it ends with its context while the plug is out", endsWithout},
	} {
		t.Run(promise.name, func(t *testing.T) {
			b := newBed(t, open(t))
			promise.test(t, b)
			b.stop()
			b.check()
		})
	}
}

// bed is a rig with a keeper at work.
type bed struct {
	Rig
	*Recorder
	t      *testing.T
	keeper *device.Keeper
	stop   func()
}

func newBed(t *testing.T, rig Rig) *bed {
	b := &bed{Rig: rig, Recorder: NewRecorder(), t: t}
	b.keeper = device.NewKeeper(rig.Link, b.Recorder)
	b.keeper.SetWants(rig.Wants)
	b.stop = Start(t, b.keeper)
	b.AwaitReadings(t, 3)
	return b
}

// check holds every reading against what the instrument gave.
func (b *bed) check() {
	var last time.Time
	for i, d := range b.Readings() {
		if err := b.Check(d); err != nil {
			b.t.Errorf("reading %d: %v", i, err)
		}
		if d.At.Before(last) || d.At.Nanosecond()%1000 != 0 {
			b.t.Errorf("reading %d came at %v, the one before at %v", i, d.At, last)
		}
		last = d.At
	}
	for _, e := range b.Events() {
		if e.Instrument != b.Link.Name || e.Text == "" || e.At.IsZero() {
			b.t.Errorf("event %+v", e)
		}
	}
}

func reads(t *testing.T, b *bed) {
	b.AwaitReadings(t, 10)
	if first := b.Events()[0]; first.Kind != device.Opened {
		t.Errorf("the first event is %+v", first)
	}
	status := b.keeper.Status()
	if !status.Up || status.Readings < 13 || status.Reopens != 0 || status.Trouble != "" || status.Port == "" || status.LastReadingAt.IsZero() {
		t.Errorf("status %+v", status)
	}
	b.stop()
	if status := b.keeper.Status(); status.Up {
		t.Errorf("after the end: %+v", status)
	}
}

func returns(t *testing.T, b *bed) {
	so := len(b.Events())
	b.Pull()
	b.AwaitEvent(t, device.Lost, so)
	if status := b.keeper.Status(); status.Up || status.Trouble == "" {
		t.Errorf("while it is away: %+v", status)
	}
	b.Return()
	b.AwaitEvent(t, device.Opened, so)
	b.AwaitReadings(t, 3)
	if status := b.keeper.Status(); !status.Up || status.Reopens != 1 || status.Trouble != "" {
		t.Errorf("when it is back: %+v", status)
	}
}

func returnsTwice(t *testing.T, b *bed) {
	returns(t, b)
	so := len(b.Events())
	b.Pull()
	b.AwaitEvent(t, device.Lost, so)
	b.Return()
	b.AwaitEvent(t, device.Opened, so)
	b.AwaitReadings(t, 3)
}

func isSilent(t *testing.T, b *bed) {
	so := len(b.Events())
	b.Silence(true)
	b.AwaitEvent(t, device.Silence, so)
	if status := b.keeper.Status(); status.Trouble == "" {
		t.Errorf("while it is silent: %+v", status)
	}
	b.Silence(false)
	b.AwaitEvent(t, device.Returned, so)
	b.AwaitReadings(t, 3)
}

func isGarbled(t *testing.T, b *bed) {
	so := len(b.Events())
	b.Garbage()
	b.AwaitEvent(t, device.Garbage, so)
	b.AwaitReadings(t, 3)
}

func worksBetween(t *testing.T, b *bed) {
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	done := false
	err := b.keeper.Do(ctx, func(ctx context.Context, s *device.Session) error {
		done = true
		return ctx.Err()
	})
	if b.Link.Commands.Listen != nil {
		if own, ok := errors.AsType[*device.Error](err); !ok || own.Kind != device.Unsuitable || done {
			t.Errorf("a talker was asked: %v", err)
		}
		return
	}
	if err != nil || !done {
		t.Errorf("done: %v, %v", done, err)
	}
	b.AwaitReadings(t, 3)
}

func changesWants(t *testing.T, b *bed) {
	if len(b.Wants) == 0 {
		b.keeper.SetWants([]device.Want{{Measure: device.Ripple}}) // nothing to a talker
		b.AwaitReadings(t, 3)
		return
	}
	b.keeper.SetWants(nil)
	b.keeper.SetWants(b.Wants[:1])
	only := b.Wants[0]
	b.AwaitReadings(t, 2) // one may have been under way
	from := len(b.Readings())
	b.AwaitReadings(t, 5)
	for _, d := range b.Readings()[from:] {
		if d.Channel != only.Channel || d.Measure != only.Measure {
			t.Errorf("%s on channel %q, although only %s is wanted", d.Measure, d.Channel, only)
		}
	}
}

func endsWithout(t *testing.T, b *bed) {
	so := len(b.Events())
	b.Pull()
	b.AwaitEvent(t, device.Lost, so)
	b.stop()
}
