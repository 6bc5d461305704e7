package scpitest

import (
	"context"
	"errors"
	"io"
	"testing"
	"time"

	"soakline/device/scpi"
)

// Promises tests what every scpi.Line promises. open gives a fresh line and its
// far end, which keeps what is written to it until the line reads.
func Promises(t *testing.T, open func(t *testing.T) (line scpi.Line, far io.ReadWriter)) {
	for name, promise := range map[string]func(t *testing.T, line scpi.Line, far io.ReadWriter){
		"a read that is over already brings what has arrived": bringsWaiting,
		"a read waits no longer than its context":             obeysDeadline,
		"what is written arrives":                             writes,
		"discarding throws away what has arrived":             discards,
	} {
		t.Run(name, func(t *testing.T) {
			line, far := open(t)
			promise(t, line, far)
		})
	}
}

// over is a context whose deadline has passed.
func over() (context.Context, context.CancelFunc) {
	return context.WithDeadline(context.Background(), time.Time{})
}

// mustSend has the far end send text and reads its first byte, so that the rest
// has arrived too.
func mustSend(t *testing.T, line scpi.Line, far io.Writer, text string) {
	t.Helper()
	if _, err := io.WriteString(far, text); err != nil {
		t.Fatal(err)
	}
	first := make([]byte, 1)
	if n, err := line.Read(t.Context(), first); n != 1 || err != nil || first[0] != text[0] {
		t.Fatalf("first byte of %q: %q, %v", text, first[:n], err)
	}
}

func bringsWaiting(t *testing.T, line scpi.Line, far io.ReadWriter) {
	mustSend(t, line, far, "1.999\n")
	ctx, cancel := over()
	defer cancel()
	buf := make([]byte, 9)
	if n, err := line.Read(ctx, buf); string(buf[:n]) != ".999\n" || err != nil {
		t.Errorf("with a context that is over: %q, %v; a stale answer stays hidden and is taken for the next", buf[:n], err)
	}
	if n, err := line.Read(ctx, buf); n != 0 || !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("with nothing left: %d bytes, %v", n, err)
	}
}

func obeysDeadline(t *testing.T, line scpi.Line, _ io.ReadWriter) {
	ctx, cancel := context.WithTimeout(t.Context(), time.Millisecond)
	defer cancel()
	if n, err := line.Read(ctx, make([]byte, 9)); n != 0 || !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%d bytes, %v", n, err)
	}
}

func writes(t *testing.T, line scpi.Line, far io.ReadWriter) {
	if err := line.Write(t.Context(), []byte("*IDN?\n")); err != nil {
		t.Fatal(err)
	}
	got := make([]byte, 6)
	if _, err := io.ReadFull(far, got); err != nil || string(got) != "*IDN?\n" {
		t.Errorf("%q, %v", got, err)
	}
}

func discards(t *testing.T, line scpi.Line, far io.ReadWriter) {
	mustSend(t, line, far, "1.999\n")
	if err := line.Discard(); err != nil {
		t.Fatal(err)
	}
	mustSend(t, line, far, "5.0121\n")
}
