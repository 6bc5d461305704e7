package device

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"time"

	"github.com/cenkalti/backoff/v5"

	"soakline/device/port"
	"soakline/device/scpi"
)

// Keeper keeps one instrument: it opens the port, asks what is wanted, and when
// the port or the instrument goes away it waits for it to return, under whatever
// name. One goroutine, that of Run, owns the port.
type Keeper struct {
	link Link
	sink Sink
	open func(ctx context.Context, address string, line LineSettings) (Port, error)

	mu     sync.Mutex
	wants  []Want
	status Status

	changed chan struct{} // the wants have changed
	errands chan errand

	known   scpi.Identity // who answered first; only Run's goroutine uses it
	lastBad Kind          // the trouble last told of; likewise
}

// Port is what a Keeper needs of an open port.
type Port interface {
	scpi.Line
	Name() string
	Close() error
}

// Status is how an instrument stands.
type Status struct {
	Instrument string
	// Up tells whether the port is open and the instrument answers.
	Up bool
	// Port is the name the port was last opened under.
	Port     string
	Identity scpi.Identity
	// Readings and Reopens count since the start.
	Readings, Reopens int
	LastReadingAt     time.Time
	// Trouble is the last trouble's sentence while it lasts.
	Trouble string
}

// errand is a piece of work that somebody wants done in the conversation.
type errand struct {
	do   func(context.Context, *Session) error
	done chan error
}

// Each failed opening is followed by a longer wait, up to the second: a cable put
// back is noticed within about a second and a missing port costs nothing.
const (
	firstRetry = 50 * time.Millisecond
	lastRetry  = time.Second
)

// NewKeeper returns a Keeper for an instrument; Run starts it.
func NewKeeper(link Link, sink Sink) *Keeper {
	return &Keeper{link: link, sink: sink, open: openPort, status: Status{Instrument: link.Name},
		changed: make(chan struct{}, 1), errands: make(chan errand)}
}

// openPort opens a real port.
func openPort(ctx context.Context, address string, line LineSettings) (Port, error) {
	return port.Open(ctx, address, portSettings(line))
}

// portSettings are the line settings in the port's own words.
func portSettings(line LineSettings) port.Settings {
	return port.Settings{Baud: line.Baud, DataBits: line.DataBits, Parity: line.Parity, StopBits: line.StopBits, Flow: line.Flow}
}

// SetWants replaces what is read again and again.
func (k *Keeper) SetWants(wants []Want) {
	k.mu.Lock()
	k.wants = append([]Want(nil), wants...)
	k.mu.Unlock()
	select {
	case k.changed <- struct{}{}:
	default:
	}
}

// Status returns how the instrument stands now.
func (k *Keeper) Status() Status {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.status
}

