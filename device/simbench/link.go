package simbench

import (
	"context"
	"io"
	"net"
	"time"
)

// link is how an instrument can be reached while it is plugged in.
type link interface {
	// accept waits for somebody to talk to. A pseudo-terminal gives its one
	// connection at once and from then on waits for ctx; TCP gives one after the
	// other.
	accept(ctx context.Context) (connection, error)
	// address is what a reader opens.
	address() string
	close() error
}

// connection is a line; a write that nobody reads can be given an end.
type connection interface {
	io.ReadWriteCloser
	SetWriteDeadline(time.Time) error
}

// insert makes the instrument reachable at where.
func insert(where string) (link, error) {
	if isAddress(where) {
		return listen(where)
	}
	return openPTY(where)
}

// isAddress tells a TCP address from a path.
func isAddress(where string) bool {
	host, port, err := net.SplitHostPort(where)
	if err != nil || host == "" {
		return false
	}
	for _, r := range port {
		if r < '0' || r > '9' {
			return false
		}
	}
	return port != ""
}

func isLoopback(where string) bool {
	host, _, err := net.SplitHostPort(where)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}
