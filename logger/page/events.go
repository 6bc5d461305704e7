package page

import (
	"io"
	"net/http"
	"reflect"
	"time"
)

// Beat says that the daemon is there though nothing has changed.
type Beat struct {
	At time.Time `json:"at"`
}

// LiveEvent has one field for each kind of live event: the event's name is the
// key, its data the value.
type LiveEvent struct {
	Snapshot  *LiveSnapshot  `json:"snapshot,omitempty"`
	Change    *LiveChange    `json:"change,omitempty"`
	Happening *HappeningView `json:"happening,omitempty"`
	Beat      *Beat          `json:"beat,omitempty"`
}

// eventStream is the kind of what is streamed (HTML Living Standard, 9.2).
const eventStream = "text/event-stream"

// writePatience is how long one write to a page may take.
const writePatience = 5 * time.Second

func (s *Server) eventRoutes() []route {
	return []route{{method: http.MethodGet, path: "/api/v1/events",
		about: "Streams the bench as it changes: event snapshot first, then change, happening and beat; Last-Event-ID brings back happenings that were missed.",
		gives: reflect.TypeFor[LiveEvent](), media: eventStream, status: http.StatusOK, serve: s.streamEvents}}
}

// streamEvents hands on what the hub sends until the page leaves or is sent away.
func (s *Server) streamEvents(w http.ResponseWriter, r *http.Request) {
	me := &watcher{queue: make(chan []byte, waiting), last: r.Header.Get("Last-Event-ID")}
	select {
	case s.hub.joins <- me:
	case <-s.hub.ended:
		refuse(w, http.StatusServiceUnavailable, "the bench stops")
		return
	case <-r.Context().Done():
		return
	}
	first, ok := <-me.queue
	if !ok {
		w.Header().Set("Retry-After", "1")
		refuse(w, http.StatusServiceUnavailable, "the bench has stopped, or too many pages watch it")
		return
	}
	defer s.leave(me)
	w.Header().Set("Content-Type", eventStream)
	w.Header().Set("Cache-Control", "no-store")
	control := http.NewResponseController(w)
	if supported(control.SetReadDeadline(time.Time{})) != nil || pass(w, control, first) != nil {
		return
	}
	for {
		select {
		case text, ok := <-me.queue:
			if !ok || pass(w, control, text) != nil {
				return
			}
		case <-r.Context().Done():
			return
		}
	}
}

// pass writes one event at once.
func pass(w io.Writer, control *http.ResponseController, text []byte) error {
	if err := supported(control.SetWriteDeadline(time.Now().Add(writePatience))); err != nil {
		return err
	}
	if _, err := w.Write(text); err != nil {
		return err
	}
	return control.Flush()
}

// leave tells the hub that a page has gone.
func (s *Server) leave(me *watcher) {
	select {
	case s.hub.leaves <- me:
	case <-s.hub.ended:
	}
}
