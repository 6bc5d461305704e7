package logger

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"slices"
	"sync"
	"sync/atomic"
	"time"

	"golang.org/x/sync/errgroup"

	"soakline/checks"
	"soakline/device"
	"soakline/device/scpi"
	"soakline/logger/book"
)

// Bench is the running bench. One goroutine, that of Run, owns its live state;
// instruments, page and metrics reach it through queues.
type Bench struct {
	settings Settings
	options  Options
	writer   *book.Writer
	keepers  map[string]*device.Keeper

	inbox    chan delivery
	requests chan func()
	owned    chan struct{} // closed when the owner has ended, or never began
	// records is how many captures wait in the inbox.
	records  atomic.Int32
	losses   losses
	clock    Clock
	routes   atomic.Pointer[routes]
	Counters *Counters
	feed     feed
	finals   finals
	judged   judgedSoaks

	// beginning keeps two soaks from being begun at the same time.
	beginning sync.Mutex
	// covered are the outputs that somebody stands by to switch off; covering guards
	// them.
	covering sync.Mutex
	covered  map[*liveSoak]CoveredOutput
	// finishing are the verdicts being given after soaks have ended.
	finishing sync.WaitGroup

	// What follows is the owner's alone.
	soaks    []*liveSoak
	finished []FinishedSoak
	told     map[string]*lately
	taps     []*tap
	// strayed is how far the machine's clock was away when that was last told.
	strayed time.Duration
	// assumed is how long the program is taken to have been away where the clock could
	// not say it; 0 where it could.
	assumed time.Duration
}

// Options are what a Bench is given besides its settings.
type Options struct {
	// Book is open for writing; the Bench does not close it.
	Book *book.Book
	// ParseSheet reads a test sheet from the text that the book kept.
	ParseSheet func(name string, text []byte) (checks.Sheet, error)
	// SheetTexts are the files of Settings.Sheets, by their hash.
	SheetTexts map[string][]byte
	Log        *slog.Logger
	// Finished, if not nil, is called when a soak has its verdict.
	Finished func(FinishedSoak)
	// Standby, if not nil, stands by to switch outputs off if the program is killed.
	Standby Standby
	// Clock is that of the readings; nil is scpi.Steady, by which real instruments'
	// answers are stamped.
	Clock Clock
}

const (
	// inboxSize is how many deliveries may wait for the owner: half a minute of
	// a busy bench.
	inboxSize = 8192
	// tick is how often the owner looks at the time.
	tick = 100 * time.Millisecond
	// endGrace is how long after a soak's end answers may still be on their way.
	endGrace = 500 * time.Millisecond
)

// NewBench returns a bench; Run starts it.
func NewBench(settings Settings, options Options) *Bench {
	b := &Bench{settings: settings, options: options, keepers: map[string]*device.Keeper{},
		inbox: make(chan delivery, inboxSize), requests: make(chan func()), owned: make(chan struct{}),
		Counters: newCounters(), told: map[string]*lately{}, clock: options.Clock}
	if b.clock == nil {
		b.clock = scpi.Steady
	}
	b.writer = book.NewWriter(options.Book, book.WriterOptions{CommitEvery: settings.CommitEvery, TimeStep: settings.TimeStep, Bound: settings.Waiting, Committed: b.committed})
	for _, instrument := range settings.Instruments {
		link := device.Link{Name: instrument.Name, Port: instrument.Port, Commands: instrument.Commands}
		b.keepers[instrument.Name] = device.NewKeeper(link, b)
	}
	b.routes.Store(&routes{})
	return b
}

// committed notes each attempt to write the book.
func (b *Bench) committed(c book.Commit) {
	b.Counters.commit(c)
	if c.Err != nil {
		b.options.Log.Error("the book could not be written; readings wait", "readings", c.Readings, "error", c.Err)
	}
	for _, refused := range c.Refused {
		b.options.Log.Error("the book refused an entry", "error", refused)
	}
}

// Run runs the bench until the context ends. Stopping follows the stream: ports
// first, then the owner's queue, then the book's last commit.
func (b *Bench) Run(ctx context.Context) error {
	run, err := b.options.Book.BeginRun(ctx, b.settings.Bench)
	if err == nil {
		if err = b.resume(ctx); err == nil {
			return b.runAll(ctx, run)
		}
		if ctx.Err() != nil {
			err = nil // told to stop before it had begun
		}
		err = errors.Join(err, b.options.Book.EndRun(context.WithoutCancel(ctx), run))
	}
	close(b.owned) // nobody waits for an owner that never began
	return err
}

// runAll runs ports, owner and writer.
func (b *Bench) runAll(ctx context.Context, run book.RunID) error {
	afterPorts, portsDone := context.WithCancel(context.WithoutCancel(ctx))
	afterOwner, ownerDone := context.WithCancel(context.WithoutCancel(ctx))
	var group errgroup.Group
	group.Go(func() error { return b.writer.Run(afterOwner) })
	group.Go(func() error {
		defer ownerDone()
		b.own(afterPorts)
		close(b.owned)
		b.finishing.Wait()
		return nil
	})
	group.Go(func() error {
		defer portsDone()
		return b.keepAll(ctx)
	})
	group.Go(func() error { return b.thinOld(ctx) })
	err := group.Wait()
	return errors.Join(err, b.options.Book.EndRun(context.WithoutCancel(ctx), run))
}

// keepAll keeps every instrument until the context ends. Outputs that soaks switch
// are off before the ports are closed.
func (b *Bench) keepAll(ctx context.Context) error {
	ports, close := context.WithCancel(context.WithoutCancel(ctx))
	var group errgroup.Group
	for _, instrument := range b.settings.Instruments {
		group.Go(func() error { return b.keepers[instrument.Name].Run(ports) })
	}
	group.Go(func() error {
		defer close()
		<-ctx.Done()
		return b.outputsOff(ports)
	})
	return group.Wait()
}

// own is the owner's loop. When the context ends it empties the queue first.
func (b *Bench) own(ctx context.Context) {
	clock := time.NewTicker(tick)
	defer clock.Stop()
	for {
		select {
		case d := <-b.inbox:
			b.take(d)
		case work := <-b.requests:
			work()
		case <-clock.C:
			b.watchClock()
			b.advance(ctx, b.now())
		case <-ctx.Done():
			for {
				select {
				case d := <-b.inbox:
					b.take(d)
				default:
					b.tellLosses(endOfTime)
					b.tellAll()
					return
				}
			}
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

// Keeper returns the keeper of an instrument; nil if there is none of that name.
func (b *Bench) Keeper(instrument string) *device.Keeper { return b.keepers[instrument] }

// Settings returns what the bench was made from.
func (b *Bench) Settings() Settings { return b.settings }

// Book returns the bench's book.
func (b *Bench) Book() *book.Book { return b.options.Book }

// Health returns how the writing of the book fares.
func (b *Bench) Health() book.Health { return b.writer.Health() }

// advance lets time pass: silence shows, soaks end, ports are asked for what is
// wanted now.
func (b *Bench) advance(ctx context.Context, now time.Time) {
	if len(b.inbox) == 0 {
		b.tellLosses(now)
	}
	for _, soak := range slices.Clone(b.soaks) {
		b.cyclePower(ctx, soak, now)
		b.changed(soak, soak.judgement.Advance(now))
		if end := soak.judgement.PlannedEnd(); now.After(end.Add(endGrace)) {
			b.endSoak(ctx, soak, ending{state: book.SoakEnded, at: end})
		}
	}
	b.tellLately(now)
}
