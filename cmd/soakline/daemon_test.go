package main

import (
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/config"
	"soakline/logger"
)

// TestFindDaemon: what a notice beside the book leads to.
func TestFindDaemon(t *testing.T) {
	bench := `{"bench":"pier-end"}`
	rows := []struct {
		name   string
		notice string // ADDRESS stands for the server's
		status int
		body   string
		found  bool
		err    string
	}{
		{"no notice", "", 200, bench, false, ""},
		{"the daemon", `{"bench":"pier-end","address":"ADDRESS"}`, 200, bench, true, ""},
		{"cut short by a power cut", "", 200, bench, false, ""},
		{"half a notice", `{"bench":"pier`, 200, bench, false, ""},
		{"killed: nobody listens", `{"bench":"pier-end","address":"127.0.0.1:1"}`, 200, bench, false, ""},
		{"another bench has the address", `{"bench":"pier-end","address":"ADDRESS"}`, 200, `{"bench":"slipway"}`, false, ""},
		{"another program has the address", `{"bench":"pier-end","address":"ADDRESS"}`, 404, "not found", false, ""},
		{"another program answers", `{"bench":"pier-end","address":"ADDRESS"}`, 200, "<html>", false, ""},
		{"a wrong token", `{"bench":"pier-end","address":"ADDRESS"}`, 401, `{"error":"a token is needed"}`, false, "a token is needed"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
				w.WriteHeader(row.status)
				_, _ = w.Write([]byte(row.body)) // the client tells
			}))
			defer server.Close()
			path := filepath.Join(t.TempDir(), "pier.book")
			if row.name != "no notice" {
				text := strings.ReplaceAll(row.notice, "ADDRESS", strings.TrimPrefix(server.URL, "http://"))
				if err := os.WriteFile(noticePath(path), []byte(text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			d, err := findDaemon(t.Context(), config.Bench{Settings: logger.Settings{Bench: "pier-end", Book: path}})
			if row.err == "" && (err != nil || (d != nil) != row.found) || row.err != "" && (err == nil || !strings.Contains(err.Error(), row.err)) {
				t.Errorf("found %v, %v", d, err)
			}
		})
	}
}

// TestServeEndsAtInterrupt: Ctrl-C ends the daemon within 3 s, and what it leaves is
// a closed book and no notice; a second daemon on the same book says so in one line.
func TestServeEndsAtInterrupt(t *testing.T) {
	binary(t)
	k := newKilledBench(t)
	k.serve(t)
	second := start(t, binary(t), "serve", "--bench", k.file, "--listen", "127.0.0.1:0")
	if code := exitCode(second.Wait()); code != exitTrouble || strings.Count(second.log.String(), "\n") != 1 || !strings.Contains(second.log.String(), "process") {
		t.Errorf("a second daemon ended with %d: %s", code, second.log)
	}
	if output, err := k.run("unit", "add", "B8-0147", "--console", "Brambling 8"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	if output, err := k.run("soak", "begin", "--unit", "B8-0147@left", "--for", "2h"); err != nil {
		t.Fatalf("%v: %s", err, output)
	}
	began := time.Now()
	if err := k.daemon.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if err := k.daemon.Wait(); err != nil {
		t.Errorf("it ended with %v: %s", err, k.daemon.log)
	}
	if took := time.Since(began); took > 3*time.Second {
		t.Errorf("it took %v to end", took)
	}
	for _, left := range []string{noticePath(k.book), k.book + "-wal"} {
		if info, err := os.Stat(left); err == nil && info.Size() > 0 {
			t.Errorf("%s is left", filepath.Base(left))
		}
	}
	// Without a daemon the soak that was cut off can be ended.
	if output, err := k.run("soak", "end", "--unit", "B8-0147", "--reason", "not today"); err != nil || !strings.HasPrefix(output, "UNDECIDED") {
		t.Errorf("soak end: %v: %s", err, output)
	}
}
