package port

import (
	"context"
	"errors"
	"os"
	"sync/atomic"
	"time"
)

// Port is an open line. One goroutine owns it and calls Read, Write and Discard;
// Close may come from any goroutine.
type Port struct {
	address string
	name    string
	line    line
	closed  atomic.Bool
	// held is set while a Write is under way, and stays set if it was cut off: what
	// is left of it would hold up Close for as long as the far end takes nothing.
	held atomic.Bool
}

// Address gives the address that the port was opened with.
func (p *Port) Address() string { return p.address }

// Name gives the device that the address led to ("/dev/ttyUSB1"), or the network
// address of a serial server.
func (p *Port) Name() string { return p.name }

// Read fills b with what has arrived, at least one byte, and waits for it no
// longer than ctx lasts. With a ctx that is over already it still gives what is
// there, and ctx's error only if that is nothing. Bytes come as the line delivers
// them: a line of text in several pieces, or several lines in one. An empty b
// gives 0 and no error. Errors are *Error, of kind timeout, canceled, lost or
// closed.
func (p *Port) Read(ctx context.Context, b []byte) (n int, err error) {
	if len(b) == 0 {
		return 0, nil
	}
	if ctx.Err() != nil {
		if n, err = p.line.waiting(b); n == 0 && err == nil {
			err = ctx.Err()
		}
	} else {
		err = p.within(ctx, p.line.SetReadDeadline, func() (err error) {
			n, err = p.line.Read(b)
			return err
		})
	}
	if n > 0 {
		// An error that came with bytes comes again with the next Read.
		return n, nil
	}
	return 0, p.explain("read", err)
}

// Write sends all of b, and waits for the line to take it no longer than ctx
// lasts. It returns when the system has taken the bytes, not when they have left.
// After an error an unknown part has been sent, so the far end may hold half a
// message. Errors are *Error, of kind timeout, canceled, lost or closed.
func (p *Port) Write(ctx context.Context, b []byte) error {
	return p.explain("write", p.within(ctx, p.line.SetWriteDeadline, func() error {
		p.held.Store(true)
		_, err := p.line.Write(b)
		p.held.Store(err != nil)
		return err
	}))
}

// Discard throws away everything that has arrived and was not read: the tail of
// an old line, or a late answer to the question before.
func (p *Port) Discard() error {
	if p.closed.Load() {
		return p.explain("discard", os.ErrClosed)
	}
	return p.explain("discard", p.line.discard())
}

// Close gives the port back and ends a waiting Read and Write. What was written
// before is still sent, unless the far end had stopped taking it. A second Close
// does nothing.
func (p *Port) Close() error {
	if !p.closed.CompareAndSwap(false, true) {
		return nil
	}
	if p.held.Load() {
		// On a dead line there is nothing to drop, and nobody to tell.
		_ = p.line.dropUnsent()
	}
	if err := p.line.Close(); err != nil {
		return &Error{Op: "close", Port: p.label(), Kind: KindFailed, Err: err}
	}
	return nil
}

// longAgo ends a wait when it is set as a deadline.
var longAgo = time.Unix(1, 0)

// within runs transfer, and ends it through setDeadline when ctx does. It returns
// only when nothing can move that deadline any more, so that a late cancellation
// cannot end the next transfer.
func (p *Port) within(ctx context.Context, setDeadline func(time.Time) error, transfer func() error) error {
	if err := ctx.Err(); err != nil {
		return err
	}
	if err := setDeadline(time.Time{}); err != nil {
		return err
	}
	if ctx.Done() != nil {
		ended := make(chan struct{})
		stop := context.AfterFunc(ctx, func() {
			defer close(ended)
			// The only error is that of a closed line, which transfer reports too.
			_ = setDeadline(longAgo)
		})
		defer func() {
			if !stop() {
				<-ended
			}
		}()
	}
	err := transfer()
	if errors.Is(err, os.ErrDeadlineExceeded) && ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// explain makes err, if there is one, the error of this port.
func (p *Port) explain(op string, err error) error {
	if err == nil {
		return nil
	}
	kind := kindOfUse(err, p.closed.Load())
	e := &Error{Op: op, Port: p.label(), Kind: kind, Err: plainCause(err)}
	if kind == KindLost {
		e.Hint = "Check the cable, and the power of adapter and instrument."
	}
	return e
}

func (p *Port) label() string { return label(p.address, p.name) }

func label(address, name string) string {
	if name == "" || name == address {
		return address
	}
	return address + " (" + name + ")"
}
