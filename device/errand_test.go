package device_test

import (
	"context"
	"errors"
	"strings"
	"sync"
	"testing"
	"time"

	"soakline/device"
)

// Work that fails in the middle of a question leaves an answer on its way.
func TestWorkThatFails(t *testing.T) {
	for name, work := range map[string]func(cancel func(), c *counter) func(context.Context, *device.Session) error{
		"unanswered": func(_ func(), c *counter) func(context.Context, *device.Session) error {
			return func(ctx context.Context, s *device.Session) error {
				c.set(func() { c.answer = once("READ?", "") })
				_, err := s.Read(ctx, "103", device.DCVoltage)
				return err
			}
		},
		"called off": func(cancel func(), c *counter) func(context.Context, *device.Session) error {
			return func(ctx context.Context, s *device.Session) error {
				c.set(func() {
					c.answer = func(message, _ string) (string, bool) {
						if message == "READ?" {
							cancel()
							c.answer = nil
							return "", true
						}
						return "", false
					}
				})
				_, err := s.Read(ctx, "103", device.DCVoltage)
				return err
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			c := newCounter(t)
			keeper, recorder := keepCounter(t, c, nil)
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			if err := keeper.Do(ctx, work(cancel, c)); err == nil {
				t.Error("the work did not fail")
			}
			recorder.AwaitReadings(t, 5)
			checkAll(t, c, recorder)
			for _, e := range recorder.Events() {
				if strings.Contains(e.Text, "out of step") {
					t.Errorf("the next question was asked before it was in step again: %s", e.Text)
				}
			}
		})
	}
}

// Work that is brought without end takes turns with what is wanted.
func TestWorkTakesTurns(t *testing.T) {
	c := newCounter(t)
	keeper, recorder := keepCounter(t, c, nil)
	ctx, cancel := context.WithCancel(t.Context())
	var busy sync.WaitGroup
	for range 4 {
		busy.Go(func() {
			for ctx.Err() == nil {
				// The last is called off, which is how it ends.
				_ = keeper.Do(ctx, func(ctx context.Context, s *device.Session) error {
					_, err := s.Errors(ctx)
					return err
				})
			}
		})
	}
	recorder.AwaitReadings(t, 20)
	cancel()
	busy.Wait()
	recorder.AwaitReadings(t, 3)
	checkAll(t, c, recorder)
}

// Work that cannot be done is told and disturbs nobody; work that is brought while
// the instrument is away waits as long as its context.
func TestWorkThatCannotBe(t *testing.T) {
	c := newCounter(t)
	keeper, recorder := keepCounter(t, c, nil)
	err := keeper.Do(t.Context(), func(ctx context.Context, s *device.Session) error {
		_, err := s.Capture(ctx, device.Shot{Channel: "1"})
		return errors.Join(err, s.SwitchOutput(ctx, "", true))
	})
	if own, ok := errors.AsType[*device.Error](err); !ok || own.Kind != device.Unsuitable {
		t.Errorf("%v", err)
	}
	recorder.AwaitReadings(t, 2)
	if events := recorder.Events(); len(events) != 1 {
		t.Errorf("%+v", events[1:])
	}
	c.cable.Pull()
	recorder.AwaitEvent(t, device.Lost, 0)
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	err = keeper.Do(ctx, func(context.Context, *device.Session) error { return nil })
	if !errors.Is(err, context.DeadlineExceeded) || !strings.Contains(err.Error(), "exceeded: meter on ") { // what keeps it away
		t.Errorf("while it is away: %v", err)
	}
}
