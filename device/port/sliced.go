package port

import (
	"errors"
	"fmt"
	"os"
	"runtime"
	"sync"
	"sync/atomic"
	"syscall"
	"time"

	"go.bug.st/serial"
)

// slice is how long a read of the library may wait before the deadline and a
// Close are looked at.
const slice = 20 * time.Millisecond

// slicedLine puts deadlines on the library's port, for systems on which nothing
// better can wait for a serial line. The library's timeout cannot be changed
// beside a Read, and its Write knows none: so reads wait in slices, and a Write
// runs beside the caller, who may leave before it ends.
type slicedLine struct {
	lib serial.Port
	// release gives back what else belongs to the port.
	release func() error

	reading sync.Mutex
	writing chan struct{} // holds one token while a library Write runs
	closed  chan struct{}
	closing sync.Once

	readLimit, writeLimit atomic.Pointer[time.Time]
}

// newSlicedLine takes over lib, and closes it if that fails. The timeout is set here because the race detector
// is right about setting it later.
func newSlicedLine(lib serial.Port, release func() error) (line, error) {
	if err := lib.SetReadTimeout(slice); err != nil {
		return nil, errors.Join(err, lib.Close())
	}
	return &slicedLine{lib: lib, release: release, writing: make(chan struct{}, 1), closed: make(chan struct{})}, nil
}

func (s *slicedLine) SetReadDeadline(t time.Time) error  { s.readLimit.Store(&t); return nil }
func (s *slicedLine) SetWriteDeadline(t time.Time) error { s.writeLimit.Store(&t); return nil }

// over gives the error that ends a wait, if it has ended.
func (s *slicedLine) over(limit *atomic.Pointer[time.Time]) error {
	select {
	case <-s.closed:
		return os.ErrClosed
	default:
	}
	if t := limit.Load(); t != nil && !t.IsZero() && !time.Now().Before(*t) {
		return os.ErrDeadlineExceeded
	}
	return nil
}

func (s *slicedLine) Read(b []byte) (int, error) {
	s.reading.Lock()
	defer s.reading.Unlock()
	for {
		if err := s.over(&s.readLimit); err != nil {
			return 0, err
		}
		if n, err := s.readOnce(b); n > 0 || err != nil {
			return n, err
		}
	}
}

// waiting asks the library with no time to wait. Nobody reads meanwhile, so the
// timeout may be moved.
func (s *slicedLine) waiting(b []byte) (n int, err error) {
	s.reading.Lock()
	defer s.reading.Unlock()
	select {
	case <-s.closed:
		return 0, os.ErrClosed
	default:
	}
	if err := s.lib.SetReadTimeout(0); err != nil {
		return 0, err
	}
	n, err = s.readOnce(b)
	return n, errors.Join(err, s.lib.SetReadTimeout(slice))
}

// readOnce turns the library's panic over a descriptor beyond select's reach into
// an error.
func (s *slicedLine) readOnce(b []byte) (n int, err error) {
	defer func() {
		if r := recover(); r != nil {
			fault, ok := r.(runtime.Error)
			if !ok {
				panic(r)
			}
			n, err = 0, unsuitable(fmt.Errorf("too many open files for select: %w", fault))
		}
	}()
	return s.lib.Read(b)
}

func (s *slicedLine) Write(b []byte) (int, error) {
	if err := s.awaitWriter(); err != nil {
		return 0, err
	}
	type result struct {
		n   int
		err error
	}
	done := make(chan result, 1)
	own := append([]byte(nil), b...)
	go func() {
		n, err := s.writeAll(own)
		<-s.writing
		done <- result{n, err}
	}()
	tick := time.NewTicker(slice)
	defer tick.Stop()
	for {
		select {
		case r := <-done:
			return r.n, r.err
		case <-s.closed:
			return 0, os.ErrClosed
		case <-tick.C:
			if err := s.over(&s.writeLimit); err != nil {
				return 0, err
			}
		}
	}
}

// writeAll goes on after a short write: the library hands through what one system
// call took.
func (s *slicedLine) writeAll(b []byte) (sent int, err error) {
	for sent < len(b) && err == nil {
		var n int
		n, err = s.lib.Write(b[sent:])
		sent += n
		if errors.Is(err, syscall.EINTR) {
			err = nil
		}
		if s.over(&s.writeLimit) != nil {
			break
		}
	}
	return sent, err
}

// awaitWriter waits until no earlier Write is under way, and takes the token.
func (s *slicedLine) awaitWriter() error {
	tick := time.NewTicker(slice)
	defer tick.Stop()
	for {
		if err := s.over(&s.writeLimit); err != nil {
			return err
		}
		select {
		case s.writing <- struct{}{}:
			return nil
		case <-s.closed:
			return os.ErrClosed
		case <-tick.C:
		}
	}
}

// Close waits for a Read to leave and gives a Write one slice to get into the
// system or out of it, so that neither can meet a descriptor that was handed out
// again. A Write that the far end holds up ends when the far end goes.
func (s *slicedLine) Close() (err error) {
	s.closing.Do(func() {
		close(s.closed)
		s.reading.Lock()
		defer s.reading.Unlock()
		timer := time.NewTimer(slice)
		defer timer.Stop()
		select {
		case s.writing <- struct{}{}:
		case <-timer.C:
		}
		err = errors.Join(s.lib.Close(), s.release())
	})
	return err
}

func (s *slicedLine) discard() error    { return s.lib.ResetInputBuffer() }
func (s *slicedLine) dropUnsent() error { return s.lib.ResetOutputBuffer() }

var _ line = (*slicedLine)(nil)
