package ship

import (
	"bytes"
	"encoding/pem"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/klauspost/compress/gzip"

	"soakline/logger/book"
)

// store is an engine in this process that can be bad. It keeps lines by themselves.
type store struct {
	mu    sync.Mutex
	has   map[string]int
	order []string // as they came for the first time
	// bad, if not nil, is asked first; true means that it has answered. It holds no
	// lock of the store.
	bad func(w http.ResponseWriter, r *http.Request, lines []string) bool
	// refuse, if not nil, says why it does not take a line; those that it takes of
	// the same request it keeps.
	refuse func(line string) string
}

func newStore() *store { return &store{has: map[string]int{}} }

// ServeHTTP takes lines.
func (s *store) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	unzip, err := gzip.NewReader(r.Body)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	text, err := io.ReadAll(unzip)
	if err != nil {
		http.Error(w, err.Error(), http.StatusBadRequest)
		return
	}
	lines := slices.Collect(strings.Lines(string(text)))
	s.mu.Lock()
	bad := s.bad
	s.mu.Unlock()
	if bad != nil && bad(w, r, lines) {
		return
	}
	if why := s.take(lines); why != "" {
		http.Error(w, `{"error":"partial write: `+why+`"}`, http.StatusBadRequest)
		return
	}
	w.WriteHeader(http.StatusNoContent)
}

func (s *store) take(lines []string) (why string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, line := range lines {
		if s.refuse != nil {
			if no := s.refuse(line); no != "" {
				why = no
				continue
			}
		}
		if s.has[line]++; s.has[line] == 1 {
			s.order = append(s.order, line)
		}
	}
	return why
}

// behave makes it good, or bad in another way.
func (s *store) behave(bad func(w http.ResponseWriter, r *http.Request, lines []string) bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.bad = bad
}

// hold compares what it took first in which order with the book.
func (s *store) hold(t *testing.T, b *book.Book, but ...string) {
	t.Helper()
	var text bytes.Buffer
	_, err := b.ExportLines(t.Context(), &text, book.Filter{})
	must(t, err)
	want := slices.DeleteFunc(slices.Collect(strings.Lines(text.String())), func(line string) bool { return slices.Contains(but, line) })
	s.mu.Lock()
	defer s.mu.Unlock()
	if !slices.Equal(want, s.order) {
		t.Errorf("it has %d lines, the book %d, or the order is another", len(s.order), len(want))
	}
}

// sorted puts what it took in the order of its times.
func (s *store) sorted() {
	s.mu.Lock()
	defer s.mu.Unlock()
	stamp := func(line string) string { return line[strings.LastIndexByte(line, ' '):] }
	slices.SortStableFunc(s.order, func(a, b string) int { return strings.Compare(stamp(a), stamp(b)) })
}

// filled is a book with n readings, 10 ms apart.
func filled(t *testing.T, n int) *book.Book {
	t.Helper()
	b := openBook(t)
	fill(t, b, 0, n)
	return b
}

// fill appends readings number from to until.
func fill(t *testing.T, b *book.Book, from, until int) {
	t.Helper()
	writer := book.NewWriter(b, book.WriterOptions{CommitEvery: time.Hour})
	stop := running(t, writer.Run)
	begin := time.Date(2026, 3, 14, 9, 26, 53, 0, time.UTC)
	for i := from; i < until; i++ {
		must(t, writer.Append(reading(t, i, begin.Add(time.Duration(i)*10*time.Millisecond))))
	}
	stop()
}

// settled waits until a shipper has shipped all.
func settled(t *testing.T, s *Shipper) Status {
	t.Helper()
	waitFor(t, "all to be shipped", func() bool {
		status := s.Status()[0]
		return status.Pending == 0 && status.Trouble == "" && status.Readings > 0
	})
	return s.Status()[0]
}

// troubled waits until trouble shows that has these words.
func troubled(t *testing.T, s *Shipper, words string) Status {
	t.Helper()
	waitFor(t, "trouble: "+words, func() bool { return strings.Contains(s.Status()[0].Trouble, words) })
	return s.Status()[0]
}

func quickTarget(url string) Target {
	t := target(url)
	t.Every, t.Resend = 10*time.Millisecond, 50*time.Millisecond
	return t
}

