package simbench

import (
	"bytes"
	"context"
	"io"
	"sync"
)

// longestMessage is an instrument's input buffer, in bytes.
const longestMessage = 64 << 10

// converse runs talk with a reader beside it that cuts what comes into messages;
// it returns when both have ended and the connection is closed.
func converse(ctx context.Context, conn io.ReadWriteCloser, talk handler) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	incoming := make(chan message, 16)
	var both sync.WaitGroup
	both.Go(func() {
		intake(ctx, conn, incoming)
		close(incoming)
	})
	both.Go(func() {
		<-ctx.Done()
		_ = conn.Close() // a line that is being pulled has nobody to report to
	})
	// The other side may leave in the middle of an answer: that is its right.
	_ = talk(ctx, conn, incoming)
	cancel()
	both.Wait()
}

// intake cuts a stream at LF, CR LF or CR (what is between CR and LF is empty and
// skipped) until it ends. A message that does not fit is reported once.
func intake(ctx context.Context, conn io.Reader, to chan<- message) {
	var pending []byte
	overrun := false
	buffer := make([]byte, 4096)
	for {
		n, err := conn.Read(buffer)
		for rest := buffer[:n]; len(rest) > 0; {
			end := bytes.IndexAny(rest, "\r\n")
			if end < 0 {
				pending, overrun = gather(pending, rest, overrun)
				break
			}
			pending, overrun = gather(pending, rest[:end], overrun)
			rest = rest[end+1:]
			m := message{text: string(pending)}
			if overrun {
				m = message{err: failure(-363, "")}
			}
			pending, overrun = pending[:0], false
			if m.text == "" && m.err == nil {
				continue
			}
			select {
			case to <- m:
			case <-ctx.Done():
				return
			}
		}
		if err != nil {
			return
		}
	}
}

// gather adds to a message; one that has grown too long is let go.
func gather(pending, more []byte, overrun bool) ([]byte, bool) {
	if overrun || len(pending)+len(more) > longestMessage {
		return pending[:0], true
	}
	return append(pending, more...), false
}
