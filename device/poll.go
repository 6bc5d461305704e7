package device

import (
	"context"
	"time"
)

// appointment is a want and when it is next due.
type appointment struct {
	want Want
	due  time.Time
}

// poll asks what is wanted, in the order of what is due, until the port fails or
// the context ends. Silence and garbage do not end it: it gets in step again.
func (k *Keeper) poll(ctx context.Context, s *Session) error {
	var plan []appointment
	errorsDue := time.Now()
	for {
		plan = k.replan(plan)
		next, until := k.nextDue(plan, s, errorsDue)
		job, err := k.waitFor(ctx, until)
		switch {
		case err != nil:
			return err
		case job != nil:
			job.done <- job.do(ctx, s)
			continue
		case until > 0:
			continue // woken by a change of wants or by time: plan again
		}
		if next < 0 {
			errorsDue = k.checkErrors(ctx, s)
			continue
		}
		plan[next].due = later(plan[next].due, plan[next].want.Every)
		if err := k.perform(ctx, s, plan[next].want); err != nil {
			return err
		}
	}
}

// replan brings the plan in line with the wants; what stays keeps its time.
func (k *Keeper) replan(plan []appointment) []appointment {
	k.mu.Lock()
	defer k.mu.Unlock()
	if len(plan) == len(k.wants) {
		same := true
		for i := range plan {
			same = same && plan[i].want == k.wants[i]
		}
		if same {
			return plan
		}
	}
	fresh := make([]appointment, len(k.wants))
	for i, want := range k.wants {
		fresh[i] = appointment{want: want, due: time.Now()}
		for _, old := range plan {
			if old.want == want {
				fresh[i].due = old.due
			}
		}
	}
	return fresh
}

// nextDue returns which appointment comes first and how long until then; of
// those that are due, one on the selected channel is preferred, so that relays
// are not worn. An index of -1 with no wait means the error queue is due.
func (k *Keeper) nextDue(plan []appointment, s *Session, errorsDue time.Time) (index int, until time.Duration) {
	const idle = time.Hour
	now := time.Now()
	index, until = -1, idle
	for i, a := range plan {
		wait := max(a.due.Sub(now), 0)
		if wait < until || wait == 0 && until == 0 && preferred(a, plan[index], s.selected) {
			index, until = i, wait
		}
	}
	if every := k.link.Commands.ErrorCheck.Every; every > 0 {
		if wait := max(errorsDue.Sub(now), 0); wait == 0 || wait < until {
			return -1, wait
		}
	}
	return index, until
}

// preferred tells whether a, due now, should go before b, due now too.
func preferred(a, b appointment, selected string) bool {
	if overdue := b.due.Sub(a.due); overdue > time.Second || overdue < -time.Second {
		return overdue > 0 // nobody starves for the sake of a relay
	}
	if (a.want.Channel == selected) != (b.want.Channel == selected) {
		return a.want.Channel == selected
	}
	return a.due.Before(b.due)
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

// later is the next time on the grid of a want's interval; a grid point that has
// gone by is not asked for again.
func later(due time.Time, every time.Duration) time.Time {
	now := time.Now()
	next := due.Add(every)
	if next.Before(now) {
		return now
	}
	return next
}

// perform asks for one want and passes on what comes. Only a lost port is an
// error.
func (k *Keeper) perform(ctx context.Context, s *Session, want Want) error {
	var err error
	if want.Measure == "" {
		var record Capture
		if record, err = s.Capture(ctx, want.Channel); err == nil {
			k.recovered()
			k.setStatus(func(st *Status) { st.LastReadingAt = record.At; st.Trouble = "" })
			k.sink.TakeCapture(k.link.Name, want.Channel, record)
		}
	} else {
		var reading Reading
		if reading, err = s.Read(ctx, want.Channel, want.Measure); err == nil {
			k.took(want.Channel, reading)
		}
	}
	if err == nil {
		return nil
	}
	return k.recover(ctx, s, err)
}

// recover tells of a failed question and gets in step again. It fails when the
// port is lost, a stranger answers, or the instrument stays silent for good.
func (k *Keeper) recover(ctx context.Context, s *Session, cause error) error {
	if ctx.Err() != nil {
		return ctx.Err()
	}
	kind := kindOf(cause)
	if kind == Lost {
		return cause
	}
	k.trouble(kind, cause)
	if kind == Overflow {
		return nil // the conversation is in step; it is the figure that is missing
	}
	for ctx.Err() == nil {
		err := s.Resync(ctx)
		if err == nil {
			k.checkErrors(ctx, s)
			return nil
		}
		if kind := kindOf(err); kind == Lost || kind == Stranger {
			return err
		}
		k.trouble(kindOf(err), err)
	}
	return ctx.Err()
}

// checkErrors drains the error queue, passes its entries on and returns when it
// is due again.
func (k *Keeper) checkErrors(ctx context.Context, s *Session) time.Time {
	entries, err := s.Errors(ctx)
	for _, entry := range entries {
		k.trouble(Refused, entry)
	}
	if err != nil && ctx.Err() == nil {
		k.trouble(kindOf(err), err)
	}
	return time.Now().Add(or(k.link.Commands.ErrorCheck.Every, time.Hour))
}
