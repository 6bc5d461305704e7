package page_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"runtime"
	"strings"
	"testing"

	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
	"soakline/logger/page"
)

// TestNamesAreNoMarkup: a name that looks like markup stays a name, in JSON that no
// browser takes for a page and in which no bracket stands as such.
func TestNamesAreNoMarkup(t *testing.T) {
	t.Parallel()
	const name = `<img src=x onerror=alert(1)>`
	l := startLive(t, func(t testing.TB, b *book.Book) {
		if err := b.AddUnit(t.Context(), book.Unit{ID: name, Console: "Brambling 8", Notes: []book.Note{{Text: "</script><script>alert(2)"}}}); err != nil {
			t.Fatal(err)
		}
	})
	for _, path := range []string{"/api/v1/units", "/api/v1/units/%3Cimg%20src=x%20onerror=alert(1)%3E", "/api/v1/units/%3Cb%3E", "/%3Cscript%3E",
		"/api/v1/charts?soak=%3Cb%3E", "/api/v1/units/x/records/%3Cb%3E?rows=%3Cb%3E"} {
		response, err := http.Get(l.base + path)
		if err != nil {
			t.Fatal(err)
		}
		var text bytes.Buffer
		_, err = text.ReadFrom(response.Body)
		response.Body.Close()
		if err != nil || !strings.HasPrefix(response.Header.Get("Content-Type"), "application/json") || strings.ContainsAny(text.String(), "<>") {
			t.Errorf("%s: %v, %s, %s", path, err, response.Header.Get("Content-Type"), text.String())
		}
	}
	var units []page.UnitView
	l.ask(t, "/api/v1/units", &units)
	if len(units) != 2 || units[0].Unit != name && units[1].Unit != name {
		t.Errorf("%+v", units)
	}
}

// TestBodiesThatAreTooMuch: what is too long, too deep, of another kind or says too
// much is refused, and nothing of it is kept.
func TestBodiesThatAreTooMuch(t *testing.T) {
	t.Parallel()
	l := startLive(t)
	rows := []struct {
		name, media, body string
		want              int
	}{
		{"a megabyte", "application/json", `{"unit":"` + strings.Repeat("x", 1<<20) + `"}`, 413},
		{"deep", "application/json", strings.Repeat(`{"notes":[`, 5000), 400},
		{"two at once", "application/json", `{"unit":"a","console":"Brambling 8"}{"unit":"b"}`, 400},
		{"a key that is not known", "application/json", `{"unit":"a","console":"Brambling 8","send":"*RST"}`, 400},
		{"a form", "application/x-www-form-urlencoded", "unit=a&console=Brambling+8", 415},
		{"plain text, as a page elsewhere can send it", "text/plain", `{"unit":"a","console":"Brambling 8"}`, 415},
		{"nothing", "application/json", "", 400},
		{"a console that nobody knows", "application/json", `{"unit":"a","console":"Heron"}`, 422},
	}
	for _, row := range rows {
		response, err := http.Post(l.base+"/api/v1/units", row.media, strings.NewReader(row.body))
		if err != nil {
			t.Fatal(err)
		}
		var problem page.Problem
		err = json.NewDecoder(response.Body).Decode(&problem)
		response.Body.Close()
		if err != nil || response.StatusCode != row.want || problem.Error == "" {
			t.Errorf("%s: %d %q, want %d", row.name, response.StatusCode, problem.Error, row.want)
		}
	}
	var units []page.UnitView
	if l.ask(t, "/api/v1/units", &units); len(units) != 1 {
		t.Errorf("%+v", units)
	}
}

// openDeaf opens an event stream and never reads from it.
func (l *live) openDeaf(t testing.TB) {
	t.Helper()
	address := strings.TrimPrefix(l.base, "http://")
	connection, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { connection.Close() })
	if c, ok := connection.(*net.TCPConn); ok {
		if err := c.SetReadBuffer(4096); err != nil {
			t.Fatal(err)
		}
	}
	if _, err := fmt.Fprintf(connection, "GET /api/v1/events HTTP/1.1\r\nHost: %s\r\n\r\n", address); err != nil {
		t.Fatal(err)
	}
}

// TestPagesThatNeverRead: of a thousand pages that never read most are refused, as
// there is no room for more, and the others are sent away, all of it counted;
// meanwhile one that reads gets everything, and memory stays bounded.
func TestPagesThatNeverRead(t *testing.T) {
	t.Parallel()
	const deaf = 1000
	l := startLive(t)
	l.soak(t)
	before := heap()
	events := l.openEvents(t, "")
	events.until(func(e event) bool { return e.kind == "snapshot" })
	for range deaf {
		l.openDeaf(t)
	}
	for l.Counters.Watching().Open < page.MostWatchers {
		runtime.Gosched() // until all who find room are in
	}
	if grown := heap() - before; grown > 64<<20 {
		t.Errorf("%d MB more for %d pages", grown>>20, deaf)
	}
	long := strings.Repeat("what nobody reads ", 4000) // fills the connections in a few events
	for round := 0; l.Counters.Watching().Open > 1; round++ {
		l.Tell(logger.Happening{Kind: logger.PortChange, Instrument: "meter", Event: device.Opened, Text: fmt.Sprint(round, " ", long)})
		events.until(func(e event) bool {
			return e.kind == "happening" && bytes.Contains(e.data, fmt.Appendf(nil, `"%d what`, round))
		})
		if round > 2000 {
			t.Fatalf("%+v after %d events", l.Counters.Watching(), round)
		}
	}
	if w := l.Counters.Watching(); w.Dropped < page.MostWatchers-1 || w.Dropped+w.Refused > deaf {
		t.Errorf("%+v", w)
	}
	l.volts(5.03125)
	events.value(5.03125)
	if grown := heap() - before; grown > 64<<20 {
		t.Errorf("%d MB more after %d pages were sent away", grown>>20, deaf)
	}
}

// heap is how much memory is in use after a collection.
func heap() int64 {
	runtime.GC()
	var stats runtime.MemStats
	runtime.ReadMemStats(&stats)
	return int64(stats.HeapAlloc + stats.StackInuse)
}

// FuzzBodies sends whatever comes as a body to every endpoint that takes one: it is
// answered in JSON, and never with a failure of the daemon's own.
func FuzzBodies(f *testing.F) {
	for _, row := range contract {
		if row.body != "" {
			f.Add(row.path, []byte(row.body))
		}
	}
	f.Add("/api/v1/soaks", []byte(`{"unit":"B8-0147","for_s":1e300}`))
	f.Add("/api/v1/soaks", []byte("{\"unit\":\"\\u0000\"}"))
	l, from := startLive(f), 0
	handler := page.NewServer(l.Bench, http.NotFoundHandler(), "", slog.New(slog.DiscardHandler)).Handler()
	f.Fuzz(func(t *testing.T, path string, body []byte) {
		known := false
		for _, row := range contract {
			known = known || row.body != "" && row.path == path && !strings.Contains(path, "/discharge/") && !strings.Contains(path, "/steps/")
		}
		if !known {
			return
		}
		from++ // another address each time, as one alone is paced
		answer := knock(handler, http.MethodPost, path, string(body), func(r *http.Request) {
			r.Host, r.RemoteAddr = "localhost", fmt.Sprintf("127.%d.%d.%d:1", from>>16&255, from>>8&255, from&255)
		})
		if answer.Code == http.StatusInternalServerError || !json.Valid(answer.Body.Bytes()) {
			t.Errorf("%s %q: %d %s", path, body, answer.Code, answer.Body)
		}
	})
}