// TestBadEngines has engines misbehave in all ways; each shows in words, and when
// the engine is good again it gets everything in order.
func TestBadEngines(t *testing.T) {
	hang := make(chan struct{})
	t.Cleanup(func() { close(hang) })
	for _, row := range []struct {
		name, words string
		bad         func(w http.ResponseWriter, r *http.Request, lines []string) bool
	}{
		{"500", "it answers 500: out of ideas", func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
			http.Error(w, "out of\nideas", http.StatusInternalServerError)
			return true
		}},
		{"slow", "no answer within", func(_ http.ResponseWriter, r *http.Request, _ []string) bool {
			select {
			case <-hang:
			case <-r.Context().Done():
			}
			return true
		}},
		{"half closed", "broke off", func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
			connection, stream, err := http.NewResponseController(w).Hijack()
			if err != nil {
				return false
			}
			_, _ = stream.WriteString("HTTP/1.1 200 OK\r\nContent-Length: 100\r\n\r\nhalf an ans") // the client is what is tried
			_ = stream.Flush()
			_ = connection.Close()
			return true
		}},
		{"closed before the answer", "EOF", func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
			connection, _, err := http.NewResponseController(w).Hijack()
			if err != nil {
				return false
			}
			_ = connection.Close()
			return true
		}},
		{"redirect", `it answers 307 and points to "http://elsewhere.example/write"`, func(w http.ResponseWriter, r *http.Request, _ []string) bool {
			http.Redirect(w, r, "http://elsewhere.example/write", http.StatusTemporaryRedirect)
			return true
		}},
		{"unauthorized", "it answers 401: it does not accept the secret", func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
			w.WriteHeader(http.StatusUnauthorized)
			return true
		}},
		{"no such database", "it answers 404", func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
			http.NotFound(w, nil)
			return true
		}},
		{"refuses everything", "is this the address where it takes lines?", func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
			http.Error(w, "what is this", http.StatusBadRequest)
			return true
		}},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			b, s := filled(t, 300), newStore()
			s.behave(row.bad)
			server := httptest.NewServer(s)
			defer server.Close()
			to := quickTarget(server.URL)
			to.Timeout = 300 * time.Millisecond
			shipper := quick(New(b, []Target{to}, quiet()))
			stop := running(t, shipper.Run)
			status := troubled(t, shipper, row.words)
			if status.Pending != 300 || status.Since.IsZero() || !status.Again.After(status.Since) || status.Refused != 0 {
				t.Errorf("%+v", status)
			}
			s.behave(nil)
			settled(t, shipper)
			stop()
			if row.name == "refuses everything" { // lines are tried by series then
				s.sorted()
			}
			s.hold(t, b)
		})
	}
}

// TestRetryAfter: an engine that asks to be left alone is.
func TestRetryAfter(t *testing.T) {
	b, s := filled(t, 10), newStore()
	s.behave(func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
		w.Header().Set("Retry-After", "30")
		w.WriteHeader(http.StatusServiceUnavailable)
		return true
	})
	server := httptest.NewServer(s)
	defer server.Close()
	shipper := quick(New(b, []Target{quickTarget(server.URL)}, quiet()))
	running(t, shipper.Run)
	status := troubled(t, shipper, "503")
	if wait := status.Again.Sub(status.Since); wait < 29*time.Second || wait > 31*time.Second {
		t.Errorf("tried again after %v, want 30 s", wait)
	}
}

// TestNobodyThere: no engine at all.
func TestNobodyThere(t *testing.T) {
	b := filled(t, 10)
	shipper := quick(New(b, []Target{quickTarget("http://" + freeAddress(t) + "/write")}, quiet()))
	running(t, shipper.Run)
	troubled(t, shipper, "connection refused")
}

// TestCertificates: one that nobody vouches for is refused, one that the CA file
// vouches for is not.
func TestCertificates(t *testing.T) {
	b, s := filled(t, 100), newStore()
	server := httptest.NewUnstartedServer(s)
	server.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
	server.StartTLS()
	defer server.Close()
	to := quickTarget(server.URL)
	shipper := quick(New(b, []Target{to}, quiet()))
	stop := running(t, shipper.Run)
	troubled(t, shipper, "certificate")
	stop()
	if len(s.order) != 0 {
		t.Errorf("%d lines went to an engine that nobody vouches for", len(s.order))
	}
	to.CA = pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: server.Certificate().Raw})
	must(t, to.Validate())
	shipper = quick(New(b, []Target{to}, quiet()))
	stop = running(t, shipper.Run)
	settled(t, shipper)
	stop()
	s.hold(t, b)
}

