package main

import (
	"archive/zip"
	"bufio"
	"encoding/json"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/config"
	"soakline/device"
	"soakline/logger/book"
	"soakline/logger/page"
)

// doctorSays runs the command as its user does.
func doctorSays(t *testing.T, wantExit int, args ...string) []finding {
	t.Helper()
	cmd := exec.Command(binary(t), append([]string{"doctor", "--json"}, args...)...)
	cmd.Env = append(os.Environ(), "SOAKLINE_TOKEN=from-the-environment")
	output, err := cmd.Output()
	if got := exitCode(err); got != wantExit {
		t.Errorf("exit code %d, want %d; %s", got, wantExit, output)
	}
	var found []finding
	if err := json.Unmarshal(output, &found); err != nil {
		t.Fatalf("%v in %s", err, output)
	}
	return found
}

// about returns what was found about something.
func about(t *testing.T, found []finding, what string) finding {
	t.Helper()
	i := slices.IndexFunc(found, func(f finding) bool { return f.About == what })
	if i < 0 {
		t.Fatalf("nothing about %s in %v", what, found)
	}
	return found[i]
}

// TestDoctorWithInstruments: a bench whose instruments answer, asked without a
// daemon, then through one; then with one instrument away.
func TestDoctorWithInstruments(t *testing.T) {
	k := newKilledBench(t)
	found := doctorSays(t, exitDone, "--bench", k.file)
	for _, what := range []string{"configuration", "disk", "book", "daemon", "instrument meter", "instrument scope", "instrument thermometer"} {
		if f := about(t, found, what); f.Condition != inOrder {
			t.Errorf("%+v", f)
		}
	}
	k.serve(t)
	waitFor(t, "every instrument", func() bool { _, err := k.run("doctor", "--quick"); return err == nil })
	if f := about(t, doctorSays(t, exitDone, "--bench", k.file), "daemon"); !strings.Contains(f.Text, "runs at") {
		t.Errorf("%+v", f)
	}
}

// TestDoctorFindsWhatIsWrong: each with what to do about it and the exit code.
func TestDoctorFindsWhatIsWrong(t *testing.T) {
	dir := t.TempDir()
	bench := lonelyBench(t, dir)
	found := doctorSays(t, exitTrouble, "--bench", bench, "--patience", "1s")
	if f := about(t, found, "instrument meter"); f.Condition != wrong || !strings.Contains(f.Text, "not-there") || f.Advice == "" {
		t.Errorf("%+v", f)
	}
	if err := os.WriteFile(filepath.Join(dir, "pier.book"), []byte("this is no book at all, but a text that somebody put there"), 0o644); err != nil {
		t.Fatal(err)
	}
	if err := os.Chmod(filepath.Join(dir, "pier.book"), 0o644); err != nil { // whatever the umask is
		t.Fatal(err)
	}
	found = doctorSays(t, exitTrouble, "--bench", bench, "--patience", "1s")
	if f := about(t, found, "book"); f.Condition != wrong || f.Advice == "" {
		t.Errorf("%+v", f)
	}
	if f := about(t, found, "secrets"); f.Condition != mind || !strings.Contains(f.Advice, "chmod") {
		t.Errorf("%+v", f)
	}
	text, err := os.ReadFile(bench)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(bench, []byte(strings.Replace(string(text), "pier.book", "nowhere/pier.book\nbok: x", 1)), 0o600); err != nil {
		t.Fatal(err)
	}
	found = doctorSays(t, exitUsage, "--bench", bench)
	if f := about(t, found, "configuration"); f.Condition != wrong || !strings.Contains(f.Text, "bench.yaml:3: bok") {
		t.Errorf("%+v", f)
	}
	if f := about(t, found, "disk"); f.Condition != wrong || f.Advice == "" {
		t.Errorf("%+v", f)
	}
	if f := about(t, found, "instruments"); f.Condition != notLooked {
		t.Errorf("%+v", f)
	}
}

