package logger

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// own is the owner's loop: what is asked of it and what time brings. What instruments
// deliver is taken by whoever has the time. When the context ends the queue is emptied
// first, and then there is no owner any more.
func (b *Bench) own(ctx context.Context) {
	clock := time.NewTicker(tick)
	defer clock.Stop()
	b.duty.Unlock()
	b.deliver()
	for {
		select {
		case work := <-b.requests:
			b.onDuty(work)
		case <-clock.C:
			b.onDuty(func() {
				b.watchClock()
				b.advance(ctx, b.now())
			})
		case <-ctx.Done():
			b.duty.Lock()
			b.takeAll()
			b.tellLosses(endOfTime)
			b.tellAll()
			return
		}
	}
}

// onDuty does the owner's work, and then takes what was delivered meanwhile.
func (b *Bench) onDuty(work func()) {
	b.duty.Lock()
	work()
	b.duty.Unlock()
	b.deliver()
}

// deliver takes what is in the inbox, unless somebody is on duty: that one does it
// afterwards. So an instrument's goroutine mostly takes its own delivery, and no other
// goroutine has to wake for a reading, which is most of what a reading costs. It waits
// for nobody.
func (b *Bench) deliver() {
	for len(b.inbox) > 0 && b.duty.TryLock() {
		b.takeAll()
		b.duty.Unlock()
	}
}

// takeAll empties the inbox. It is the owner's.
func (b *Bench) takeAll() {
	for {
		select {
		case d := <-b.inbox:
			b.take(d)
		default:
			return
		}
	}
}

// ErrStopped says that the bench has stopped.
var ErrStopped = errors.New("the bench has stopped")

// ask has the owner do something and waits until it is done.
func (b *Bench) ask(ctx context.Context, work func()) error {
	done := make(chan struct{})
	select {
	case b.requests <- func() { work(); close(done) }:
		<-done
		return nil
	case <-b.owned:
		return ErrStopped
	case <-ctx.Done():
		return fmt.Errorf("the bench does not answer: %w", ctx.Err())
	}
}