// TestRefusedLines: an engine that refuses some lines, and takes the others of the
// same request, gets all but those; they are set aside with its words.
func TestRefusedLines(t *testing.T) {
	b, s := filled(t, 2000), newStore()
	var wrong []string
	s.refuse = func(line string) string {
		if strings.Contains(line, `rail\ 7`) && strings.Contains(line, "33 ") || strings.Contains(line, `rail\ 13`) {
			if !slices.Contains(wrong, line) {
				wrong = append(wrong, line)
			}
			return "field type conflict"
		}
		return ""
	}
	server := httptest.NewServer(s)
	defer server.Close()
	shipper := quick(New(b, []Target{quickTarget(server.URL)}, quiet()))
	stop := running(t, shipper.Run)
	status := settled(t, shipper)
	stop()
	if len(wrong) != 20+100 || status.Refused != int64(len(wrong)) {
		t.Errorf("%d lines refused, %d counted", len(wrong), status.Refused)
	}
	kept, err := b.Refused(t.Context(), "store", 1000)
	must(t, err)
	if len(kept) != len(wrong) || !strings.Contains(kept[0].Reason, "400: {\"error\":\"partial write: field type conflict\"}") {
		t.Errorf("%d are kept: %+v", len(kept), kept[:1])
	}
	for _, l := range kept {
		if !slices.Contains(wrong, l.Line+"\n") {
			t.Errorf("kept, but not refused: %s", l.Line)
		}
	}
	s.sorted() // refused requests are taken apart by series
	s.hold(t, b, wrong...)
}

// TestTooLarge: batches become smaller, down to what the engine takes.
func TestTooLarge(t *testing.T) {
	b, s := filled(t, 3000), newStore()
	s.behave(func(w http.ResponseWriter, _ *http.Request, lines []string) bool {
		if len(lines) <= 100 {
			return false
		}
		w.WriteHeader(http.StatusRequestEntityTooLarge)
		return true
	})
	server := httptest.NewServer(s)
	defer server.Close()
	shipper := quick(New(b, []Target{quickTarget(server.URL)}, quiet()))
	stop := running(t, shipper.Run)
	status := settled(t, shipper)
	stop()
	s.hold(t, b)
	if status.BatchLines > 100 || status.BatchLines < 50 || status.Refused != 0 {
		t.Errorf("%d lines go out at once, %d refused", status.BatchLines, status.Refused)
	}
}

// TestSecret: it goes where it is meant to and into no log and no status.
func TestSecret(t *testing.T) {
	for scheme, want := range map[Scheme]string{Token: "Token name:word", Bearer: "Bearer name:word",
		Basic: "Basic bmFtZTp3b3Jk"} { // RFC 4648 of "name:word", by base64 of coreutils
		b, s := filled(t, 10), newStore()
		got := make(chan string, 100)
		s.behave(func(w http.ResponseWriter, r *http.Request, _ []string) bool {
			got <- r.Header.Get("Authorization")
			w.WriteHeader(http.StatusForbidden)
			return true
		})
		server := httptest.NewServer(s)
		defer server.Close()
		to := quickTarget(server.URL)
		to.Scheme, to.Secret = scheme, "name:word"
		var log bytes.Buffer
		shipper := quick(New(b, []Target{to}, slog.New(slog.NewTextHandler(&log, nil))))
		stop := running(t, shipper.Run)
		if header := <-got; header != want {
			t.Errorf("%s: %q, want %q", scheme, header, want)
		}
		troubled(t, shipper, "403")
		stop()
		if text := log.String(); text == "" || strings.Contains(text, "word") || strings.Contains(text, "bmFt") {
			t.Errorf("the log: %q", text)
		}
	}
}

// TestSeveralTargets: each has its own place; one that is away holds up no other.
func TestSeveralTargets(t *testing.T) {
	b, good := filled(t, 500), newStore()
	server := httptest.NewServer(good)
	defer server.Close()
	away := quickTarget("http://" + freeAddress(t))
	away.Name = "away"
	shipper := quick(New(b, []Target{away, quickTarget(server.URL)}, quiet()))
	stop := running(t, shipper.Run)
	waitFor(t, "the good one to have all", func() bool { return shipper.Status()[1].Pending == 0 && shipper.Status()[1].Readings == 500 })
	if s := shipper.Status()[0]; s.Pending != 500 {
		t.Errorf("the one that is away: %+v", s)
	}
	stop()
	good.hold(t, b)
}

