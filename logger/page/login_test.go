package page_test

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"testing"
	"time"

	"soakline/logger/page"
)

// guarded is a server with a token and no bench, as seen from elsewhere.
func guarded() http.Handler {
	metrics := http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { w.WriteHeader(http.StatusOK) })
	return page.NewServer(nil, metrics, "pier-token", slog.New(slog.DiscardHandler)).Handler()
}

// knock sends a request from an address of the network.
func knock(handler http.Handler, method, path, body string, change func(*http.Request)) *httptest.ResponseRecorder {
	request := httptest.NewRequest(method, path, strings.NewReader(body))
	request.Host, request.RemoteAddr = "bench.example:8725", "192.0.2.7:5000"
	request.Header.Set("Content-Type", "application/json")
	if change != nil {
		change(request)
	}
	answer := httptest.NewRecorder()
	handler.ServeHTTP(answer, request)
	return answer
}

func TestLogin(t *testing.T) {
	handler := guarded()
	if answer := knock(handler, "GET", "/", "", nil); answer.Code == http.StatusUnauthorized {
		t.Error("the page that asks for the token cannot be reached without it")
	}
	if answer := knock(handler, "GET", "/metrics", "", nil); answer.Code != http.StatusUnauthorized {
		t.Errorf("%d before the login", answer.Code)
	}
	if answer := knock(handler, "POST", "/api/v1/login", `{"token":"pier-tokem"}`, nil); answer.Code != http.StatusUnauthorized || len(answer.Result().Cookies()) > 0 {
		t.Errorf("%d for a wrong token", answer.Code)
	}
	answer := knock(handler, "POST", "/api/v1/login", `{"token":"pier-token"}`, nil)
	cookies := answer.Result().Cookies()
	if answer.Code != http.StatusOK || len(cookies) != 1 {
		t.Fatalf("%d %s", answer.Code, answer.Body)
	}
	c := cookies[0]
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || c.Secure || c.Path != "/" || strings.Contains(c.Value, "pier-token") {
		t.Errorf("%+v", c)
	}
	with := func(value string) func(*http.Request) {
		return func(r *http.Request) { r.AddCookie(&http.Cookie{Name: c.Name, Value: value}) }
	}
	until, signature, _ := strings.Cut(c.Value, ".")
	end, err := strconv.ParseInt(until, 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	rows := []struct {
		name, value string
		want        int
	}{
		{"the cookie", c.Value, 200},
		{"made to last longer", strconv.FormatInt(end+1, 10) + "." + signature, 401},
		{"another signature", until + "." + strings.Repeat("0", len(signature)), 401},
		{"no signature", until, 401},
		{"empty", "", 401},
		{"the token itself", "pier-token", 401},
	}
	for _, row := range rows {
		if answer := knock(handler, "GET", "/metrics", "", with(row.value)); answer.Code != row.want {
			t.Errorf("%s: %d, want %d", row.name, answer.Code, row.want)
		}
	}
	foreign := knock(handler, "GET", "/metrics", "", func(r *http.Request) { with(c.Value)(r); r.Header.Set("Origin", "http://example.com") })
	if foreign.Code != http.StatusForbidden {
		t.Errorf("%d for the cookie from another page", foreign.Code)
	}
	out := knock(handler, "POST", "/api/v1/logout", "{}", with(c.Value))
	if left := out.Result().Cookies(); out.Code != http.StatusOK || len(left) != 1 || left[0].MaxAge >= 0 {
		t.Errorf("%d %+v", out.Code, left)
	}
}

// TestCookieOverTLS: over TLS the cookie never leaves it.
func TestCookieOverTLS(t *testing.T) {
	server := httptest.NewTLSServer(guarded())
	defer server.Close()
	response, err := server.Client().Post(server.URL+"/api/v1/login", "application/json", strings.NewReader(`{"token":"pier-token"}`))
	if err != nil {
		t.Fatal(err)
	}
	defer response.Body.Close()
	if cookies := response.Cookies(); len(cookies) != 1 || !cookies[0].Secure {
		t.Errorf("%s %+v", response.Status, cookies)
	}
}

// TestCookieOfAnotherToken: who knew the token before it was changed is out.
func TestCookieOfAnotherToken(t *testing.T) {
	other := page.NewServer(nil, http.NotFoundHandler(), "an-older-token", slog.New(slog.DiscardHandler)).Handler()
	c := knock(other, "POST", "/api/v1/login", `{"token":"an-older-token"}`, nil).Result().Cookies()[0]
	if answer := knock(guarded(), "GET", "/metrics", "", func(r *http.Request) { r.AddCookie(c) }); answer.Code != http.StatusUnauthorized {
		t.Errorf("%d", answer.Code)
	}
}

// TestGuessing: after ten wrong tokens an address is not heard for a while, not
// even with the right one; another is, and who is in stays in.
func TestGuessing(t *testing.T) {
	handler := guarded()
	in := knock(handler, "POST", "/api/v1/login", `{"token":"pier-token"}`, nil).Result().Cookies()[0]
	guess := func(token string) *httptest.ResponseRecorder {
		return knock(handler, "GET", "/metrics", "", func(r *http.Request) { r.Header.Set("Authorization", "Bearer "+token) })
	}
	for i := range 10 {
		if answer := guess("guess-" + strconv.Itoa(i)); answer.Code != http.StatusUnauthorized {
			t.Fatalf("guess %d: %d", i, answer.Code)
		}
	}
	answer := guess("pier-token")
	wait, err := strconv.Atoi(answer.Header().Get("Retry-After"))
	if answer.Code != http.StatusTooManyRequests || err != nil || wait < 1 || time.Duration(wait)*time.Second > time.Minute {
		t.Errorf("%d, come again in %q", answer.Code, answer.Header().Get("Retry-After"))
	}
	elsewhere := knock(handler, "GET", "/metrics", "", func(r *http.Request) {
		r.RemoteAddr = "192.0.2.8:1"
		r.Header.Set("Authorization", "Bearer pier-token")
	})
	if elsewhere.Code != http.StatusOK {
		t.Errorf("%d from another address", elsewhere.Code)
	}
	if answer := knock(handler, "GET", "/metrics", "", func(r *http.Request) { r.AddCookie(in) }); answer.Code != http.StatusOK {
		t.Errorf("%d for one who is in", answer.Code)
	}
}

// TestTooManyOrders: what changes something is paced; who looks meanwhile is not held up.
func TestTooManyOrders(t *testing.T) {
	handler := page.NewServer(nil, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler)).Handler()
	local := func(r *http.Request) { r.Host, r.RemoteAddr = "127.0.0.1:8725", "127.0.0.1:1" }
	refused := 0
	for range 200 {
		if knock(handler, "POST", "/api/v1/logout", "{}", local).Code == http.StatusTooManyRequests {
			refused++
		}
	}
	if refused < 100 {
		t.Errorf("%d of 200 orders at once were refused", refused)
	}
	for range 200 {
		if answer := knock(handler, "GET", "/nothing", "", local); answer.Code != http.StatusNotFound {
			t.Fatalf("%d for a look", answer.Code)
		}
	}
}

