package ship

import (
	"encoding/pem"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"
	"time"
)

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
