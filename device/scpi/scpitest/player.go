package scpitest

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"soakline/device/scpi"
)

var (
	// ErrHangUp is what the line returns after a hang-up.
	ErrHangUp = errors.New("the line is gone")
	// ErrOffScript says that the program did what the talk does not have.
	ErrOffScript = errors.New("not in the talk")
)

// Player is the instrument's side of a talk. It is a line for a conversation, for
// one goroutine. A replay shows that a program understands an instrument, not
// that the instrument exists: what no talk holds, it cannot show.
type Player struct {
	talk    *Talk
	at      int       // the step that is next
	since   time.Time // when it came to be next
	arrived []byte    // sent by the instrument and not yet read
	written []byte    // sent by the program and not yet a whole message
	failed  error     // the first step off the script
}

var _ scpi.Line = (*Player)(nil)

// Play plays a talk.
func Play(talk *Talk) *Player { return &Player{talk: talk, since: time.Now()} }

// Open plays the talk in a file, and fails the test if it is not played to its end.
func Open(t testing.TB, path string) *Player {
	t.Helper()
	file, err := os.Open(filepath.Clean(path))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	talk, err := ParseTalk(path, file)
	if err != nil {
		t.Fatal(err)
	}
	player := Play(talk)
	t.Cleanup(func() {
		if err := player.Close(); err != nil {
			t.Error(err)
		}
	})
	return player
}

// Close fails if the program left the script or has not come to its end.
func (p *Player) Close() error {
	if p.failed != nil {
		return p.failed
	}
	if len(p.written) > 0 {
		return p.offScript("half a message %q", p.written)
	}
	if len(p.arrived) > 0 {
		return p.offScript("%q not read", p.arrived)
	}
	if s := p.next(); s != nil && s.kind != fault {
		return p.offScript("%c %q not used", s.kind, s.bytes)
	}
	if p.at+1 < len(p.talk.steps) {
		return p.offScript("steps behind the hang-up not used")
	}
	return nil
}

// next is the step to be played, nil at the end of the talk.
func (p *Player) next() *step {
	if p.at == len(p.talk.steps) {
		return nil
	}
	return &p.talk.steps[p.at]
}

func (p *Player) advance() { p.at, p.since = p.at+1, time.Now() }

// offScript makes, and remembers, an error at the step that is next.
func (p *Player) offScript(format string, args ...any) error {
	line := 0
	if s := p.next(); s != nil {
		line = s.line
	}
	err := fmt.Errorf("%s:%d: %w: %s", p.talk.name, line, ErrOffScript, fmt.Sprintf(format, args...))
	if p.failed == nil {
		p.failed = err
	}
	return err
}

// Write takes what the program sends and compares it with the talk. What the
// instrument was to send before stays to be read; a pause is cut short.
func (p *Player) Write(_ context.Context, data []byte) error {
	p.written = append(p.written, data...)
	for len(p.written) > 0 {
		s := p.next()
		switch {
		case s == nil:
			return p.offScript("%q sent after the end", p.written)
		case s.kind == fault:
			p.written = nil
			return ErrHangUp
		case s.kind == received || s.kind == raw:
			p.arrived = append(p.arrived, s.bytes...)
		case s.kind == sent && bytes.HasPrefix(p.written, s.bytes):
			p.written = p.written[len(s.bytes):]
		case s.kind == sent && bytes.HasPrefix(s.bytes, p.written):
			return nil // the rest is still to come
		case s.kind == sent:
			return p.offScript("sent %q, wanted %q", p.written, s.bytes)
		}
		p.advance()
	}
	return nil
}

// Read gives one step's bytes, after its pauses; while the talk waits for the
// program it waits for the end of ctx.
func (p *Player) Read(ctx context.Context, buf []byte) (int, error) {
	for len(p.arrived) == 0 {
		if err := p.play(ctx); err != nil {
			return 0, err
		}
	}
	n := copy(buf, p.arrived)
	p.arrived = p.arrived[n:]
	return n, nil
}

// play plays one step of the instrument's.
func (p *Player) play(ctx context.Context) error {
	s := p.next()
	switch {
	case s == nil || s.kind == sent:
		if ctx.Done() == nil {
			return p.offScript("waiting without end for an answer")
		}
		<-ctx.Done()
		return ctx.Err()
	case s.kind == fault:
		return ErrHangUp
	case s.kind == pause:
		if err := wait(ctx, s.wait-time.Since(p.since)); err != nil {
			return err
		}
	default:
		p.arrived = append(p.arrived, s.bytes...)
	}
	p.advance()
	return nil
}

// wait waits, unless ctx ends first.
func wait(ctx context.Context, d time.Duration) error {
	if d <= 0 {
		return nil
	}
	timer := time.NewTimer(d)
	defer timer.Stop()
	select {
	case <-timer.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}

// Discard throws away what the instrument has sent by now.
func (p *Player) Discard() error {
	p.arrived = nil
	for s := p.next(); s != nil && (s.kind == received || s.kind == raw); s = p.next() {
		p.advance()
	}
	return nil
}
