package page

import (
	"bytes"
	"context"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"log/slog"
	"strconv"
	"strings"
	"time"

	"soakline/logger"
)

// How live events are paced.
const (
	// lookEvery is how often changes are gathered: what a page shows is this old
	// and the way to it.
	lookEvery = 100 * time.Millisecond
	// wholeEvery is how many looks there are to one at everything.
	wholeEvery = 10
	// beatEvery is how many looks may pass without a word before a beat is sent.
	beatEvery = 20
	// mostWatchers is how many pages may watch at once.
	mostWatchers = 256
	// retryMilliseconds is when a page that lost its stream asks again.
	retryMilliseconds = "1000"
	// waiting is how many events may wait for one page: three seconds and more.
	waiting = 32
	// remembered is how many happenings are kept for pages that come back.
	remembered = 256
)

// hub looks at the bench while anyone watches, and hands the same bytes to all who
// do. One goroutine, that of run, owns it.
type hub struct {
	bench *logger.Bench
	log   *slog.Logger
	// name tells this run's events from those of another.
	name   string
	joins  chan *watcher
	leaves chan *watcher
	ended  chan struct{}

	// What follows is run's alone.
	watchers map[*watcher]struct{}
	seq      uint64
	recent   []kept
	teller   *teller
	looks    int // since the last look at everything
	quiet    int // looks since the last event
}

// kept is a happening as it was sent.
type kept struct {
	seq  uint64
	text []byte
}

// watcher is one page that watches. The hub closes queue when it is done with it.
type watcher struct {
	queue chan []byte
	// last is the event that it had last, as it says itself.
	last string
}

func newHub(bench *logger.Bench, log *slog.Logger) *hub {
	return &hub{bench: bench, log: log, name: strings.ToLower(rand.Text()[:8]), joins: make(chan *watcher),
		leaves: make(chan *watcher), ended: make(chan struct{}), watchers: map[*watcher]struct{}{}}
}

// run serves those who watch until the context ends.
func (h *hub) run(ctx context.Context) error {
	defer close(h.ended)
	happenings, stop := h.bench.Follow()
	defer stop()
	clock := time.NewTicker(lookEvery)
	defer clock.Stop()
	for {
		select {
		case w := <-h.joins:
			h.join(ctx, w)
		case w := <-h.leaves:
			h.drop(w, false)
		case happening := <-happenings:
			h.happened(happening)
		case <-clock.C:
			if len(h.watchers) > 0 {
				h.look(ctx)
			}
		case <-ctx.Done():
			h.dropAll()
			return nil
		}
	}
}

// join takes a page in: what it missed, then all of the bench as it is now.
func (h *hub) join(ctx context.Context, w *watcher) {
	snapshot, err := h.bench.Snapshot(ctx)
	if err != nil || len(h.watchers) >= mostWatchers {
		h.bench.Counters.WatcherRefused()
		close(w.queue)
		return
	}
	if len(h.watchers) == 0 {
		h.teller = newTeller(snapshot)
	} else {
		h.share(h.teller.change(snapshot, false)) // so that all stand alike
	}
	h.watchers[w] = struct{}{}
	h.bench.Counters.WatcherCame()
	first := []byte("retry: " + retryMilliseconds + "\n\n")
	for _, missed := range h.missedBy(w.last) {
		first = append(first, missed.text...)
	}
	h.send(w, append(first, h.event("snapshot", LiveSnapshot{Run: h.name, Bench: View(snapshot)})...))
}

// missedBy are the happenings after the event that a page had last; none if that
// was of another run.
func (h *hub) missedBy(last string) []kept {
	name, number, _ := strings.Cut(last, "-")
	seq, err := strconv.ParseUint(number, 10, 64)
	if err != nil || name != h.name {
		return nil
	}
	for i, happening := range h.recent {
		if happening.seq > seq {
			return h.recent[i:]
		}
	}
	return nil
}

// look gathers what has changed and shares it.
func (h *hub) look(ctx context.Context) {
	snapshot, err := h.bench.Snapshot(ctx)
	if err != nil { // the bench has stopped: pages ask again whether it is back
		h.dropAll()
		return
	}
	h.looks++
	whole := h.looks%wholeEvery == 0
	h.share(h.teller.change(snapshot, whole))
	if h.quiet++; h.quiet >= beatEvery {
		h.broadcast(h.event("beat", Beat{At: snapshot.At}))
	}
}

// share sends a change to all, if it is one.
func (h *hub) share(change LiveChange) {
	if !change.empty() {
		h.broadcast(h.event("change", change))
	}
}

// happened tells all what happened, and keeps it for those who come back.
func (h *hub) happened(happening logger.Happening) {
	text := h.event("happening", viewHappening(happening))
	if len(h.recent) == remembered {
		h.recent = append(h.recent[:0], h.recent[1:]...)
	}
	h.recent = append(h.recent, kept{h.seq, text})
	h.broadcast(text)
}

// event writes an event once for all (HTML Living Standard, 9.2.5).
func (h *hub) event(kind string, data any) []byte {
	text, err := json.Marshal(data)
	if err != nil {
		h.log.Error("an event for the page could not be written", "event", kind, "error", err)
		return nil
	}
	h.seq++
	var b bytes.Buffer
	fmt.Fprintf(&b, "event: %s\nid: %s-%d\ndata: %s\n\n", kind, h.name, h.seq, text)
	return b.Bytes()
}

// broadcast sends to all; whoever has not read for long is sent away.
func (h *hub) broadcast(text []byte) {
	h.quiet = 0
	for w := range h.watchers {
		h.send(w, text)
	}
}

func (h *hub) send(w *watcher, text []byte) {
	select {
	case w.queue <- text:
	default:
		h.drop(w, true)
	}
}

// drop sends a page away, or lets it go.
func (h *hub) drop(w *watcher, unread bool) {
	if _, here := h.watchers[w]; here {
		delete(h.watchers, w)
		close(w.queue)
		h.bench.Counters.WatcherLeft(unread)
	}
}

func (h *hub) dropAll() {
	for w := range h.watchers {
		h.drop(w, false)
	}
}
