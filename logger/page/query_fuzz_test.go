package page_test

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"soakline/logger/page"
)

// FuzzQueries asks every endpoint that answers for whatever comes as its query and as
// the names in its path, with whatever cookie and event number: it is answered or
// refused in words, and never with a failure of the daemon's own.
func FuzzQueries(f *testing.F) {
	asked := 0
	for i, row := range contract {
		if row.method == http.MethodGet {
			path, query, _ := strings.Cut(row.path, "?")
			f.Add(i, strings.ReplaceAll(path, "%20", " "), query, "", "")
			asked++
		}
	}
	f.Add(20, "/api/v1/units/x/records/y", "rows=1e9&round=%ff&trial=-1", "soakline=;", "a-18446744073709551616")
	f.Add(28, "/api/v1/charts", "soak=1&from=9999-99-99&to=NaN&columns=-1", "=", "-")
	f.Add(36, "/api/v1/line", "since=-9223372036854775808h", "\x00", "\n")
	if asked < 10 {
		f.Fatalf("%d endpoints answer", asked)
	}
	l := startLive(f)
	handler := page.NewServer(l.Bench, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler)).Handler()
	f.Fuzz(func(t *testing.T, which int, path, query, cookie, last string) {
		pattern := contract[int(uint(which)%uint(len(contract)))].pattern
		if strings.HasSuffix(pattern, "/events") || !strings.HasPrefix(path, "/") {
			return // a stream has no end
		}
		request := httptest.NewRequest(http.MethodGet, "/", nil)
		request.Host, request.RemoteAddr = "localhost", "127.0.0.1:1"
		request.URL = &url.URL{Path: filled(pattern, path), RawQuery: query}
		request.Header.Set("Cookie", cookie)
		request.Header.Set("Last-Event-ID", last)
		answer := httptest.NewRecorder()
		handler.ServeHTTP(answer, request)
		if answer.Code == http.StatusInternalServerError || answer.Code >= 400 && !json.Valid(answer.Body.Bytes()) {
			t.Errorf("%s?%s: %d %s", request.URL.Path, query, answer.Code, answer.Body)
		}
	})
}

// filled puts parts of a path in for the names of a pattern.
func filled(pattern, path string) string {
	parts := strings.Split(path[1:], "/")
	var all []string
	for i, part := range strings.Split(pattern[1:], "/") {
		if strings.HasPrefix(part, "{") && i < len(parts) {
			part = parts[i]
		}
		all = append(all, part)
	}
	return fmt.Sprintf("/%s", strings.Join(all, "/"))
}
