package ship

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"github.com/cenkalti/backoff/v5"

	"soakline/logger/book"
)

const (
	// keepEvery is how often the book is told how far a target is.
	keepEvery = 5 * time.Second
	// lastWords is how long the end may take, so that what was committed last is
	// there if the engine answers.
	lastWords = 5 * time.Second
	// firstWait and longestWait bound how long an engine in trouble is left alone.
	firstWait, longestWait = 500 * time.Millisecond, time.Minute
	// impolite is after how many new connections in a row they say nothing: the
	// engine, or what is before it, closes each after use.
	impolite = 3
)

// carrier carries the book to one target.
type carrier struct {
	target Target
	book   *book.Book
	log    *slog.Logger
	poster *poster
	wait   *backoff.ExponentialBackOff

	// What follows is Run's alone.
	out    *book.Outgoing
	parcel book.Parcel // taken from out and not delivered
	// lines is how many go out at once, less than the target's once it said that it
	// is too much.
	lines int
	next  time.Time // when to try again
	// underway was acknowledged too short ago to be relied on; settled was not yet
	// written into the book.
	underway []acknowledged
	settled  book.Reached
	keptAt   time.Time
	// sureAt is when the engine last answered on the connection on which it took
	// what is underway; lastLine is a line that it has.
	sureAt   time.Time
	lastLine []byte
	// strange counts new connections in a row, closes tells that one more is
	// expected. again is set when underway has to go out again.
	again, closes bool
	strange       int
	// everTaken tells that the engine has taken some line in this run.
	everTaken bool

	mu     sync.Mutex
	status Status
}

// acknowledged is what an engine said that it has.
type acknowledged struct {
	at      time.Time
	reached book.Reached
}

func newCarrier(b *book.Book, t Target, log *slog.Logger) *carrier {
	wait := backoff.NewExponentialBackOff()
	wait.InitialInterval, wait.MaxInterval = firstWait, longestWait
	wait.RandomizationFactor, wait.Multiplier = 0.5, 2
	return &carrier{target: t, book: b, log: log.With("target", t.Name), poster: newPoster(t), wait: wait,
		lines: t.BatchLines, status: Status{Target: t.Name, Address: t.Address(), BatchLines: t.BatchLines}}
}

// run carries until the context ends, then says its last words and returns. What is
// wrong with the book or the engine is shown and tried again.
func (c *carrier) run(ctx context.Context) {
	defer c.poster.close()
	ticker := time.NewTicker(c.target.Every)
	defer ticker.Stop()
	for {
		c.round(ctx, time.Now())
		select {
		case <-ctx.Done():
			last, cancel := context.WithTimeout(context.WithoutCancel(ctx), lastWords)
			c.next = time.Time{}
			c.round(last, time.Now())
			c.keep(context.WithoutCancel(ctx))
			cancel()
			return
		case <-ticker.C:
		}
	}
}

// round looks for what is new and sends all of it, unless the engine is left alone.
func (c *carrier) round(ctx context.Context, now time.Time) {
	if err := c.refresh(ctx); err != nil {
		if ctx.Err() == nil {
			c.fail(now, err, 0)
		}
		return
	}
	for ctx.Err() == nil && !now.Before(c.next) && c.step(ctx) {
		now = time.Now()
		c.settle(ctx, now)
		if err := c.refresh(ctx); err != nil && ctx.Err() == nil {
			c.fail(now, err, 0)
		}
	}
	c.settle(ctx, time.Now())
}

// refresh has the book say what is new.
func (c *carrier) refresh(ctx context.Context) error {
	if c.out == nil {
		out, err := c.book.Outgoing(ctx, c.target.Name)
		if err != nil {
			return err
		}
		c.out = out
	}
	if err := c.out.Refresh(ctx); err != nil {
		c.parcel = book.Parcel{} // the book went back to what it has kept
		c.underway = nil
		return err
	}
	c.pending()
	return nil
}

