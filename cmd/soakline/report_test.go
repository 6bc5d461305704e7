package main

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"soakline/config"
	"soakline/device"
	"soakline/logger"
	"soakline/logger/book"
)

// judgedBook is a book with one unit whose soak of a minute has a verdict, and its path.
func judgedBook(t *testing.T) string {
	t.Helper()
	return judgedBookOf(t, time.Minute)
}

// judgedBookOf is such a book with a soak that ended about an hour ago.
func judgedBookOf(t *testing.T, lasts time.Duration) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.book")
	ctx := context.WithoutCancel(t.Context())
	b, err := book.Open(ctx, path, book.Options{Program: program()})
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join("..", "..", "config", "sheets", "brambling-8.yaml"))
	if err == nil {
		err = b.AddUnit(ctx, book.Unit{ID: "B8-0147", Console: "Brambling 8"})
	}
	begin := time.Now().Add(-time.Hour - lasts)
	var id book.SoakID
	if err == nil {
		id, err = b.BeginSoak(ctx, book.Soak{Bench: "pier-end", Place: "left", Unit: "B8-0147", Sheet: book.SheetCopy{Name: "brambling-8", Text: text}, Planned: lasts, Begin: begin})
	}
	if err != nil {
		t.Fatal(err)
	}
	writeSoak(t, b, begin, lasts)
	if err := b.EndSoak(ctx, id, book.SoakEnded, begin.Add(lasts), ""); err != nil {
		t.Fatal(err)
	}
	sheet, err := config.ParseSheet("brambling-8", text)
	if err != nil {
		t.Fatal(err)
	}
	verdict, err := logger.JudgeFromBook(ctx, b, id, sheet)
	if err == nil {
		err = logger.KeepVerdict(ctx, b, id, begin.Add(lasts), verdict)
	}
	if err == nil {
		err = b.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// writeSoak writes a reading of the 5 V rail for each second.
func writeSoak(t *testing.T, b *book.Book, begin time.Time, lasts time.Duration) {
	t.Helper()
	ctx, stop := context.WithCancel(context.WithoutCancel(t.Context()))
	w, ended := book.NewWriter(b, book.WriterOptions{}), make(chan error, 1)
	go func() { ended <- w.Run(ctx) }()
	for i := range int(lasts.Seconds()) {
		err := w.Append(book.TaggedReading{Tag: book.Tag{Bench: "pier-end", Console: "Brambling 8", Unit: "B8-0147", TestPoint: "rail-5v", Instrument: "meter", Measure: device.DCVoltage},
			Reading: device.Reading{Measure: device.DCVoltage, Value: 5.01, At: begin.Add(time.Duration(i) * time.Second), StandardUncertainty: 0.001}})
		if err != nil {
			t.Fatal(err)
		}
	}
	stop()
	if err := <-ended; err != nil {
		t.Fatal(err)
	}
}

// soakline runs the program and returns its exit code and what it wrote.
func soakline(t *testing.T, args ...string) (code int, stdout, stderr string) {
	t.Helper()
	var out, wrong bytes.Buffer
	cmd := exec.CommandContext(t.Context(), binary(t), args...)
	cmd.Stdout, cmd.Stderr = &out, &wrong
	return exitCode(cmd.Run()), out.String(), wrong.String()
}

func TestReportCommand(t *testing.T) {
	kept := judgedBook(t)
	dir := t.TempDir()
	for name, begin := range map[string]string{"b8.pdf": "%PDF-1.", "b8.html": "<!doctype html>", "b8.json": "{\n", "b8.csv": "part,test_point,measure,"} {
		file := filepath.Join(dir, name)
		if code, out, wrong := soakline(t, "report", "--unit", "B8-0147", "--book", kept, "-o", file); code != exitDone || out+wrong != "" {
			t.Fatalf("%s: exit %d, %s%s", name, code, out, wrong)
		}
		if text, err := os.ReadFile(file); err != nil || !bytes.HasPrefix(text, []byte(begin)) {
			t.Errorf("%s begins with %.20q (%v)", name, text, err)
		}
	}
	if code, out, _ := soakline(t, "report", "--unit", "B8-0147", "--book", kept, "--label", "-o", "-"); code != exitDone || !strings.HasPrefix(out, "%PDF-1.") {
		t.Errorf("label: exit %d, %.20q", code, out)
	}
	code, out, _ := soakline(t, "report", "--unit", "B8-0147", "--soak", "1", "--book", kept, "--format", "json", "-o", "-")
	var certificate struct {
		Outcome string
		Chain   struct {
			Position int64
			Hash     string
		}
	}
	if err := json.Unmarshal([]byte(out), &certificate); code != exitDone || err != nil || certificate.Outcome != "undecided" || certificate.Chain.Position != 1 {
		t.Fatalf("exit %d, %+v (%v)", code, certificate, err)
	}
	// What the paper shows is what the book has.
	if code, out, wrong := soakline(t, "book", "check", "--book", kept, "--chain", "1:"+certificate.Chain.Hash[:16]); code != exitDone || !strings.Contains(out, "nothing is wrong with it; its chain has 1 links") {
		t.Errorf("exit %d: %s%s", code, out, wrong)
	}
	if code, out, _ := soakline(t, "book", "check", "--book", kept, "--chain", "1:0123456789abcdef"); code != exitTrouble || !strings.Contains(out, "the chain was made anew, or this is another book") {
		t.Errorf("another hash: exit %d: %s", code, out)
	}
}

// TestReportRefuses: one clear line for each thing that is wrong.
func TestReportRefuses(t *testing.T) {
	kept := judgedBook(t)
	for _, row := range []struct {
		code int
		want string
		args []string
	}{
		{exitTrouble, "B8-9999", []string{"--unit", "B8-9999", "-o", "-"}},
		{exitTrouble, "soak 7", []string{"--unit", "B8-0147", "--soak", "7", "-o", "-"}},
		{exitUsage, "--soak -1", []string{"--unit", "B8-0147", "--soak", "-1", "-o", "-"}},
		{exitUsage, "there are html, pdf, json, csv, junit, label", []string{"--unit", "B8-0147", "--format", "parchment", "-o", "-"}},
		{exitUsage, "--label is written as pdf", []string{"--unit", "B8-0147", "--label", "--format", "csv", "-o", "-"}},
		{exitTrouble, "no such file or directory", []string{"--unit", "B8-0147", "-o", filepath.Join(t.TempDir(), "none", "b8.pdf")}},
		{exitUsage, `"output" not set`, []string{"--unit", "B8-0147"}},
	} {
		code, _, wrong := soakline(t, append([]string{"report", "--book", kept}, row.args...)...)
		if code != row.code || !strings.Contains(wrong, row.want) || strings.Count(wrong, "\n") != 1 {
			t.Errorf("%v: exit %d: %s; want %d, %q", row.args, code, wrong, row.code, row.want)
		}
	}
	if code, _, wrong := soakline(t, "report", "--book", "report_test.go", "--unit", "B8-0147", "-o", "-"); code != exitTrouble || !strings.Contains(wrong, "is not a book of this program") {
		t.Errorf("somebody else's file: exit %d: %s", code, wrong)
	}
}

// TestReportOnAFullDisk: the report that was there stays as it was, and nothing
// unfinished is left. The disk is a limit on how large a file may grow.
func TestReportOnAFullDisk(t *testing.T) {
	kept := judgedBook(t)
	file := filepath.Join(t.TempDir(), "b8.pdf")
	if err := os.WriteFile(file, []byte("the report of before"), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), "sh", "-c", `ulimit -f 70; exec "$0" "$@"`, binary(t), "report", "--unit", "B8-0147", "--book", kept, "-o", file)
	wrong, err := cmd.CombinedOutput()
	if code := exitCode(err); code != exitTrouble || strings.Count(string(wrong), "\n") != 1 || !strings.Contains(string(wrong), "b8.pdf") {
		t.Errorf("exit %d: %s", code, wrong)
	}
	if text, err := os.ReadFile(file); err != nil || string(text) != "the report of before" {
		t.Errorf("the old report is %.30q (%v)", text, err)
	}
	if left, _ := filepath.Glob(file + ".*"); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}
