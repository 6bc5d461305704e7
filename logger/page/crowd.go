package page

import (
	"bytes"
	"context"
	"net"
	"net/http"
	"sync"
	"sync/atomic"
	"time"
)

// What all who come may take together. A connection costs some 20 kB as long as it
// is open, and an answer what it is long while it is made.
const (
	// calmConnections is how many may stay open for the next request: fifty pages
	// with what browsers open for each, and the programs.
	calmConnections = 128
	// mostConnections is from how many on the others are refused.
	mostConnections = 512
	// mostMaking is how many answers are made at once.
	mostMaking = 8
	// makingPatience is how long a request waits for its turn.
	makingPatience = 10 * time.Second
	// mostHeld is how much of an answer is held until it is whole; what is longer is
	// sent as it is made.
	mostHeld = 512 << 10
)

// crowd bounds what those who come cost, so that a thousand of them who never read
// do not take the memory of those who do.
type crowd struct {
	open   atomic.Int64
	making chan struct{}
}

func newCrowd() *crowd { return &crowd{making: make(chan struct{}, mostMaking)} }

// count follows the server's connections.
func (c *crowd) count(_ net.Conn, state http.ConnState) {
	switch state {
	case http.StateNew:
		c.open.Add(1)
	case http.StateClosed, http.StateHijacked:
		c.open.Add(-1)
	}
}

// bounded refuses what is too much. Where many have come, none keeps its connection
// beyond its answer.
func (c *crowd) bounded(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		open := c.open.Load()
		if open > calmConnections {
			w.Header().Set("Connection", "close")
		}
		if open > mostConnections {
			crowded(w, "too many connections are open")
			return
		}
		next.ServeHTTP(w, r)
	})
}

func crowded(w http.ResponseWriter, why string) {
	w.Header().Set("Retry-After", "1")
	refuse(w, http.StatusServiceUnavailable, why+"; come again in 1 s")
}

// inTurn has a few answers made at once, each into memory: whoever reads slowly, or
// never, keeps the bytes that are for him and not a turn.
func (c *crowd) inTurn(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		patience, cancel := context.WithTimeout(r.Context(), makingPatience)
		defer cancel()
		select {
		case c.making <- struct{}{}:
		case <-patience.Done():
			crowded(w, "too much is asked for at once")
			return
		}
		held := &heldAnswer{ResponseWriter: w, status: http.StatusOK, release: sync.OnceFunc(func() { <-c.making })}
		defer held.release()
		next.ServeHTTP(held, r)
		held.release()
		held.pass()
	})
}

// heldAnswer holds an answer until it is whole or grows too long.
type heldAnswer struct {
	http.ResponseWriter
	status  int
	text    bytes.Buffer
	passing bool
	release func()
}

// Unwrap is for http.ResponseController.
func (h *heldAnswer) Unwrap() http.ResponseWriter { return h.ResponseWriter }

// WriteHeader notes the status.
func (h *heldAnswer) WriteHeader(status int) { h.status = status }

// Write holds text, or hands it on once too much is held.
func (h *heldAnswer) Write(text []byte) (int, error) {
	if !h.passing && h.text.Len()+len(text) <= mostHeld {
		return h.text.Write(text)
	}
	h.release()
	h.pass()
	return h.ResponseWriter.Write(text)
}

// pass hands on what is held. The client may be gone; there is nobody to tell.
func (h *heldAnswer) pass() {
	if h.passing {
		return
	}
	h.passing = true
	h.ResponseWriter.WriteHeader(h.status)
	_, _ = h.ResponseWriter.Write(h.text.Bytes())
}
