package main

import (
	"encoding/json"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"testing"
	"time"

	"soakline/logger/notify"
)

// TestTelling runs a soak whose rail drops and comes back, and a verdict: a receiver
// beside it is told of each once, and of a trial notice that is sent by hand.
func TestTelling(t *testing.T) {
	told := make(chan notify.Notice, 64)
	receiver := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		body, err := io.ReadAll(r.Body)
		var n notify.Notice
		if err == nil {
			err = json.Unmarshal(body, &n)
		}
		if err != nil {
			t.Error(err)
		}
		told <- n
	}))
	defer receiver.Close()
	b := newRoundBench(t)
	file, err := os.OpenFile(b.file, os.O_APPEND|os.O_WRONLY, 0)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := io.WriteString(file, "\nnotify:\n  - {name: office, webhook: {url: "+receiver.URL+"}}\n"); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	stdout, _ := b.soakline(t, exitDone, "notify")
	matches(t, stdout, `^office: told$`)
	expectNotice(t, told, notify.Trial, notify.Began, "if you read this")
	_, stderr := b.soakline(t, exitUsage, "notify", "nobody")
	matches(t, stderr, `no notify target "nobody"`)

	start(t, binary(t), "serve", "--bench", b.file)
	waitForDaemon(t, b)
	b.soakline(t, exitDone, "soak", "begin", "--unit", "B8-0147", "--for", "10m")
	b.fault(t, "B8-0147 step rail-5v -0.4")
	began := expectNotice(t, told, notify.Excursion, notify.Began, "rail-5v dc-voltage left its limits")
	b.fault(t, "B8-0147 clear")
	over := expectNotice(t, told, notify.Excursion, notify.Over, "rail-5v dc-voltage is back within its limits")
	if over.ID != began.ID || began.Bench != "pier-end" || began.Console != "Brambling 8" {
		t.Errorf("began %+v\nover %+v", began, over)
	}
	b.soakline(t, exitDone, "soak", "end", "--unit", "B8-0147", "--reason", "enough")
	expectNotice(t, told, notify.Verdict, notify.Began, "B8-0147: fail after")
}

// expectNotice waits for a notice of a kind and stage about something; others before
// it are let by.
func expectNotice(t *testing.T, told <-chan notify.Notice, kind notify.Kind, stage notify.Stage, about string) notify.Notice {
	t.Helper()
	late := time.After(time.Minute)
	for {
		select {
		case n := <-told:
			if n.Kind == kind && n.Stage == stage && strings.Contains(n.Text, about) {
				return n
			}
			t.Logf("let by: %s %s %q", n.Kind, n.Stage, n.Text)
		case <-late:
			t.Fatalf("nobody was told of %s %s %q", kind, stage, about)
		}
	}
}