// TestTooManyQuestions: fifty pages that open at once on one machine are served, thirty
// requests each; who goes on asking without a pause is told to come again, and others
// are served all the same.
func TestTooManyQuestions(t *testing.T) {
	handler := page.NewServer(nil, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler)).Handler()
	ask := func(from string) *httptest.ResponseRecorder {
		return knock(handler, "GET", "/nothing", "", func(r *http.Request) { r.Host, r.RemoteAddr = "127.0.0.1:8725", from })
	}
	for i := range 50 * 30 {
		if answer := ask("127.0.0.1:1"); answer.Code != http.StatusNotFound {
			t.Fatalf("look %d: %d", i, answer.Code)
		}
	}
	refused := 0
	for range 5000 {
		answer := ask("127.0.0.1:1")
		if answer.Code != http.StatusTooManyRequests {
			continue
		}
		if refused++; answer.Header().Get("Retry-After") != "1" {
			t.Fatalf("come again in %q", answer.Header().Get("Retry-After"))
		}
	}
	if refused < 500 {
		t.Errorf("%d of 5000 more at once were refused", refused)
	}
	if answer := ask("127.0.0.2:1"); answer.Code != http.StatusNotFound {
		t.Errorf("%d from another address", answer.Code)
	}
}

// TestHeadersEverywhere: what keeps scripts from elsewhere out is on every answer.
func TestHeadersEverywhere(t *testing.T) {
	for _, path := range []string{"/", "/nothing", "/metrics", "/api/v1/openapi.json"} {
		header := knock(guarded(), "GET", path, "", nil).Header()
		policy := header.Get("Content-Security-Policy")
		if !strings.HasPrefix(policy, "default-src 'none'") || strings.Contains(policy, "unsafe") || strings.Contains(policy, "http") ||
			!strings.Contains(policy, "frame-ancestors 'none'") || header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s: %v", path, header)
		}
	}
}
