package port

import (
	"context"
	"errors"
	"net"
	"os"
	"time"
)

// A connection that nobody answers for is given up after about half a minute, so
// that a server whose power was cut does not look like a silent instrument.
var keepAlive = net.KeepAliveConfig{Enable: true, Idle: 15 * time.Second, Interval: 5 * time.Second, Count: 3}

// dialLimit bounds a connection attempt whose context has no deadline.
const dialLimit = 10 * time.Second

// tcpLine is the line behind a serial server.
type tcpLine struct{ *net.TCPConn }

func dialTCP(ctx context.Context, a Address) (line, string, error) {
	dialer := net.Dialer{Timeout: dialLimit, KeepAliveConfig: keepAlive}
	conn, err := dialer.DialContext(ctx, "tcp", a.hostPort())
	if err != nil && ctx.Err() == nil {
		// Whatever the network says, the server cannot be had, and may be later.
		err = marked{err, KindAbsent}
	}
	if err != nil {
		return nil, "", err
	}
	// "tcp" dials nothing else.
	return tcpLine{conn.(*net.TCPConn)}, "tcp://" + conn.RemoteAddr().String(), nil
}

// A discard reads until nothing comes for discardQuiet, but no longer than
// discardLimit: an instrument that talks all the time never pauses.
const (
	discardQuiet = time.Millisecond
	discardLimit = 50 * time.Millisecond
)

func (t tcpLine) waiting(b []byte) (int, error) { return readNow(t.TCPConn, b) }

func (t tcpLine) discard() error {
	var waste [4096]byte
	for end := time.Now().Add(discardLimit); time.Now().Before(end); {
		if err := t.SetReadDeadline(time.Now().Add(discardQuiet)); err != nil {
			return err
		}
		if _, err := t.Read(waste[:]); errors.Is(err, os.ErrDeadlineExceeded) {
			return nil
		} else if err != nil {
			return err
		}
	}
	return nil
}

// dropUnsent makes Close drop what the server has not taken.
func (t tcpLine) dropUnsent() error { return t.SetLinger(0) }

var _ line = tcpLine{}
