package page

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"time"

	"golang.org/x/sync/errgroup"

	"soakline/logger"
)

// Server serves one bench. Run starts it.
type Server struct {
	bench   *logger.Bench
	metrics http.Handler
	token   token
	// attempts are wrong tokens, orders requests that change something, questions those
	// that do not.
	attempts, orders, questions *rate

	log      *slog.Logger
	hub      *hub
	crowd    *crowd
	assets   assets
	shipping Shipping // nil where nothing is shipped
}

// NewServer returns a server for a bench; metrics answers /metrics, and token is
// asked of all who come unless it is empty.
func NewServer(bench *logger.Bench, metrics http.Handler, token string, log *slog.Logger) *Server {
	return &Server{bench: bench, metrics: metrics, token: newToken(token), log: log, hub: newHub(bench, log), crowd: newCrowd(), assets: pageFiles(),
		attempts: newRate(attemptBurst, attemptEvery), orders: newRate(orderBurst, orderEvery), questions: newRate(questionBurst, questionEvery)}
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

// What one address may do: wrong tokens, requests that change something, and those that
// do not: fifty pages that are opened on one machine at the same moment ask less than a
// thousand times, and then a few times a second.
const (
	attemptBurst, attemptEvery   = 10, 30 * time.Second
	orderBurst, orderEvery       = 60, 50 * time.Millisecond
	questionBurst, questionEvery = 2000, 5 * time.Millisecond
)

// Run serves until the context ends; then it lets requests under way finish for a
// short while.
func (s *Server) Run(ctx context.Context, listener net.Listener) error {
	server := &http.Server{Handler: s.Handler(), ReadHeaderTimeout: headerTimeout, ReadTimeout: requestTimeout,
		WriteTimeout: requestTimeout, IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeaderBytes, ConnContext: boundBuffer, ConnState: s.crowd.count,
		ErrorLog: slog.NewLogLogger(s.log.Handler(), slog.LevelDebug)}
	var group errgroup.Group
	group.Go(func() error { return s.hub.run(ctx) })
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

// sendBuffer is how much the machine may hold for a client that does not read.
const sendBuffer = 64 << 10

// boundBuffer bounds what a connection can make the machine hold.
func boundBuffer(ctx context.Context, c net.Conn) context.Context {
	if encrypted, ok := c.(*tls.Conn); ok {
		c = encrypted.NetConn()
	}
	if connection, ok := c.(*net.TCPConn); ok {
		_ = connection.SetWriteBuffer(sendBuffer) // a wish; the machine has bounds of its own
	}
	return ctx
}

// Handler returns everything that is served.
func (s *Server) Handler() http.Handler {
	mux := http.NewServeMux()
	mux.Handle("GET /metrics", s.crowd.inTurn(s.metrics))
	for _, e := range s.routes() {
		if e.lasts() {
			mux.Handle(e.method+" "+e.path, e)
		} else {
			mux.Handle(e.method+" "+e.path, s.crowd.inTurn(e))
		}
	}
	mux.Handle("/", s.assets)
	return withHeaders(s.crowd.bounded(s.guard(s.paced(mux))))
}

// routes are all endpoints but /metrics, which is the metrics' own.
func (s *Server) routes() []route {
	return slices.Concat(
		s.healthRoutes(), s.openAPIRoutes(), s.loginRoutes(), s.eventRoutes(),
		s.soakRoutes(), s.chartRoutes(), s.unitRoutes(), s.historyRoutes(), s.roundRoutes(),
		s.trialRoutes(), s.recordRoutes(), s.dischargeRoutes(), s.finalRoutes(), s.reportRoutes(), s.lineRoutes(), s.shippingRoutes(),
	)
}
