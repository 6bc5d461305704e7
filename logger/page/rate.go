package page

import (
	"fmt"
	"math"
	"net/http"
	"strconv"
	"sync"
	"time"
)

// rate bounds how often something may come from each address: burst at once, then
// one every so often.
type rate struct {
	burst int
	every time.Duration

	mu sync.Mutex
	// due is, for each address, when the last of what it took is worked off.
	due map[string]time.Time
}

// mostAddresses bounds what a rate remembers.
const mostAddresses = 4096

func newRate(burst int, every time.Duration) *rate {
	return &rate{burst: burst, every: every, due: map[string]time.Time{}}
}

// wait is how long an address must wait; 0 if it need not.
func (l *rate) wait(from string, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	due := l.due[from]
	if !due.After(now) {
		return 0
	}
	return max(0, due.Sub(now)-time.Duration(l.burst-1)*l.every)
}

// take counts one of an address.
func (l *rate) take(from string, now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.due) >= mostAddresses {
		l.forget(now)
	}
	due := l.due[from]
	if due.Before(now) {
		due = now
	}
	l.due[from] = due.Add(l.every)
}

// forget drops the addresses that have worked off what they took; if that is not
// enough, all: an attacker with thousands of addresses is not kept off by this.
func (l *rate) forget(now time.Time) {
	for from, due := range l.due {
		if !due.After(now) {
			delete(l.due, from)
		}
	}
	if len(l.due) >= mostAddresses {
		clear(l.due)
	}
}

// paced bounds how often an address may change something, and how often it may ask.
func (s *Server) paced(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		bound := s.orders
		if r.Method == http.MethodGet || r.Method == http.MethodHead {
			bound = s.questions
		}
		from, now := hostOf(r.RemoteAddr), time.Now()
		if wait := bound.wait(from, now); wait > 0 {
			tooMany(w, wait, "too much is asked at once from there")
			return
		}
		bound.take(from, now)
		next.ServeHTTP(w, r)
	})
}

// tooMany says when to come again.
func tooMany(w http.ResponseWriter, wait time.Duration, why string) {
	s := int(math.Ceil(wait.Seconds()))
	w.Header().Set("Retry-After", strconv.Itoa(s))
	refuse(w, http.StatusTooManyRequests, fmt.Sprintf("%s; come again in %d s", why, s))
}