// TestDoctorAlwaysSaysWhatToDo: there is advice on everything that can befall a port or
// a book.
func TestDoctorAlwaysSaysWhatToDo(t *testing.T) {
	for _, kind := range []device.Kind{device.Silence, device.Garbage, device.Overflow, device.Refused, device.Lost, device.Busy, device.Denied,
		device.Absent, device.Stranger, device.Unsuitable} {
		if advice := adviceOnPort(kind, "/dev/ttyUSB0"); len(advice) < 20 {
			t.Errorf("%s: %q", kind, advice)
		}
	}
	for _, err := range []error{book.ErrFolder, book.ErrNotBook, book.ErrNewer, book.ErrDamaged, book.ErrDenied, book.ErrHeld, book.ErrFull, book.ErrIO, book.ErrBusy, book.ErrOther} {
		if advice := adviceOnBook(err, "bench.book"); len(advice) < 20 {
			t.Errorf("%v: %q", err, advice)
		}
	}
}

// TestDoctorAsksADaemon that has trouble of every kind: each is told with what to do.
func TestDoctorAsksADaemon(t *testing.T) {
	view := page.BenchView{Book: page.BookView{Trouble: "disk full", LostReadings: map[string]uint64{"queue full": 7}},
		Instruments: []page.InstrumentView{{Name: "meter", Port: "/dev/ttyUSB0", Trouble: "no answer"}, {Name: "scope", Port: "/dev/ttyUSB1", Up: true, Trouble: "garbage"}, {Name: "supply", Up: true}}}
	answers := true
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) {
		if !answers {
			http.Error(w, "{}", http.StatusInternalServerError)
			return
		}
		_ = json.NewEncoder(w).Encode(view)
	}))
	defer server.Close()
	d := &doctor{}
	running := newDaemon(strings.TrimPrefix(server.URL, "http://"), "")
	d.askDaemon(t.Context(), running)
	answers = false
	d.askDaemon(t.Context(), running)
	want := []condition{wrong, mind, wrong, mind, inOrder, wrong}
	for i, f := range d.found {
		if len(d.found) != len(want) || f.Condition != want[i] || f.Condition != inOrder && f.Advice == "" {
			t.Errorf("finding %d of %d: %+v", i, len(d.found), f)
		}
	}
}

// TestSecretsThatAllCanRead: check and serve say so, and what to do.
func TestSecretsThatAllCanRead(t *testing.T) {
	dir := t.TempDir()
	bench := lonelyBench(t, dir)
	text, err := os.ReadFile(bench)
	if err != nil {
		t.Fatal(err)
	}
	secret := filepath.Join(dir, "secret.txt")
	err = errors.Join(os.WriteFile(bench, append(text, "token_file: secret.txt\n"...), 0o600), os.WriteFile(secret, []byte("a-secret\n"), 0o600))
	if err != nil {
		t.Fatal(err)
	}
	for mode, want := range map[os.FileMode]string{0o600: "", 0o640: "", 0o644: "mind: everybody on this machine can read " + secret + ", which holds a secret: chmod o-rwx " + secret + "\n"} {
		if err := os.Chmod(secret, mode); err != nil { // whatever the umask is
			t.Fatal(err)
		}
		var said strings.Builder
		cmd := exec.Command(binary(t), "check", bench)
		cmd.Stderr = &said
		if err := cmd.Run(); err != nil || said.String() != want {
			t.Errorf("mode %o: %q (%v), want %q", mode, said.String(), err, want)
		}
	}
	if err := os.Chmod(secret, 0o644); err != nil {
		t.Fatal(err)
	}
	daemon := exec.CommandContext(t.Context(), binary(t), "serve", "--bench", bench, "--listen", "127.0.0.1:0")
	said, err := daemon.StderrPipe()
	if err = errors.Join(err, daemon.Start()); err != nil {
		t.Fatal(err)
	}
	lines, warned := bufio.NewScanner(said), false
	for !warned && lines.Scan() {
		warned = strings.Contains(lines.Text(), "everybody on this machine can read") && strings.Contains(lines.Text(), "chmod o-rwx "+secret)
	}
	if !warned {
		t.Error("serve does not warn")
	}
	_ = daemon.Process.Kill()
	_ = daemon.Wait() // it was killed, and says so
}

