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
	// open and candidates reach the machine's ports; tests put others here.
	open       func(ctx context.Context, address string, line LineSettings) (Port, error)
	candidates func(ctx context.Context) ([]port.Info, error)

	mu      sync.Mutex
	wants   []Want
	version int // counts SetWants
	status  Status

	changed chan struct{} // the wants have changed
	errands chan errand

	// Only Run's goroutine uses these.
	known      scpi.Identity     // who answered first
	remembered map[string]string // who answered for each instrument of the bench before
	bad        map[Want]Kind     // what does not read, by want without its interval
}

// Port is what a Keeper needs of an open port.
type Port interface {
	scpi.Line
	Name() string
	Close() error
}

// Each failed opening is followed by a longer wait, up to the second: a cable put
// back is noticed within about a second and a missing port costs nothing.
const (
	firstRetry = 50 * time.Millisecond
	lastRetry  = time.Second
	// openTimeout bounds one opening, such as of a serial server far away.
	openTimeout = 3 * time.Second
	// mostSilent is how often in a row an open port's instrument is called in vain
	// before the port is opened again. Opening resets many instruments, so that
	// doing it each time would keep one that starts slowly from ever answering.
	mostSilent = 10
)

// NewKeeper returns a Keeper for an instrument; Run starts it.
func NewKeeper(link Link, sink Sink) *Keeper {
	return &Keeper{link: link, sink: sink, open: openPort, candidates: port.Candidates, status: Status{Instrument: link.Name},
		changed: make(chan struct{}, 1), errands: make(chan errand), bad: map[Want]Kind{}}
}

// openPort opens a real port.
func openPort(ctx context.Context, address string, line LineSettings) (Port, error) {
	return port.Open(ctx, address, line.port())
}

// port gives the line settings in the port's own words.
func (l LineSettings) port() port.Settings {
	return port.Settings{Baud: l.Baud, DataBits: l.DataBits, Parity: l.Parity, StopBits: l.StopBits, Flow: l.Flow}
}

// SetWants replaces what is read again and again. It may be called while Run runs.
func (k *Keeper) SetWants(wants []Want) {
	k.mu.Lock()
	k.wants = append([]Want(nil), wants...)
	k.version++
	k.mu.Unlock()
	select {
	case k.changed <- struct{}{}:
	default:
	}
}

// Remember tells what each instrument of the bench, by its name, answered to *IDN?
// before this run: who is remembered as another one is not believed to be this one.
// It is called before Run.
func (k *Keeper) Remember(answered map[string]string) { k.remembered = answered }

// Run keeps the instrument until the context ends, and then returns nil. It is
// called once.
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
		return k.listenTo(ctx, line)
	}
	session := newSession(k.link, line.Name(), line)
	session.identity, session.remembered = k.known, k.remembered
	// What waits in a port that was just opened is nobody's answer: no event.
	if err := k.getInStep(ctx, session, func([]string) {}); err != nil {
		return err
	}
	k.known = session.identity
	k.opened(k.known, line.Name())
	if err := k.afterTrouble(ctx, session); err != nil {
		return err
	}
	err = k.poll(ctx, session)
	if ctx.Err() != nil {
		k.release(ctx, session)
	}
	return err
}

// release says good-bye, although the context has ended.
func (k *Keeper) release(ctx context.Context, s *Session) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), defaultAskTimeout)
	defer cancel()
	if err := s.Release(ctx); err != nil {
		k.tell(kindOf(err), err)
	}
}

// openLink opens the port that the link names.
func (k *Keeper) openLink(ctx context.Context) (Port, error) {
	address, err := k.resolve(ctx)
	if err != nil {
		return nil, k.failed("find", k.link.Port, err)
	}
	ctx, cancel := context.WithTimeout(ctx, openTimeout)
	defer cancel()
	line, err := k.open(ctx, address, k.link.Commands.Line)
	if err != nil {
		return nil, k.failed("open", address, err)
	}
	return line, nil
}

// getInStep gets in step with the instrument, however often it takes, and has
// noted what else came meanwhile. It fails when the port is lost, a stranger
// answers, the command set cannot work, or nothing sensible comes for long.
func (k *Keeper) getInStep(ctx context.Context, s *Session, note func(stale []string)) error {
	for range mostSilent {
		stale, err := s.resync(ctx)
		note(stale)
		if err == nil {
			return nil
		}
		if ctx.Err() != nil {
			return ctx.Err()
		}
		switch kind := kindOf(err); kind {
		case Lost, Stranger, Unsuitable:
			return err
		default:
			k.tell(kind, err)
		}
	}
	return &Error{Op: "identify", Instrument: k.link.Name, Port: s.portName, Kind: Silence,
		Err: fmt.Errorf("%w after %d tries; the port is opened again", scpi.ErrSilence, mostSilent)}
}

// failed wraps a cause with what was being done to the instrument's port, and
// keeps the port's own advice.
func (k *Keeper) failed(op, portName string, err error) error {
	if own, ok := errors.AsType[*Error](err); ok {
		return own
	}
	wrapped := &Error{Op: op, Instrument: k.link.Name, Port: portName, Kind: kindOf(err), Err: err}
	if line, ok := errors.AsType[*port.Error](err); ok {
		wrapped.Hint = line.Hint
	}
	return wrapped
}
