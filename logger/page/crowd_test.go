package page

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
)

// MostWatchers is how many pages may watch at once.
const MostWatchers = mostWatchers

// TestCrowd: whoever comes where many are keeps no connection, and where too many
// are he is refused in words.
func TestCrowd(t *testing.T) {
	c := newCrowd()
	handler := c.bounded(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) }))
	for _, row := range []struct {
		open   int
		status int
		close  string
	}{{calmConnections, 200, ""}, {calmConnections + 1, 200, "close"}, {mostConnections, 200, "close"}, {mostConnections + 1, 503, "close"}, {calmConnections, 200, ""}} {
		for int(c.open.Load()) < row.open {
			c.count(nil, http.StateNew)
		}
		for int(c.open.Load()) > row.open {
			c.count(nil, http.StateClosed)
		}
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/healthz", nil))
		if answer.Code != row.status || answer.Header().Get("Connection") != row.close || row.status == 503 && !strings.Contains(answer.Body.String(), "come again in 1 s") {
			t.Errorf("%d open: %d, %q, %s", row.open, answer.Code, answer.Header().Get("Connection"), answer.Body)
		}
	}
}

// deafAnswer is a client that takes nothing until it is released.
type deafAnswer struct {
	*httptest.ResponseRecorder
	asked, taken chan struct{}
}

func (d deafAnswer) Write(text []byte) (int, error) {
	close(d.asked)
	<-d.taken
	return d.ResponseRecorder.Write(text)
}

// TestTurns: clients that take nothing hold no turn while they do so; where all turns
// are taken, whoever waits too long is told so.
func TestTurns(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		c := newCrowd()
		var making sync.WaitGroup
		hold := make(chan struct{})
		handler := c.inTurn(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
			if r.URL.Path == "/slow" {
				<-hold
			}
			w.Header().Set("X-Made", "yes")
			w.WriteHeader(http.StatusAccepted)
			_, _ = w.Write([]byte("made"))
		}))
		taken := make(chan struct{})
		for range 3 * mostMaking {
			deaf := deafAnswer{httptest.NewRecorder(), make(chan struct{}), taken}
			making.Go(func() { handler.ServeHTTP(deaf, httptest.NewRequest(http.MethodGet, "/", nil)) })
			<-deaf.asked
		}
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/", nil))
		if answer.Code != http.StatusAccepted || answer.Body.String() != "made" || answer.Header().Get("X-Made") != "yes" {
			t.Errorf("beside clients that take nothing: %d %s", answer.Code, answer.Body)
		}
		close(taken)
		for range mostMaking {
			making.Go(func() { handler.ServeHTTP(httptest.NewRecorder(), httptest.NewRequest(http.MethodGet, "/slow", nil)) })
		}
		synctest.Wait()
		answer = httptest.NewRecorder()
		handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/", nil))
		if answer.Code != http.StatusServiceUnavailable || answer.Header().Get("Retry-After") == "" {
			t.Errorf("with all turns taken: %d %s", answer.Code, answer.Body)
		}
		close(hold)
		making.Wait()
	})
}

// TestLongAnswerPasses: an answer that is longer than what is held arrives whole.
func TestLongAnswerPasses(t *testing.T) {
	for _, n := range []int{mostHeld - 1, mostHeld, mostHeld + 1, 3 * mostHeld} {
		handler := newCrowd().inTurn(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
			for sent := 0; sent < n; sent += 1000 {
				_, _ = w.Write([]byte(strings.Repeat("x", min(1000, n-sent))))
			}
		}))
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, httptest.NewRequest(http.MethodGet, "/", nil))
		if answer.Code != http.StatusOK || answer.Body.Len() != n {
			t.Errorf("%d bytes became %d, %d", n, answer.Body.Len(), answer.Code)
		}
	}
}
