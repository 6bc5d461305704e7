package notify

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"encoding/pem"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"
)

func example(text string) Notice {
	at := time.Date(2026, 5, 2, 3, 12, 0, 0, time.UTC)
	return Notice{Kind: Excursion, Stage: Began, At: at, Since: at, Bench: "pier-end", Unit: "B8-0147", TestPoint: "rail-5v", Text: text}.named()
}

// scripted is a way to tell that answers as a test says.
type scripted struct {
	mu    sync.Mutex
	tries []time.Time
	told  []string
	fails func(n int, text string) error
}

func (s *scripted) send(_ context.Context, n Notice) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.tries = append(s.tries, time.Now())
	if s.fails != nil {
		if err := s.fails(len(s.tries), n.Text); err != nil {
			return err
		}
	}
	s.told = append(s.told, n.Text)
	return nil
}

// said is what has arrived so far.
func (s *scripted) said() []string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.told)
}

// tried is how many tries there were.
func (s *scripted) tried() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.tries)
}

func last(all []string) string { return all[len(all)-1] }

// carry runs a courier with a scripted way in a bubble of time.
func carry(t *testing.T, way *scripted, target Target) (c *Courier, stop func()) {
	t.Helper()
	target.Name, target.Command = "office", []string{"not run"}
	c, err := NewCourier(target, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	c.way = way
	ctx, cancel := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() { ended <- c.Run(ctx) }()
	return c, func() {
		cancel()
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
}

// A receiver that is away for an hour gets every notice afterwards, in order, once.
func TestCourierTriesUntilItArrives(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		begin := time.Now()
		way := &scripted{fails: func(int, string) error {
			if time.Since(begin) < time.Hour {
				return errors.New("connection refused")
			}
			return nil
		}}
		c, stop := carry(t, way, Target{})
		defer stop()
		for i := range 5 {
			c.Take(example(fmt.Sprint("notice ", i)))
		}
		time.Sleep(30 * time.Minute)
		synctest.Wait()
		if s := c.Status(); s.Told != 0 || s.Waiting != 5 || s.Trouble != "connection refused" {
			t.Errorf("%+v", s)
		}
		time.Sleep(time.Hour)
		synctest.Wait()
		if got := strings.Join(way.said(), ", "); got != "notice 0, notice 1, notice 2, notice 3, notice 4" {
			t.Errorf("told %q", got)
		}
		if s := c.Status(); s.Told != 5 || s.Waiting != 0 || s.GivenUp != 0 || s.Trouble != "" {
			t.Errorf("%+v", s)
		}
		if n := way.tried(); n < 10 || n > 60 {
			t.Errorf("%d tries in an hour and a half", n)
		}
	})
}

// What no try can mend is given up at once and keeps nobody waiting.
func TestCourierGivesUpWhatIsRefused(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		way := &scripted{fails: func(_ int, text string) error {
			if text == "bad" {
				return refusal{errors.New("400 Bad Request")}
			}
			return nil
		}}
		c, stop := carry(t, way, Target{Tell: []Kind{Excursion}})
		defer stop()
		verdict := example("not asked for")
		verdict.Kind = Verdict
		for _, n := range []Notice{example("bad"), verdict, example("good")} {
			c.Take(n)
		}
		synctest.Wait()
		if s := c.Status(); s.Told != 1 || s.GivenUp != 1 || s.Waiting != 0 || strings.Join(way.said(), "") != "good" {
			t.Errorf("%+v, told %q", s, way.said())
		}
	})
}

func TestCourierHoldsWhileItIsQuiet(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		way := &scripted{}
		now := time.Now().Local()
		since := time.Duration(now.Hour())*time.Hour + time.Duration(now.Minute())*time.Minute
		c, stop := carry(t, way, Target{Quiet: &Quiet{From: since, To: (since + 2*time.Hour) % (24 * time.Hour)}})
		defer stop()
		c.Take(example("at night"))
		time.Sleep(time.Hour)
		synctest.Wait()
		if len(way.said()) != 0 {
			t.Errorf("told %q while it was quiet", way.said())
		}
		time.Sleep(70 * time.Minute)
		synctest.Wait()
		if len(way.said()) != 1 {
			t.Errorf("told %q after it", way.said())
		}
	})
}

// A queue has an end, and a program too: what waits is tried once more, not longer.
func TestCourierHasAnEnd(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		way := &scripted{fails: func(n int, _ string) error {
			if n < 3 {
				return errors.New("away")
			}
			return nil
		}}
		c, stop := carry(t, way, Target{})
		for i := range waiting + 10 {
			c.Take(example(fmt.Sprint(i)))
		}
		synctest.Wait()
		if s := c.Status(); s.Waiting != waiting || s.GivenUp < 10 {
			t.Errorf("%+v", s)
		}
		way.mu.Lock()
		way.fails = nil
		way.mu.Unlock()
		stop()
		if s := c.Status(); s.Waiting != 0 || last(way.said()) != fmt.Sprint(waiting+9) {
			t.Errorf("%+v, last told %q", s, last(way.said()))
		}
	})
}

