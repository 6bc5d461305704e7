package page_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"soakline/logger/page"
)

// TestGuard: who may ask the bench. None of these requests reaches the bench, so
// that none is needed.
func TestGuard(t *testing.T) {
	rows := []struct {
		name, token, host, origin, authorization string
		want                                     int
	}{
		{"loopback", "", "127.0.0.1:8725", "", "", 200},
		{"localhost without a port", "", "localhost", "", "", 200},
		{"IPv6 loopback", "", "[::1]:8725", "", "", 200},
		{"its own page", "", "127.0.0.1:8725", "http://127.0.0.1:8725", "", 200},
		{"a name that was made to point here", "", "bench.example:8725", "", "", 403},
		{"a name that begins like loopback", "", "127.0.0.1.example:8725", "", "", 403},
		{"no host", "", "", "", "", 403},
		{"another page", "", "127.0.0.1:8725", "http://example.com", "", 403},
		{"another port of this machine", "", "127.0.0.1:8725", "http://127.0.0.1:9999", "", 403},
		{"a page without an origin", "", "127.0.0.1:8725", "null", "", 403},
		{"token", "s3cret", "bench.example:8725", "", "Bearer s3cret", 200},
		{"no token", "s3cret", "127.0.0.1:8725", "", "", 401},
		{"wrong token", "s3cret", "127.0.0.1:8725", "", "Bearer s3cres", 401},
		{"the token's beginning", "s3cret", "127.0.0.1:8725", "", "Bearer s3c", 401},
		{"another scheme", "s3cret", "127.0.0.1:8725", "", "Basic s3cret", 401},
		{"token from another page", "s3cret", "127.0.0.1:8725", "http://example.com", "Bearer s3cret", 403},
	}
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	for _, row := range rows {
		handler := page.NewServer(nil, metrics, row.token, slog.New(slog.DiscardHandler)).Handler()
		request := httptest.NewRequest(http.MethodGet, "/metrics", nil)
		request.Host = row.host
		for key, value := range map[string]string{"Origin": row.origin, "Authorization": row.authorization} {
			if value != "" {
				request.Header.Set(key, value)
			}
		}
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, request)
		if answer.Code != row.want {
			t.Errorf("%s: %d, want %d", row.name, answer.Code, row.want)
		}
	}
}

func TestCheckListen(t *testing.T) {
	rows := []struct {
		listen, token string
		good          bool
	}{
		{"127.0.0.1:8725", "", true}, {"[::1]:0", "", true}, {"localhost:80", "", true},
		{":8725", "", false}, {"0.0.0.0:8725", "", false}, {"bench.example:8725", "", false}, {"127.0.0.1", "", false},
		{":8725", "s3cret", true},
	}
	for _, row := range rows {
		if err := page.CheckListen(row.listen, row.token); (err == nil) != row.good {
			t.Errorf("%q with token %q: %v", row.listen, row.token, err)
		}
	}
}

// TestRefusedRequests: what is not a sensible request is refused with a status of
// its own and a sentence.
func TestRefusedRequests(t *testing.T) {
	server := served(t)
	rows := []struct {
		name, method, path, body string
		status                   int
		text                     string
	}{
		{"wrong method", "DELETE", "/api/v1/units", "", 405, ""},
		{"nothing there", "GET", "/api/v1/nothing", "", 404, ""},
		{"unknown unit", "GET", "/api/v1/units/X-1", "", 404, "X-1"},
		{"no JSON", "POST", "/api/v1/units", "unit=X", 400, "JSON"},
		{"unknown key", "POST", "/api/v1/units", `{"unit":"X","consol":"Y"}`, 400, "consol"},
		{"two values", "POST", "/api/v1/units", `{"unit":"X"} {}`, 400, "follows"},
		{"too long", "POST", "/api/v1/units", `{"unit":"` + strings.Repeat("x", 70_000) + `"}`, 413, "longer"},
		{"unit twice", "POST", "/api/v1/units", `{"unit":"B8-0147","console":"Brambling 8"}`, 409, "B8-0147"},
		{"unit of an unknown console", "POST", "/api/v1/units", `{"unit":"X","console":"Corncrake III"}`, 422, "Corncrake III"},
		{"a name with a line end", "POST", "/api/v1/units", `{"unit":"X\nY","console":"Brambling 8"}`, 422, "one line"},
		{"soak of no length", "POST", "/api/v1/soaks", `{"unit":"B8-0147","for_s":-1}`, 422, "for_s"},
		{"soak without an end", "POST", "/api/v1/soaks", `{"unit":"B8-0147","for_s":1e300}`, 422, "for_s"},
		{"no reason", "POST", "/api/v1/units/B8-0147/soak/end", `{"reason":" "}`, 422, "reason"},
		{"no soak", "POST", "/api/v1/units/B8-0147/soak/end", `{"reason":"enough"}`, 409, "B8-0147"},
		{"not ready while a port is down", "GET", "/readyz", "", 503, "scope does not answer"},
	}
	for _, row := range rows {
		status, body := send(t, server, row.method, row.path, row.body)
		if status != row.status || !strings.Contains(string(body), row.text) {
			t.Errorf("%s: %d %s, want %d with %q", row.name, status, body, row.status, row.text)
		}
	}
	if status, body := send(t, server, "GET", "/healthz", ""); status != 200 {
		t.Errorf("healthz: %d %s", status, body)
	}
	response, err := http.Post(server.URL+"/api/v1/units", "text/plain", strings.NewReader(`{"unit":"X"}`))
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if response.StatusCode != http.StatusUnsupportedMediaType {
		t.Errorf("a form's content type: %s", response.Status)
	}
}