// step sends the next lines; false when there is nothing more to do now.
func (c *carrier) step(ctx context.Context) bool {
	if len(c.parcel.Ends) == 0 {
		parcel, err := c.out.Next(ctx, c.lines)
		for _, damaged := range parcel.Damaged {
			c.log.Error("a part of the book cannot be shipped", "error", damaged)
		}
		if err != nil {
			c.underway = nil // the book went back to what it has kept
			if ctx.Err() == nil {
				c.fail(time.Now(), err, 0)
			}
			return false
		}
		if len(parcel.Ends) == 0 {
			c.settled.Add(parcel.Reached)
			return false
		}
		c.parcel = parcel
	}
	if !c.deliver(ctx) {
		return false
	}
	if c.again && len(c.underway) > 0 {
		c.goBack(ctx)
		return true
	}
	c.again = false
	c.underway = append(c.underway, acknowledged{time.Now(), c.parcel.Reached})
	lines := linesOf(c.parcel)
	c.lastLine = lines[len(lines)-1]
	c.delivered(c.parcel)
	c.parcel = book.Parcel{}
	c.pending()
	return len(lines) >= c.lines || c.out.Pending() > 0
}

// connected judges a connection on which lines were taken: if it is another than
// before, the engine may have been killed meanwhile and have lost what it
// acknowledged last.
func (c *carrier) connected(a answer) {
	expected := c.closes
	c.closes = a.closes
	switch {
	case !a.fresh:
		c.strange = 0
	case !expected:
		c.strange++
	}
	if a.fresh && !expected && c.strange < impolite {
		c.again = true
	} else {
		c.sureAt = time.Now()
	}
}

// goBack has what was acknowledged last sent again.
func (c *carrier) goBack(ctx context.Context) {
	c.log.Info("the connection was lost; what was sent last is sent again", "for", c.target.Resend)
	c.keep(ctx)
	c.again, c.underway, c.parcel = false, nil, book.Parcel{}
	c.out.Rewind()
	if err := c.refresh(ctx); err != nil && ctx.Err() == nil {
		c.fail(time.Now(), err, 0)
	}
	c.note(func(s *Status) { s.WentBack++ })
}

// settle takes for kept what was acknowledged long enough ago by an engine that is
// the same still, and tells the book now and then.
func (c *carrier) settle(ctx context.Context, now time.Time) {
	if len(c.underway) > 0 && now.Sub(c.underway[0].at) >= c.target.Resend && c.sureAt.Sub(c.underway[0].at) < c.target.Resend && !now.Before(c.next) {
		c.knock(ctx)
	}
	for len(c.underway) > 0 && c.sureAt.Sub(c.underway[0].at) >= c.target.Resend {
		c.settled.Add(c.underway[0].reached)
		c.underway = c.underway[1:]
	}
	if now.Sub(c.keptAt) >= keepEvery {
		c.keep(ctx)
	}
	unsure := len(c.underway)
	c.note(func(s *Status) { s.Unsure = unsure })
}

// knock finds out whether the engine is the one that took the last lines, where there
// is nothing else to send: with a line that it has.
func (c *carrier) knock(ctx context.Context) {
	a := c.poster.post(ctx, c.lastLine)
	if a.verdict != taken {
		if ctx.Err() == nil {
			c.fail(time.Now(), a.err, a.after)
		}
		return
	}
	c.connected(a)
	c.well()
	if c.again {
		c.goBack(ctx)
	}
}

// keep tells the book how far the target is.
func (c *carrier) keep(ctx context.Context) {
	c.keptAt = time.Now()
	if c.out == nil || c.settled.Empty() {
		return
	}
	if err := c.out.Keep(ctx, c.settled); err != nil {
		if ctx.Err() == nil {
			c.log.Error("the book does not know how far the target is; some lines will go out twice", "error", err)
		}
		return
	}
	c.settled = book.Reached{}
}

// fail notes trouble and leaves the engine alone for a while: longer each time, and
// not for the same time on every bench.
func (c *carrier) fail(now time.Time, err error, after time.Duration) {
	wait := max(c.wait.NextBackOff(), min(after, longestWait))
	c.next = now.Add(wait)
	if c.troubled(now, err, c.next) {
		c.log.Warn("shipping is held up", "error", err)
	}
}