// The receiver checks the signature by itself (RFC 9421, 3.2) over HTTPS.
func TestWebhook(t *testing.T) {
	key := []byte("a shared key")
	var got Notice
	answer := http.StatusNoContent
	receiver := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		if err != nil || r.Method != http.MethodPost || r.Header.Get("Content-Type") != "application/json" {
			t.Errorf("%s %v", r.Method, err)
		}
		if err := verify(r, body, key); err != nil {
			t.Error(err)
		}
		if err := json.Unmarshal(body, &got); err != nil {
			t.Error(err)
		}
		w.WriteHeader(answer)
	}))
	defer receiver.Close()
	ca := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: receiver.Certificate().Raw})
	c, err := NewCourier(Target{Name: "office", Webhook: &Webhook{URL: receiver.URL + "/bench?x=1", Key: key, KeyID: "pier", CA: ca}}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	want := example(`rail-5v "left" <its> limits`)
	if err := c.Send(t.Context(), want); err != nil || got != want {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, want)
	}
	for _, row := range []struct {
		code  int
		final bool
	}{{500, false}, {503, false}, {429, false}, {408, false}, {400, true}, {401, true}, {413, true}, {302, true}} {
		answer = row.code
		err := c.Send(t.Context(), want)
		if _, final := errors.AsType[refusal](err); err == nil || final != row.final {
			t.Errorf("%d: %v, final %v", row.code, err, final)
		}
	}
	stranger, err := NewCourier(Target{Name: "office", Webhook: &Webhook{URL: receiver.URL}}, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	receiver.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
	if err := stranger.Send(t.Context(), want); err == nil || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("a certificate that nobody vouches for: %v", err)
	}
}

// verify is what a receiver does: rebuild the signature base from the request.
func verify(r *http.Request, body, key []byte) error {
	sum := sha256.Sum256(body)
	digest := "sha-256=:" + base64.StdEncoding.EncodeToString(sum[:]) + ":"
	if r.Header.Get("Content-Digest") != digest {
		return fmt.Errorf("digest %q, want %q", r.Header.Get("Content-Digest"), digest)
	}
	input := regexp.MustCompile(`^soakline=(\("@method" "@target-uri" "content-digest"\);created=\d+;keyid="pier";alg="hmac-sha256")$`).FindStringSubmatch(r.Header.Get("Signature-Input"))
	if input == nil {
		return fmt.Errorf("signature input %q", r.Header.Get("Signature-Input"))
	}
	base := "\"@method\": POST\n\"@target-uri\": https://" + r.Host + r.URL.RequestURI() + "\n\"content-digest\": " + digest + "\n\"@signature-params\": " + input[1]
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(base))
	if want := "soakline=:" + base64.StdEncoding.EncodeToString(mac.Sum(nil)) + ":"; r.Header.Get("Signature") != want {
		return fmt.Errorf("signature %q, want %q", r.Header.Get("Signature"), want)
	}
	return nil
}

// A command gets the notice on its input, no word of it in its arguments, and none of
// this program's own settings.
func TestCommand(t *testing.T) {
	dir := t.TempDir()
	script := filepath.Join(dir, "lamp")
	if err := os.WriteFile(script, []byte("#!/bin/sh\ncat > \"$1\"\nprintf '%s %s %s %s' \"$SOAKLINE_NOTICE\" \"$SOAKLINE_STAGE\" \"$SOAKLINE_UNIT\" \"$SOAKLINE_TOKEN\" >> \"$1\"\nexit $2\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Setenv("SOAKLINE_TOKEN", "hidden")
	out := filepath.Join(dir, "out; touch bad")
	send := func(command ...string) error {
		c, err := NewCourier(Target{Name: "lamp", Command: command}, slog.New(slog.DiscardHandler))
		if err != nil {
			t.Fatal(err)
		}
		return c.Send(t.Context(), example("$(touch bad) `touch bad`"))
	}
	if err := send(script, out, "0"); err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(out)
	if err != nil || !bytes.HasSuffix(text, []byte("}excursion began B8-0147 ")) || !bytes.Contains(text, []byte("$(touch bad)")) {
		t.Errorf("%q, %v", text, err)
	}
	if err := send(script, out, "3"); err == nil || !strings.Contains(err.Error(), "exit status 3") {
		t.Errorf("%v", err)
	}
	err = send(filepath.Join(dir, "gone"))
	if _, final := errors.AsType[refusal](err); !final {
		t.Errorf("a program that is not there: %v", err)
	}
}
