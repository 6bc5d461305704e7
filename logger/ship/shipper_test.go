package ship

import (
	"bytes"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// TestSecret: it goes where it is meant to and into no log and no status.
func TestSecret(t *testing.T) {
	for scheme, want := range map[Scheme]string{Token: "Token name:word", Bearer: "Bearer name:word",
		Basic: "Basic bmFtZTp3b3Jk"} { // RFC 4648 of "name:word", by base64 of coreutils
		b, s := filled(t, 10), newStore()
		got := make(chan string, 100)
		s.behave(func(w http.ResponseWriter, r *http.Request, _ []string) bool {
			got <- r.Header.Get("Authorization")
			http.Error(w, "who is "+r.Header.Get("Authorization")+" with name:word or word?", http.StatusForbidden)
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
		status := troubled(t, shipper, "403")
		stop()
		if text := log.String() + status.Trouble; !strings.Contains(text, "who is") || strings.Contains(text, "word") || strings.Contains(text, "bmFt") {
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
	waitFor(t, "the other to know what waits for it", func() bool { return shipper.Status()[0].Pending == 500 })
	if s := shipper.Status()[0]; s.Readings != 0 {
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