// TestBandwidth: what goes out keeps to the bound.
func TestBandwidth(t *testing.T) {
	b, s := filled(t, 4000), newStore()
	var bytesSent int
	counting := http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		bytesSent += int(r.ContentLength)
		s.ServeHTTP(w, r)
	})
	server := httptest.NewServer(counting)
	defer server.Close()
	to := quickTarget(server.URL)
	to.BytesPerSecond, to.BatchLines = 20_000, 500
	shipper := quick(New(b, []Target{to}, quiet()))
	begin := time.Now()
	stop := running(t, shipper.Run)
	settled(t, shipper)
	took := time.Since(begin)
	stop()
	s.hold(t, b)
	if least := time.Duration(float64(bytesSent)/20_000*float64(time.Second)) * 9 / 10; took < least || bytesSent < 20_000 {
		t.Errorf("%d bytes took %v, want %v or more", bytesSent, took, least)
	}
}

// TestStopAndStart: a clean stop ships or keeps everything, whatever the engine does.
func TestStopAndStart(t *testing.T) {
	b, s := openBook(t), newStore()
	server := httptest.NewServer(s)
	defer server.Close()
	to := quickTarget(server.URL)
	for i := range 10 {
		if i%3 == 1 {
			s.behave(func(w http.ResponseWriter, _ *http.Request, _ []string) bool {
				w.WriteHeader(http.StatusInternalServerError)
				return true
			})
		}
		shipper := quick(New(b, []Target{to}, quiet()))
		stop := running(t, shipper.Run)
		fill(t, b, i*100, (i+1)*100)
		stop()
		if i%3 != 1 {
			s.hold(t, b) // what was committed before the stop was shipped by it
		}
		s.behave(nil)
	}
	s.hold(t, b)
}

// TestConnectionsThatAreNotKept: an engine that closes each connection is not sent
// everything over and over.
func TestConnectionsThatAreNotKept(t *testing.T) {
	for name, politely := range map[string]bool{"politely": true, "without a word": false} {
		t.Run(name, func(t *testing.T) {
			b, s := filled(t, 5000), newStore()
			server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
				if politely {
					w.Header().Set("Connection", "close")
				}
				s.ServeHTTP(w, r)
			}))
			if !politely {
				server.Config.ConnState = func(c net.Conn, state http.ConnState) {
					if state == http.StateIdle {
						_ = c.Close()
					}
				}
			}
			server.Start()
			defer server.Close()
			to := quickTarget(server.URL)
			to.BatchLines, to.Resend = 100, time.Minute
			shipper := quick(New(b, []Target{to}, quiet()))
			stop := running(t, shipper.Run)
			status := settled(t, shipper)
			stop()
			s.hold(t, b)
			if status.Lines > 3*5000 {
				t.Errorf("%d lines were sent for 5000", status.Lines)
			}
		})
	}
}

// TestCatchingUp: after a long time without network the backlog goes out in order
// while new readings come in, and none of them waits in memory.
func TestCatchingUp(t *testing.T) {
	b, s := openBook(t), newStore()
	for i := range 10 {
		fill(t, b, i*10_000, (i+1)*10_000)
	}
	server := httptest.NewServer(s)
	defer server.Close()
	shipper := quick(New(b, []Target{quickTarget(server.URL)}, quiet()))
	stop := running(t, shipper.Run)
	for i := range 20 {
		fill(t, b, 100_000+i*50, 100_000+(i+1)*50)
	}
	settled(t, shipper)
	stop()
	s.hold(t, b)
}

// FuzzSeriesOf: a line's series is a part of it, up to a space that no backslash
// escapes.
func FuzzSeriesOf(f *testing.F) {
	f.Add([]byte(`reading,test_point=rail\ 7 volts=5 1`))
	f.Add([]byte(`\`))
	f.Fuzz(func(t *testing.T, line []byte) {
		got := seriesOf(line)
		if !bytes.HasPrefix(line, got) || len(got) < len(line) && line[len(got)] != ' ' {
			t.Errorf("%q of %q", got, line)
		}
	})
}
