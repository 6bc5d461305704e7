package simbench

import (
	"context"
	"fmt"
	"net"
)

// tcpLink is an instrument behind a serial server on the loopback interface. One
// client at a time is talked to; the next waits.
type tcpLink struct{ listener net.Listener }

func listen(where string) (link, error) {
	var config net.ListenConfig
	l, err := config.Listen(context.Background(), "tcp", where)
	if err != nil {
		return nil, fmt.Errorf("listening on %s: %w", where, err)
	}
	return &tcpLink{listener: l}, nil
}

// accept ends when the listener is closed, which port does at the end of ctx.
func (l *tcpLink) accept(context.Context) (connection, error) {
	c, err := l.listener.Accept()
	if err != nil {
		return nil, fmt.Errorf("waiting for a client on %s: %w", l.address(), err)
	}
	return c.(*net.TCPConn), nil
}

func (l *tcpLink) address() string { return "tcp://" + l.listener.Addr().String() }

func (l *tcpLink) close() error { return l.listener.Close() }
