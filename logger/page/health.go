package page

import (
	"fmt"
	"net/http"
	"time"

	"soakline/logger"
)

// HealthView says that all is well; what is not is a refusal.
type HealthView struct {
	Bench string `json:"bench"`
	State string `json:"state"`
}

func (s *Server) healthRoutes() []route {
	return []route{
		get("/healthz", "Says whether the bench answers and its book can be written.", s.healthy),
		get("/readyz", "Says whether every instrument answers as well.", s.ready),
	}
}

// healthy says whether the bench answers and its book can be written.
func (s *Server) healthy(r *http.Request) (HealthView, error) {
	snapshot, err := s.bench.Snapshot(r.Context())
	if trouble := troubleOf(snapshot, err); trouble != "" {
		return HealthView{}, refused{http.StatusServiceUnavailable, trouble}
	}
	return HealthView{snapshot.Bench, "well"}, nil
}

// commitPatience is how long a commit may take before the book is in trouble.
const commitPatience = 10 * time.Second

// troubleOf says what keeps the bench from working, whatever its instruments do.
func troubleOf(snapshot logger.Snapshot, err error) string {
	since := snapshot.Book.CommittingSince
	switch {
	case err != nil:
		return err.Error()
	case snapshot.Book.Err != nil:
		return "the book cannot be written: " + snapshot.Book.Err.Error()
	case !since.IsZero() && time.Since(since) > commitPatience:
		return fmt.Sprintf("the book has been busy with one commit for %s", time.Since(since).Round(time.Second))
	}
	return ""
}

// ready says whether every instrument answers as well.
func (s *Server) ready(r *http.Request) (HealthView, error) {
	snapshot, err := s.bench.Snapshot(r.Context())
	if trouble := troubleOf(snapshot, err); trouble != "" {
		return HealthView{}, refused{http.StatusServiceUnavailable, trouble}
	}
	for _, instrument := range snapshot.Instruments {
		if !instrument.Up {
			return HealthView{}, refusal(http.StatusServiceUnavailable, "instrument %s does not answer: %s", instrument.Instrument, instrument.Trouble)
		}
	}
	return HealthView{snapshot.Bench, "ready"}, nil
}
