package main

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"

	"soakline/device/scpi"
)

// built is the program itself, built once for all tests that run it as its users
// do.
var built struct {
	once sync.Once
	dir  string
	err  error
}

// children are what the test binary does as a child of its own, by the variable that
// says so and gives it an argument.
var children = map[string]func(argument string) (exitCode int){}

// TestMain also plays the program itself on a machine whose clock is set wrong.
func TestMain(m *testing.M) {
	if file := os.Getenv(machineClockEnv); file != "" {
		scpi.Steady = scpi.NewClockOf(machineClock(file))
		os.Exit(run(os.Args[1:]))
	}
	for variable, run := range children {
		if argument := os.Getenv(variable); argument != "" {
			os.Exit(run(argument))
		}
	}
	code := m.Run()
	if built.dir != "" {
		if err := os.RemoveAll(built.dir); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
	}
	os.Exit(code)
}

// binary returns the path of the built program.
func binary(t *testing.T) string {
	t.Helper()
	built.once.Do(func() {
		if built.dir, built.err = os.MkdirTemp("", "soakline-test-"); built.err != nil {
			return
		}
		build := exec.Command("go", "build", "-trimpath", "-ldflags", "-s -w", "-o", programPath(), ".")
		build.Env = append(os.Environ(), "CGO_ENABLED=0") // as make build does
		if raceDetector {
			build = exec.Command("go", "build", "-trimpath", "-race", "-o", programPath(), ".")
		}
		output, err := build.CombinedOutput()
		if err != nil {
			built.err = fmt.Errorf("%w\n%s", err, output)
		}
	})
	if built.err != nil {
		t.Fatalf("build the program: %v", built.err)
	}
	return programPath()
}

func programPath() string {
	name := "soakline"
	if runtime.GOOS == "windows" {
		name += ".exe"
	}
	return filepath.Join(built.dir, name)
}

// need fails the test with one line where a program is missing.
func need(t *testing.T, name string) string {
	t.Helper()
	path, err := exec.LookPath(name)
	if err != nil {
		t.Fatalf("%s is not here: install the Debian package prometheus, or run make test", name)
	}
	return path
}

// process is a child with its output line by line.
type process struct {
	*exec.Cmd
	stdin io.WriteCloser
	lines *bufio.Reader
	log   *strings.Builder // what it wrote to standard error; read it after Wait
}

// start starts a program that is ended with the test, if it has not ended before.
func start(t *testing.T, name string, args ...string) *process {
	t.Helper()
	p := &process{Cmd: exec.Command(name, args...), log: &strings.Builder{}}
	p.Stderr = p.log
	var err error
	if p.stdin, err = p.StdinPipe(); err != nil {
		t.Fatal(err)
	}
	stdout, err := p.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	p.lines = bufio.NewReader(stdout)
	if err := p.Start(); err != nil {
		t.Fatalf("start %s: %v", name, err)
	}
	t.Cleanup(func() {
		if p.ProcessState == nil {
			_ = p.Process.Kill() // it may have ended by itself meanwhile
			_ = p.Wait()
		}
	})
	return p
}

// line returns the next line of a child's output.
func (p *process) line(t *testing.T) string {
	t.Helper()
	line, err := p.lines.ReadString('\n')
	if err != nil {
		_ = p.Process.Kill()
		_ = p.Wait()
		t.Fatalf("%s ended early: %v\n%s", p.Path, err, p.log)
	}
	return strings.TrimSuffix(line, "\n")
}

// freeAddress is a loopback address that nobody listens on.
func freeAddress(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	return listener.Addr().String()
}
