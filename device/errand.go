package device

import (
	"context"
	"errors"
	"fmt"
)

// errand is a piece of work that somebody wants done in the conversation.
type errand struct {
	do   func(context.Context, *Session) error
	done chan error
}

// Do has work done in the instrument's conversation, between two questions, and
// returns its error. It waits while the instrument is away, until ctx ends. The
// work's own context ends with ctx and with Run; Do returns when work has.
func (k *Keeper) Do(ctx context.Context, work func(context.Context, *Session) error) error {
	if k.link.Commands.Listen != nil {
		return &Error{Op: "ask", Instrument: k.link.Name, Port: k.link.Port, Kind: Unsuitable,
			Err: fmt.Errorf("%w %q: this instrument only talks", errUnsuitable, k.link.Commands.Name)}
	}
	job := errand{done: make(chan error, 1), do: func(run context.Context, s *Session) error {
		ctx, cancel := context.WithCancel(ctx)
		defer cancel()
		defer context.AfterFunc(run, cancel)()
		return work(ctx, s)
	}}
	select {
	case k.errands <- job:
		return <-job.done
	case <-ctx.Done():
		return k.away(ctx.Err())
	}
}

// away says that the instrument was waited for in vain, and what keeps it away.
func (k *Keeper) away(err error) error {
	if trouble := k.Status().Trouble; trouble != "" {
		err = fmt.Errorf("%w: %s", err, trouble)
	}
	return &Error{Op: "wait for the instrument", Instrument: k.link.Name, Port: k.link.Port, Kind: Silence,
		Hint: "Look at its cable and power, or run soakline ports.", Err: err}
}

// runErrand does the work, and gets in step again if it failed. Only what ends
// the use of the port is an error.
func (k *Keeper) runErrand(ctx context.Context, s *Session, job *errand) error {
	err := job.do(ctx, s)
	job.done <- err
	if err == nil {
		return nil
	}
	if own, ok := errors.AsType[*Error](err); ok && !errors.Is(err, context.Canceled) {
		if own.Kind == Unsuitable {
			return nil // nothing was sent, and nothing is wrong with the instrument
		}
		return k.recover(ctx, s, err, func() { k.tell(own.Kind, err) })
	}
	// The work gave up by itself, or was called off in the middle of a question.
	return k.recover(ctx, s, context.Canceled, func() {})
}
