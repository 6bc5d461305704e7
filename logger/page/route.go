package page

import (
	"errors"
	"net/http"
	"reflect"
	"time"
)

// route is one endpoint: where it is, what it does, and what its description says.
type route struct {
	method, path string
	// about says in a sentence what it does.
	about string
	query []parameter
	// takes and gives are the types of the body and of the answer as JSON; nil
	// where there is none, or where media says that it is something else.
	takes, gives reflect.Type
	media        string
	status       int
	// patience, if not 0, is how long it may take instead of requestTimeout.
	patience time.Duration
	serve    http.HandlerFunc
}

// parameter is one key of a query.
type parameter struct {
	name, about string
	kind        reflect.Kind
	needed      bool
	// many says that it may come more than once.
	many bool
}

// Nothing is the body of a request that says all in its path: {}.
type Nothing struct{}

// get returns an endpoint that answers what do returns.
func get[A any](path, about string, do func(*http.Request) (A, error), query ...parameter) route {
	return route{method: http.MethodGet, path: path, about: about, query: query, gives: reflect.TypeFor[A](), status: http.StatusOK,
		serve: func(w http.ResponseWriter, r *http.Request) {
			body, err := do(r)
			give(w, r, http.StatusOK, body, err)
		}}
}

// post returns an endpoint that reads a body strictly, does what it asks and
// answers, with status, what do returns.
func post[Q, A any](path, about string, status int, do func(*http.Request, Q) (A, error)) route {
	return route{method: http.MethodPost, path: path, about: about, takes: reflect.TypeFor[Q](), gives: reflect.TypeFor[A](), status: status,
		serve: func(w http.ResponseWriter, r *http.Request) {
			var request Q
			if !read(w, r, &request) {
				return
			}
			body, err := do(r, request)
			give(w, r, status, body, err)
		}}
}

// taking gives an endpoint more time than others have.
func (e route) taking(d time.Duration) route {
	e.patience = d
	return e
}

// lasts tells whether an answer is as long under way as a person or a unit takes, or
// has no end: it waits for no turn, and takes none.
func (e route) lasts() bool { return e.method != http.MethodGet || e.media == eventStream }

// ServeHTTP serves the endpoint.
func (e route) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if e.patience > 0 {
		if err := patient(w, e.patience); err != nil {
			fail(w, err)
			return
		}
	}
	e.serve(w, r)
}

// patient gives one request more time than others have. The read deadline counts
// too: when it passes, the server takes the client for gone.
func patient(w http.ResponseWriter, d time.Duration) error {
	connection, end := http.NewResponseController(w), time.Now().Add(d)
	return supported(errors.Join(connection.SetReadDeadline(end), connection.SetWriteDeadline(end)))
}

// supported leaves out that a connection has no deadlines.
func supported(err error) error {
	if errors.Is(err, http.ErrNotSupported) {
		return nil
	}
	return err
}
