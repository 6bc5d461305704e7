package port

import (
	"context"
	"errors"
	"testing"

	"soakline/device/port/porttest"
)

func openServer(t *testing.T) (*porttest.Server, *Port) {
	t.Helper()
	s := porttest.NewServer(t)
	// A serial server sets its own line: no settings are needed.
	p, err := Open(t.Context(), s.Address(), Settings{})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := p.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	s.Await()
	return s, p
}

func TestTCPQuestionAndAnswer(t *testing.T) {
	s, p := openServer(t)
	s.Answer(func(line string) string { return "got " + line })
	if err := p.Write(t.Context(), []byte("READ?\n")); err != nil {
		t.Fatal(err)
	}
	readAll(t, p, "got READ?\n")
	if p.Name() != s.Address() || p.Address() != s.Address() {
		t.Errorf("name %s, address %s", p.Name(), p.Address())
	}
}

func TestTCPSilence(t *testing.T) {
	s, p := openServer(t)
	_, err := p.Read(soon(t), make([]byte, 8))
	wantKind(t, err, KindTimeout)
	if !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%v is no context.DeadlineExceeded", err)
	}
	s.Send("late\n")
	readAll(t, p, "late\n")
}

func TestTCPReadUnderAnEndedContext(t *testing.T) {
	s, p := openServer(t)
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	b := make([]byte, 8)
	_, err := p.Read(ended, b)
	wantKind(t, err, KindCanceled)
	s.Send("late\n")
	if got := readText(t, p, 1); got != "l" {
		t.Fatalf("read %q", got)
	}
	if n, err := p.Read(ended, b); err != nil || string(b[:n]) != "ate\n" {
		t.Errorf("read %q, %v", b[:n], err)
	}
}

func TestTCPServerDropsTheConnection(t *testing.T) {
	s, p := openServer(t)
	done := make(chan error, 1)
	go func() {
		_, err := p.Read(t.Context(), make([]byte, 8))
		done <- err
	}()
	s.Drop()
	wantKind(t, <-done, KindLost)
	again, err := Open(t.Context(), s.Address(), Settings{})
	if err != nil {
		t.Fatal(err)
	}
	defer again.Close()
	s.Await()
	s.Send("back\n")
	readAll(t, again, "back\n")
}

func TestTCPCloseEndsARead(t *testing.T) {
	_, p := openServer(t)
	done := make(chan error, 1)
	go func() {
		_, err := p.Read(t.Context(), make([]byte, 8))
		done <- err
	}()
	if err := p.Close(); err != nil {
		t.Error(err)
	}
	wantKind(t, <-done, KindClosed)
	wantKind(t, p.Write(t.Context(), []byte("x")), KindClosed)
}

func TestTCPDiscard(t *testing.T) {
	s, p := openServer(t)
	s.Send("late answer\n")
	if got := readText(t, p, 1); got != "l" {
		t.Fatalf("read %q", got)
	}
	if err := p.Discard(); err != nil {
		t.Fatal(err)
	}
	s.Send("new\n")
	readAll(t, p, "new\n")
}

func TestTCPWriteNobodyTakes(t *testing.T) {
	_, p := openServer(t)
	wantKind(t, p.Write(soon(t), make([]byte, 64<<20)), KindTimeout)
}

func TestTCPNobodyListens(t *testing.T) {
	s := porttest.NewServer(t)
	s.Shut()
	_, err := Open(t.Context(), s.Address(), Settings{})
	wantKind(t, err, KindAbsent)
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	_, err = Open(ctx, s.Address(), Settings{})
	wantKind(t, err, KindCanceled)
}