// TestDoctorClock: unset at boot, behind the book, and right.
func TestDoctorClock(t *testing.T) {
	today := time.Date(2027, time.May, 3, 12, 0, 0, 0, time.UTC)
	for _, row := range []struct {
		name        string
		now, newest time.Time
		want        []condition
	}{
		{"1970", time.Unix(30, 0), time.Time{}, []condition{wrong}},
		{"an hour behind the book", today, today.Add(time.Hour), []condition{wrong}},
		{"just behind the book: a commit", today, today.Add(time.Second), []condition{inOrder, mind}},
		{"right", today, today.Add(-time.Hour), []condition{inOrder, mind}},
		{"no book yet", today, time.Time{}, []condition{inOrder, mind}},
	} {
		d := &doctor{}
		d.judgeClock(row.now, row.newest)
		if !slices.Contains(row.want, d.found[0].Condition) {
			t.Errorf("%s: %+v, want %v", row.name, d.found[0], row.want)
		}
	}
}

// TestDoctorBundle: somebody who helps sees the configuration, the findings and the
// events, and no secret.
func TestDoctorBundle(t *testing.T) {
	dir := t.TempDir()
	bench := lonelyBench(t, dir)
	text, err := os.ReadFile(bench)
	if err != nil {
		t.Fatal(err)
	}
	for name, content := range map[string]string{
		"bench.yaml": string(text) + "token_file: secret.txt\n# password: in-a-remark\n",
		"secret.txt": "kept-in-a-file\n",
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(content), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	name := filepath.Join(dir, "findings.zip")
	doctorSays(t, exitTrouble, "--bench", bench, "--patience", "500ms", "--bundle", name)
	if info, err := os.Stat(name); err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("the bundle: %v, %v; want it to be its owner's alone", info, err)
	}
	files := unzip(t, name)
	for _, want := range []string{"findings.txt", "findings.json", "system.txt", "events.csv", "journal.txt", "configuration/00-bench.yaml"} {
		if files[want] == "" {
			t.Errorf("no %s among %d files", want, len(files))
		}
	}
	for name, text := range files {
		for _, secret := range []string{"kept-in-a-file", "from-the-environment", "in-a-remark"} {
			if strings.Contains(text, secret) {
				t.Errorf("%s shows %q:\n%s", name, secret, text)
			}
		}
	}
	if !strings.Contains(files["configuration/00-bench.yaml"], "token_file: secret.txt") {
		t.Error("where the token lies is no secret, and would help")
	}
	d := &doctor{}
	if err := d.writeBundle(t.Context(), name); !errors.Is(err, os.ErrExist) {
		t.Errorf("an existing file: %v", err)
	}
}

func unzip(t *testing.T, name string) map[string]string {
	t.Helper()
	archive, err := zip.OpenReader(name)
	if err != nil {
		t.Fatal(err)
	}
	defer archive.Close()
	files := map[string]string{}
	for _, file := range archive.File {
		r, err := file.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		files[file.Name] = string(text)
	}
	return files
}

// TestRedact: where secrets stand in configurations, logs and addresses.
func TestRedact(t *testing.T) {
	r := newRedactor(config.Bench{})
	r.know("hunter-22")
	for _, row := range []struct{ in, want string }{
		{"token: abc", "token: [removed]"},
		{`token: "two words"`, "token: [removed]"},
		{`{"smtp_password":"x1"}`, `{"smtp_password":[removed]}`},
		{"token_file: secret.txt", "token_file: secret.txt"},
		{"SOAKLINE_TOKEN=abc", "SOAKLINE_TOKEN=[removed]"},
		{"Authorization: Bearer abc.def", "Authorization: Bearer [removed]"},
		{"http://me:pw@192.0.2.1/x", "http://[removed]@192.0.2.1/x"},
		{"https://192.0.2.1/hook?key=1&x=2", "https://192.0.2.1/hook?[removed]"},
		{"it said hunter-22 twice: hunter-22", "it said [removed] twice: [removed]"},
		{"rail-5v 5.01 V: within", "rail-5v 5.01 V: within"},
		{"", ""},
	} {
		if got := string(r.redact([]byte(row.in))); got != row.want {
			t.Errorf("%q became %q, want %q", row.in, got, row.want)
		}
	}
}
