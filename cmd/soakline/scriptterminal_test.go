package main

import (
	"bufio"
	"encoding/json"
	"io"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"time"

	"github.com/creack/pty"
	"github.com/rogpeppe/go-internal/testscript"
)

// instruments starts simulated instruments for as long as the script runs; a word
// demo:NAME in the bench's file becomes the port of that instrument.
func instruments(ts *testscript.TestScript, _ bool, args []string) {
	cmd := exec.Command(programPath(), "simulate", "--demo", ts.MkAbs("."))
	hold, err := cmd.StdinPipe()
	ts.Check(err)
	out, err := cmd.StdoutPipe()
	ts.Check(err)
	ts.Check(cmd.Start())
	ts.Defer(func() {
		_ = hold.Close()
		_ = cmd.Process.Kill() // it may have ended by itself meanwhile
		_ = cmd.Wait()
	})
	line, err := bufio.NewReader(out).ReadBytes('\n')
	ts.Check(err)
	var ready struct {
		Ports map[string]string `json:"ports"`
	}
	ts.Check(json.Unmarshal(line, &ready))
	for _, file := range args {
		text := ts.ReadFile(file)
		for name, port := range ready.Ports {
			text = strings.ReplaceAll(text, "demo:"+name, port)
		}
		ts.Check(os.WriteFile(ts.MkAbs(file), []byte(text), 0o600))
	}
}

// seated plays a person at a terminal: seated 3 talk final --unit B8-0147 demands the
// exit code 3. A line of the talk that begins with < is waited for, one with > is
// typed; what is typed is not looked for.
func seated(ts *testscript.TestScript, _ bool, args []string) {
	want, err := strconv.Atoi(args[0])
	ts.Check(err)
	cmd := exec.Command(programPath(), args[2:]...)
	cmd.Dir, cmd.Env = ts.MkAbs("."), append(os.Environ(), "HOME="+ts.Getenv("HOME"), "LC_ALL=C.UTF-8", "TZ=UTC")
	tty, err := pty.StartWithSize(cmd, &pty.Winsize{Rows: 50, Cols: 120})
	ts.Check(err)
	defer tty.Close()
	ts.Check(tty.SetDeadline(time.Now().Add(time.Minute)))
	seen, at := "", 0
	for line := range strings.Lines(ts.ReadFile(args[1])) {
		text := strings.TrimSuffix(line[1:], "\n")
		if line[0] == '>' {
			_, err := io.WriteString(tty, strings.TrimPrefix(text, " ")+"\n")
			ts.Check(err)
			continue
		}
		for text = strings.TrimSpace(text); !strings.Contains(seen[at:], text); {
			buffer := make([]byte, 4096)
			n, err := tty.Read(buffer)
			if seen += string(buffer[:n]); err != nil && !strings.Contains(seen[at:], text) {
				ts.Fatalf("no %q: %v\n%s", text, err, seen)
			}
		}
		at += strings.Index(seen[at:], text) + len(text)
	}
	rest, _ := io.ReadAll(tty) // a terminal that was closed reads as an error
	if got := exitCode(cmd.Wait()); got != want {
		ts.Fatalf("soakline %s ended with %d, want %d\n%s", strings.Join(args[2:], " "), got, want, seen+string(rest))
	}
}
