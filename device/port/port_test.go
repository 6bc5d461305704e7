package port

import (
	"context"
	"errors"
	"strings"
	"testing"
	"time"

	"soakline/device/port/porttest"
)

// soon is a deadline for what is not going to happen.
func soon(t *testing.T) context.Context {
	ctx, cancel := context.WithTimeout(t.Context(), 30*time.Millisecond)
	t.Cleanup(cancel)
	return ctx
}

func TestQuestionAndAnswer(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Answer(func(line string) string { return "got " + line })
		for range 3 {
			if err := p.Write(t.Context(), []byte("READ?\n")); err != nil {
				t.Fatal(err)
			}
			readAll(t, p, "got READ?\n")
		}
		if p.Address() != c.Path() || p.Name() != c.Device() {
			t.Errorf("address %s, name %s, want %s, %s", p.Address(), p.Name(), c.Path(), c.Device())
		}
	})
}

func TestSP1UnplugEndsAWaitingRead(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Send("first\n")
		readAll(t, p, "first\n")
		done := make(chan error, 1)
		go func() {
			_, err := p.Read(t.Context(), make([]byte, 8))
			done <- err
		}()
		c.Pull()
		wantKind(t, <-done, KindLost)
		_, err := p.Read(t.Context(), make([]byte, 8))
		wantKind(t, err, KindLost)
	})
}

func TestSP2UnplugFailsTheNextWrite(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Pull()
		wantKind(t, p.Write(t.Context(), []byte("READ?\n")), KindLost)
		wantKind(t, p.Discard(), KindLost)
	})
}

func TestSP3CloseOfADeadPort(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Pull()
		for range 2 {
			if err := p.Close(); err != nil {
				t.Error(err)
			}
		}
	})
}

// What was not read at the hang-up may be gone, but a Read never hands out bytes
// that the instrument did not send, and the loss itself is told.
func TestSP4UnplugAfterUnreadLine(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Send("+1.00E+00\n")
		c.Pull()
		var got []byte
		b := make([]byte, 4)
		n, err := p.Read(t.Context(), b)
		for ; err == nil; n, err = p.Read(t.Context(), b) {
			got = append(got, b[:n]...)
		}
		wantKind(t, err, KindLost)
		if !strings.HasPrefix("+1.00E+00\n", string(got)) {
			t.Errorf("read %q", got)
		}
	})
}

func TestReturnUnderAnotherName(t *testing.T) {
	c := newCable(t)
	p := openOwn(t, c.Path())
	first := p.Name()
	c.Pull()
	if err := p.Close(); err != nil {
		t.Fatal(err)
	}
	// Another pair takes the old name meanwhile, as a second adapter would.
	other := newCable(t)
	c.Return()
	if c.Device() == first {
		t.Fatalf("the pair came back as %s, so this shows nothing; %s was to take the name", first, other.Device())
	}
	p = openOwn(t, c.Path())
	if p.Name() != c.Device() || p.Name() == first {
		t.Errorf("opened %s, want %s", p.Name(), c.Device())
	}
	c.Send("back\n")
	readAll(t, p, "back\n")
}

func TestSP12SilenceIsADeadline(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		n, err := p.Read(soon(t), make([]byte, 8))
		if n != 0 || !errors.Is(err, context.DeadlineExceeded) {
			t.Fatalf("Read = %d, %v", n, err)
		}
		wantKind(t, err, KindTimeout)
		// The port is as good as before.
		c.Send("late\n")
		readAll(t, p, "late\n")
	})
}

func TestSP13CancelEndsAWaitingRead(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		for range 20 {
			ctx, cancel := context.WithCancel(t.Context())
			go cancel()
			_, err := p.Read(ctx, make([]byte, 8))
			wantKind(t, err, KindCanceled)
			if !errors.Is(err, context.Canceled) {
				t.Errorf("%v is no context.Canceled", err)
			}
		}
		// No cancellation of before reaches into a new Read.
		c.Send("x")
		readAll(t, p, "x")
	})
}

func TestEndedContextMovesNothing(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		wantKind(t, p.Write(ctx, []byte("no\n")), KindCanceled)
		if err := p.Write(t.Context(), []byte("yes\n")); err != nil {
			t.Fatal(err)
		}
		if got := c.ReadLine(); got != "yes\n" {
			t.Errorf("the far end got %q", got)
		}
	})
}

func TestReadUnderAnEndedContextGivesWhatIsThere(t *testing.T) {
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		b := make([]byte, 8)
		_, err := p.Read(ended, b)
		wantKind(t, err, KindCanceled)
		c.Send("late\n")
		// Once its first byte can be read, all of it has arrived.
		if got := readText(t, p, 1); got != "l" {
			t.Fatalf("read %q", got)
		}
		if n, err := p.Read(ended, b); err != nil || string(b[:n]) != "ate\n" {
			t.Errorf("read %q, %v", b[:n], err)
		}
		c.Send("more\n")
		readAll(t, p, "more\n")
		c.Pull()
		_, err = p.Read(ended, b)
		wantKind(t, err, KindLost)
		if err := p.Close(); err != nil {
			t.Error(err)
		}
		_, err = p.Read(ended, b)
		wantKind(t, err, KindClosed)
	})
}

func TestSP14EmptyBuffer(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Send("ab")
		if got := readText(t, p, 1); got != "a" {
			t.Fatalf("read %q", got)
		}
		if n, err := p.Read(t.Context(), nil); n != 0 || err != nil {
			t.Errorf("Read into nothing = %d, %v", n, err)
		}
		readAll(t, p, "b")
	})
}

func TestSP15LinesInPieces(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Send("+1.2")
		readAll(t, p, "+1.2")
		c.Send("3\n+4\n+5\n")
		readAll(t, p, "3\n+4\n+5\n")
	})
}

func TestDiscardThrowsTheLateAnswerAway(t *testing.T) {
	eachWay(t, func(t *testing.T, c *porttest.Cable, p *Port) {
		c.Send("late answer\n")
		// Once its first byte can be read, all of it has arrived.
		if got := readText(t, p, 1); got != "l" {
			t.Fatalf("read %q", got)
		}
		if err := p.Discard(); err != nil {
			t.Fatal(err)
		}
		c.Send("new\n")
		readAll(t, p, "new\n")
	})
}
