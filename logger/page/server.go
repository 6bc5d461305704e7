package page

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"time"

	"golang.org/x/sync/errgroup"

	"soakline/logger"
)

// Server serves one bench. Run starts it.
type Server struct {
	bench   *logger.Bench
	metrics http.Handler
	token   string
	log     *slog.Logger
}

// NewServer returns a server for a bench; metrics answers /metrics.
func NewServer(bench *logger.Bench, metrics http.Handler, token string, log *slog.Logger) *Server {
	return &Server{bench: bench, metrics: metrics, token: token, log: log}
}

// A client that is slow or never reads costs a connection, not the bench.
const (
	headerTimeout   = 5 * time.Second
	requestTimeout  = 30 * time.Second
	idleTimeout     = 2 * time.Minute
	shutdownTimeout = 3 * time.Second
	maxHeaderBytes  = 16 << 10
	maxBodyBytes    = 64 << 10
)

// Run serves until the context ends; then it lets requests under way finish for a
// short while.
func (s *Server) Run(ctx context.Context, listener net.Listener) error {
	server := &http.Server{Handler: s.Handler(), ReadHeaderTimeout: headerTimeout, ReadTimeout: requestTimeout,
		WriteTimeout: requestTimeout, IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeaderBytes,
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug)}
	var group errgroup.Group
	group.Go(func() error {
		<-ctx.Done() // also where serving failed: whoever runs it ends it
		stopCtx, cancel := context.WithTimeout(context.WithoutCancel(ctx), shutdownTimeout)
		defer cancel()
		if err := server.Shutdown(stopCtx); err != nil {
			return server.Close()
		}
		return nil
	})
	err := server.Serve(listener)
	if errors.Is(err, http.ErrServerClosed) {
		return group.Wait()
	}
	err = fmt.Errorf("serve on %s: %w", listener.Addr(), err)
	s.log.Error("page and metrics are gone; the bench goes on", "error", err)
	return errors.Join(err, group.Wait())
}

// Handler returns everything that is served.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.metrics)
	mux.HandleFunc("GET /healthz", s.healthy)
	mux.HandleFunc("GET /readyz", s.ready)
	mux.HandleFunc("GET /api/v1/bench", s.getBench)
	mux.HandleFunc("GET /api/v1/units", s.getUnits)
	mux.HandleFunc("POST /api/v1/units", s.addUnit)
	mux.HandleFunc("GET /api/v1/units/{unit}", s.getUnit)
	mux.HandleFunc("POST /api/v1/units/{unit}/notes", s.addNote)
	mux.HandleFunc("GET /api/v1/soaks", s.getSoaks)
	mux.HandleFunc("POST /api/v1/soaks", s.beginSoak)
	mux.HandleFunc("POST /api/v1/units/{unit}/soak/end", s.endSoak)
	mux.HandleFunc("GET /api/v1/units/{unit}/round-plan", s.getRoundPlan)
	mux.HandleFunc("POST /api/v1/units/{unit}/discharge/{point}", s.watchDischarge)
	mux.HandleFunc("GET /api/v1/units/{unit}/rounds", s.getRounds)
	mux.HandleFunc("POST /api/v1/units/{unit}/rounds", s.beginRound)
	mux.HandleFunc("GET /api/v1/units/{unit}/rounds/{label}", s.getRound)
	mux.HandleFunc("POST /api/v1/units/{unit}/rounds/{label}/points/{point}", s.readPoint)
	mux.HandleFunc("POST /api/v1/units/{unit}/rounds/{label}/end", s.endRound)
	mux.HandleFunc("GET /api/v1/units/{unit}/comparison", s.getComparison)
	mux.HandleFunc("POST /api/v1/units/{unit}/trials", s.beginTrial)
	mux.HandleFunc("GET /api/v1/units/{unit}/trials/{trial}", s.getTrial)
	mux.HandleFunc("POST /api/v1/units/{unit}/trials/{trial}/end", s.endTrial)
	return guard(s.token, mux)
}

// healthy says whether the bench answers and its book can be written.
func (s *Server) healthy(w http.ResponseWriter, r *http.Request) {
	snapshot, err := s.bench.Snapshot(r.Context())
	if trouble := troubleOf(snapshot, err); trouble != "" {
		refuse(w, http.StatusServiceUnavailable, trouble)
		return
	}
	answer(w, http.StatusOK, map[string]string{"bench": snapshot.Bench, "state": "well"})
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
func (s *Server) ready(w http.ResponseWriter, r *http.Request) {
	snapshot, err := s.bench.Snapshot(r.Context())
	if trouble := troubleOf(snapshot, err); trouble != "" {
		refuse(w, http.StatusServiceUnavailable, trouble)
		return
	}
	for _, instrument := range snapshot.Instruments {
		if !instrument.Up {
			refuse(w, http.StatusServiceUnavailable, fmt.Sprintf("instrument %s does not answer: %s", instrument.Instrument, instrument.Trouble))
			return
		}
	}
	answer(w, http.StatusOK, map[string]string{"bench": snapshot.Bench, "state": "ready"})
}
