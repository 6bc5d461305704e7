package device

import (
	"context"
	"time"
)

// poll asks what is wanted, in the order of what is due, until the port fails or
// the context ends. Silence and garbage do not end it: it gets in step again.
func (k *Keeper) poll(ctx context.Context, s *Session) error {
	var p plan
	atWork := false // an errand was just done, so that what is due goes first now
	for {
		p = k.replan(p)
		next, until := p.next(time.Now(), s.selected)
		if until > 0 || !atWork {
			job, err := k.waitFor(ctx, until)
			if err != nil {
				return err
			}
			if job != nil {
				if err := k.runErrand(ctx, s, job); err != nil {
					return err
				}
				atWork = true
				continue
			}
			if until > 0 {
				continue // woken by a change of wants or by time: look again
			}
		}
		atWork = false
		if err := k.keep(ctx, s, &p.entries[next]); err != nil {
			return err
		}
	}
}

// replan brings the plan in line with the wants.
func (k *Keeper) replan(p plan) plan {
	k.mu.Lock()
	wants, version := k.wants, k.version
	k.mu.Unlock()
	every := k.link.Commands.ErrorCheck.Every
	if version == p.version && len(p.entries) > 0 {
		return p
	}
	fresh := newPlan(wants, every, p, time.Now())
	fresh.version = version
	for want := range k.bad {
		if !wanted(wants, want) {
			delete(k.bad, want)
		}
	}
	return fresh
}

func wanted(wants []Want, want Want) bool {
	for _, w := range wants {
		if w.Channel == want.Channel && w.Measure == want.Measure {
			return true
		}
	}
	return false
}

// waitFor waits until the time is up, the wants change, or an errand comes.
func (k *Keeper) waitFor(ctx context.Context, until time.Duration) (*errand, error) {
	if until <= 0 {
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case job := <-k.errands:
			return &job, nil
		default:
			return nil, nil
		}
	}
	timer := time.NewTimer(until)
	defer timer.Stop()
	select {
	case <-ctx.Done():
		return nil, ctx.Err()
	case job := <-k.errands:
		return &job, nil
	case <-k.changed:
	case <-timer.C:
	}
	return nil, nil
}

// keep keeps an appointment. Only what ends the use of the port is an error.
func (k *Keeper) keep(ctx context.Context, s *Session, a *appointment) error {
	a.begun(time.Now())
	if a.errorCheck {
		return k.recover(ctx, s, k.checkErrors(ctx, s), func() {})
	}
	cause := k.perform(ctx, s, a.want)
	if cause == nil {
		a.ended("", time.Now())
		return nil
	}
	kind := kindOf(cause)
	err := k.recover(ctx, s, cause, func() { k.cannotRead(a.want, kind, cause) })
	a.ended(kind, time.Now())
	return err
}

// perform asks for one want and passes on what comes.
func (k *Keeper) perform(ctx context.Context, s *Session, want Want) error {
	if want.Measure == "" {
		record, err := s.Capture(ctx, Shot{Channel: want.Channel, Signal: want.Signal, Beside: want.Beside})
		if err == nil {
			k.tookCapture(want.Channel, record)
			if record.Beside != nil {
				k.tookCapture(want.Beside, *record.Beside)
			}
		}
		return err
	}
	reading, err := s.Read(ctx, want.Channel, want.Measure)
	if err == nil {
		k.took(want.Channel, reading)
	}
	return err
}

// recover tells of what went wrong in a conversation and gets in step again. It
// fails as getInStep does.
func (k *Keeper) recover(ctx context.Context, s *Session, cause error, tell func()) error {
	if cause == nil {
		return nil
	}
	if ctx.Err() != nil {
		return ctx.Err()
	}
	switch kindOf(cause) {
	case Lost:
		return cause
	case Overflow, Unsuitable:
		tell()
		return nil // the conversation is in step; it is the figure that is missing
	}
	tell()
	if err := k.getInStep(ctx, s, k.noteStale); err != nil {
		return err
	}
	return k.afterTrouble(ctx, s)
}

// afterTrouble asks the instrument what it has to say about it.
func (k *Keeper) afterTrouble(ctx context.Context, s *Session) error {
	err := k.checkErrors(ctx, s)
	if err == nil || kindOf(err) == Lost || ctx.Err() != nil {
		return err
	}
	return k.getInStep(ctx, s, k.noteStale)
}

// checkErrors drains the error queue and passes its entries on.
func (k *Keeper) checkErrors(ctx context.Context, s *Session) error {
	entries, err := s.Errors(ctx)
	for _, entry := range entries {
		k.tell(Refused, entry)
	}
	if err != nil && ctx.Err() == nil && kindOf(err) != Lost {
		k.tell(kindOf(err), err)
	}
	return err
}