// Do has work done in the instrument's conversation, between two questions, and
// returns its error. It waits while the instrument is away, until the context
// ends.
func (k *Keeper) Do(ctx context.Context, work func(context.Context, *Session) error) error {
	job := errand{do: work, done: make(chan error, 1)}
	select {
	case k.errands <- job:
	case <-ctx.Done():
		return &Error{Op: "wait for the instrument", Instrument: k.link.Name, Port: k.link.Port, Kind: Silence,
			Hint: "Look at its cable and power, or run soakline ports.", Err: ctx.Err()}
	}
	select {
	case err := <-job.done:
		return err
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Run keeps the instrument until the context ends, and then returns nil.
func (k *Keeper) Run(ctx context.Context) error {
	retry := backoff.NewExponentialBackOff()
	retry.InitialInterval, retry.MaxInterval = firstRetry, lastRetry
	for ctx.Err() == nil {
		began := time.Now()
		err := k.once(ctx)
		if ctx.Err() != nil {
			break
		}
		k.down(err)
		if time.Since(began) > lastRetry {
			retry.Reset()
		}
		if wait(ctx, retry.NextBackOff()) != nil {
			break
		}
	}
	k.setStatus(func(s *Status) { s.Up = false })
	return nil
}

// once opens the port and works on it until something ends that.
func (k *Keeper) once(ctx context.Context) error {
	line, err := k.openLink(ctx)
	if err != nil {
		return err
	}
	defer line.Close() // a dead port's close has nothing to add to what ended the work
	if k.link.Commands.Listen != nil {
		return k.listenTo(ctx, line.Name(), line)
	}
	session, err := NewSession(ctx, k.link, line.Name(), line)
	if err != nil {
		return err
	}
	if err := session.recognise(k.known); err != nil {
		return err
	}
	k.known = session.Identity()
	k.opened(session.Identity(), line.Name())
	err = k.poll(ctx, session)
	if ctx.Err() != nil {
		partCtx, cancel := context.WithTimeout(context.WithoutCancel(ctx), defaultAskTimeout)
		defer cancel()
		return errors.Join(err, session.Release(partCtx))
	}
	return err
}

// openLink opens the port that the link names.
func (k *Keeper) openLink(ctx context.Context) (Port, error) {
	ctx, cancel := context.WithTimeout(ctx, startTimeout)
	defer cancel()
	address, err := k.resolve(ctx)
	if err != nil {
		return nil, k.failed("find", k.link.Port, err)
	}
	line, err := k.open(ctx, address, k.link.Commands.Line)
	if err != nil {
		return nil, k.failed("open", address, err)
	}
	return line, nil
}

// opened notes that the instrument answers.
func (k *Keeper) opened(identity scpi.Identity, portName string) {
	again := false
	k.setStatus(func(s *Status) {
		again = s.Port != ""
		if again {
			s.Reopens++
		}
		s.Up, s.Port, s.Identity, s.Trouble = true, portName, identity, ""
	})
	k.lastBad = ""
	text := "open on " + portName
	if identity != (scpi.Identity{}) {
		text += ": " + identity.Text
	}
	k.sink.TakeEvent(Event{Instrument: k.link.Name, Kind: Opened, Text: text, At: now()})
}

// took passes a reading on; the first after trouble says that it is over.
func (k *Keeper) took(channel string, r Reading) {
	k.recovered()
	k.setStatus(func(s *Status) { s.Readings++; s.LastReadingAt = r.At; s.Trouble = "" })
	k.sink.TakeReading(k.link.Name, channel, r)
}

// recovered tells once that readings have come back.
func (k *Keeper) recovered() {
	if k.lastBad == "" {
		return
	}
	k.sink.TakeEvent(Event{Instrument: k.link.Name, Kind: Returned, Text: fmt.Sprintf("readings again after %s", k.lastBad), At: now()})
	k.lastBad = ""
}

// trouble passes on what went wrong while the port stays open.
func (k *Keeper) trouble(kind Kind, err error) {
	k.lastBad = kind
	k.setStatus(func(s *Status) { s.Trouble = err.Error() })
	k.sink.TakeEvent(Event{Instrument: k.link.Name, Kind: kind, Text: err.Error(), At: now()})
}

// down passes on that the port is gone or cannot be opened.
func (k *Keeper) down(err error) {
	if err == nil {
		return
	}
	text := err.Error()
	if own, ok := errors.AsType[*Error](err); ok && own.Hint != "" {
		text += " (" + own.Hint + ")"
	}
	k.lastBad = ""
	k.setStatus(func(s *Status) { s.Up = false; s.Trouble = text })
	if line, ok := errors.AsType[*port.Error](err); ok && line.Kind == port.KindDenied && line.Transient() {
		return // the system is still handing over a node that has just appeared
	}
	k.sink.TakeEvent(Event{Instrument: k.link.Name, Kind: kindOf(err), Text: text, At: now()})
}

func (k *Keeper) setStatus(change func(*Status)) {
	k.mu.Lock()
	defer k.mu.Unlock()
	change(&k.status)
}

// failed wraps a cause with what was being done to the instrument's port, and
// keeps the port's own advice.
func (k *Keeper) failed(op, portName string, err error) error {
	wrapped := &Error{Op: op, Instrument: k.link.Name, Port: portName, Kind: kindOf(err), Err: err}
	if line, ok := errors.AsType[*port.Error](err); ok {
		wrapped.Hint = line.Hint
	}
	return wrapped
}

// now is the wall clock at the resolution that the book keeps.
func now() time.Time { return time.Now().Truncate(time.Microsecond) }
