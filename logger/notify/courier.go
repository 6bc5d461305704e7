package notify

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"sync"
	"time"

	"github.com/cenkalti/backoff/v5"
)

const (
	// waiting is how many notices may wait for a target; the oldest is given up for
	// the newest then, which is logged and counted.
	waiting = 256
	// firstPause and longestPause are between tries; giveUp is how old a notice may
	// get.
	firstPause, longestPause = time.Second, 5 * time.Minute
	giveUp                   = 24 * time.Hour
	// lastTry is how long the notices that wait are given when the program ends.
	lastTry = 5 * time.Second
)

// Courier takes notices to one target.
type Courier struct {
	target Target
	way    sender
	log    *slog.Logger

	mu     sync.Mutex
	queue  []Notice
	wake   chan struct{}
	status Status
}

// Status is how the notices of one target stand.
type Status struct {
	Target string `json:"target"`
	// Told are those that have arrived, GivenUp those that never will; Waiting wait.
	Told    int `json:"told"`
	GivenUp int `json:"given_up"`
	Waiting int `json:"waiting"`
	// Trouble is why the last try failed; empty once one has worked.
	Trouble string `json:"trouble,omitempty"`
}

// NewCourier returns the courier to a target; Run starts it.
func NewCourier(t Target, log *slog.Logger) (*Courier, error) {
	c := &Courier{target: t, log: log.With("target", t.Name), wake: make(chan struct{}, 1), status: Status{Target: t.Name}}
	var err error
	switch {
	case t.Webhook != nil:
		c.way, err = newWebhookSender(*t.Webhook)
	case t.Mail != nil:
		c.way, err = newMailSender(*t.Mail)
	case len(t.Command) > 0:
		c.way = commandSender{t.Command}
	default:
		err = errors.New("it has neither webhook nor command nor mail")
	}
	if err != nil {
		return nil, fmt.Errorf("notify %q: %w", t.Name, err)
	}
	return c, nil
}

// Take puts a notice in the queue if the target is to be told of it. It never waits.
func (c *Courier) Take(n Notice) {
	if !c.target.wants(n.Kind) {
		return
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.queue) == waiting {
		c.log.Error("a notice was given up: too many wait", "notice", c.queue[0].Text)
		c.queue = c.queue[1:]
		c.status.GivenUp++
	}
	c.queue = append(c.queue, n)
	select {
	case c.wake <- struct{}{}:
	default:
	}
}

// Status returns how the target stands.
func (c *Courier) Status() Status {
	c.mu.Lock()
	defer c.mu.Unlock()
	status := c.status
	status.Waiting = len(c.queue)
	return status
}

// Send takes one notice to the target at once, once.
func (c *Courier) Send(ctx context.Context, n Notice) error {
	if err := c.way.send(ctx, n); err != nil {
		return fmt.Errorf("notify %q: %w", c.target.Name, err)
	}
	return nil
}

// Run takes notices to the target until the context ends; those that wait then get
// one more try each, unless it is quiet.
func (c *Courier) Run(ctx context.Context) error {
	for {
		n, ok := c.next(ctx)
		if !ok {
			return c.lastTries(ctx)
		}
		if !c.deliver(ctx, n) {
			return c.lastTries(ctx)
		}
		c.done(n)
	}
}

// next waits for a notice that may be told now. It stays in the queue until done.
func (c *Courier) next(ctx context.Context) (Notice, bool) {
	for {
		c.mu.Lock()
		var first *Notice
		if len(c.queue) > 0 {
			copied := c.queue[0]
			first = &copied
		}
		c.mu.Unlock()
		pause := time.Duration(-1)
		if first != nil {
			end, quiet := c.target.Quiet.until(time.Now())
			if !quiet {
				return *first, true
			}
			pause = time.Until(end)
		}
		if !c.wait(ctx, pause) {
			return Notice{}, false
		}
	}
}

// wait waits for a pause (for ever if negative) or until a notice has come.
func (c *Courier) wait(ctx context.Context, pause time.Duration) bool {
	var over <-chan time.Time
	if pause >= 0 {
		timer := time.NewTimer(pause)
		defer timer.Stop()
		over = timer.C
	}
	select {
	case <-ctx.Done():
		return false
	case <-over:
	case <-c.wake:
	}
	return true
}

// deliver tries until the target has the notice or it is given up; false where the
// context ended before.
func (c *Courier) deliver(ctx context.Context, n Notice) bool {
	pauses := backoff.NewExponentialBackOff()
	pauses.InitialInterval, pauses.MaxInterval = firstPause, longestPause
	_, err := backoff.Retry(ctx, func() (struct{}, error) {
		err := c.way.send(ctx, n)
		c.tried(err)
		if _, final := errors.AsType[refusal](err); final {
			return struct{}{}, backoff.Permanent(err)
		}
		return struct{}{}, err
	}, backoff.WithBackOff(pauses), backoff.WithMaxElapsedTime(giveUp))
	if err == nil {
		return true
	}
	if ctx.Err() != nil {
		return false
	}
	c.log.Error("a notice was given up", "notice", n.Text, "error", err)
	c.mu.Lock()
	defer c.mu.Unlock()
	c.status.GivenUp++
	c.status.Told-- // done counts it
	return true
}

// tried notes how a try went.
func (c *Courier) tried(err error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if err == nil {
		c.status.Trouble = ""
		return
	}
	if c.status.Trouble == "" {
		c.log.Warn("a notice has not arrived yet", "error", err)
	}
	c.status.Trouble = err.Error()
}

// done takes a notice out of the queue, where it may have been given up meanwhile.
func (c *Courier) done(n Notice) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if len(c.queue) > 0 && c.queue[0].ID == n.ID && c.queue[0].Stage == n.Stage {
		c.queue = c.queue[1:]
	}
	c.status.Told++
}

// lastTries empties the queue when the program ends.
func (c *Courier) lastTries(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), lastTry)
	defer cancel()
	for {
		c.mu.Lock()
		queue := c.queue
		c.mu.Unlock()
		if len(queue) == 0 {
			return nil
		}
		_, quiet := c.target.Quiet.until(time.Now())
		var err error
		if !quiet {
			err = c.way.send(ctx, queue[0])
		}
		if quiet || err != nil {
			c.log.Error("the program ends before notices could be told", "notices", len(queue), "first", queue[0].Text, "error", err)
			return nil
		}
		c.done(queue[0])
	}
}
