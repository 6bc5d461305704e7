package config

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/spf13/pflag"
)

// write puts a file under a fresh folder's path, making the folders.
func write(t *testing.T, path, text string) string {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestFindBench(t *testing.T) {
	home := t.TempDir()
	t.Chdir(t.TempDir())
	t.Setenv("SOAKLINE_BENCH", "")
	t.Setenv("HOME", home)
	t.Setenv("XDG_CONFIG_HOME", filepath.Join(home, "xdg"))
	expect := func(given, want string) {
		t.Helper()
		if got, err := FindBench(given); got != want || err != nil {
			t.Errorf("FindBench(%q) = %q, %v, want %q", given, got, err, want)
		}
	}
	if _, err := os.Stat("/etc/soakline/bench.yaml"); err == nil {
		expect("", "/etc/soakline/bench.yaml")
	} else if _, err := FindBench(""); !errors.Is(err, ErrNoBench) || !strings.Contains(err.Error(), filepath.Join(home, "xdg", "soakline", "bench.yaml")) {
		t.Errorf("got %v, want ErrNoBench with the places looked at", err)
	}
	expect("", write(t, filepath.Join(home, "xdg", "soakline", "bench.yaml"), ""))
	write(t, "bench.yaml", "")
	expect("", "bench.yaml")
	t.Setenv("SOAKLINE_BENCH", "of the environment")
	expect("", "of the environment")
	expect("given", "given")
}

// The XDG base directory specification: relative paths in its variables are
// invalid and to be ignored; unset means ~/.config.
func TestFindBenchUnderXDG(t *testing.T) {
	home := t.TempDir()
	t.Chdir(t.TempDir())
	t.Setenv("HOME", home)
	t.Setenv("SOAKLINE_BENCH", "")
	write(t, "relative/soakline/bench.yaml", "")
	t.Setenv("XDG_CONFIG_HOME", "relative")
	if got, err := FindBench(""); err == nil && strings.Contains(got, "relative") {
		t.Errorf("a relative XDG_CONFIG_HOME was followed to %s", got)
	}
	t.Setenv("XDG_CONFIG_HOME", "")
	want := write(t, filepath.Join(home, ".config", "soakline", "bench.yaml"), "")
	if got, err := FindBench(""); got != want || err != nil {
		t.Errorf("got %q, %v, want %q", got, err, want)
	}
}

const smallBench = `bench: b
book: a.book
sheets: [brambling-8]
instruments: [{name: meter, port: /dev/ttyUSB0, command_set: scpi-meter}]
places: [{name: left, connections: [{test_point: rail-5v, instrument: meter}]}]
`

func TestFlagsWinOverEnvironmentOverFile(t *testing.T) {
	dir := t.TempDir()
	file := write(t, filepath.Join(dir, "bench.yaml"), smallBench+"listen: 127.0.0.1:1\ncommit_every: 3s\n")
	flags := pflag.NewFlagSet("serve", pflag.ContinueOnError)
	flags.String("listen", "unused default", "")
	load := func() Bench {
		t.Helper()
		b, err := Load(file, flags)
		if err != nil {
			t.Fatal(err)
		}
		return b
	}
	if b := load(); b.Listen != "127.0.0.1:1" || b.CommitEvery != 3*time.Second || b.Book != filepath.Join(dir, "a.book") {
		t.Errorf("from the file: %+v", b.Settings)
	}
	t.Setenv("SOAKLINE_LISTEN", "127.0.0.1:2")
	t.Setenv("SOAKLINE_TOKEN", "secret")
	t.Setenv("SOAKLINE_COMMIT_EVERY", "50ms")
	t.Setenv("SOAKLINE_BOOK", "here.book")
	if b := load(); b.Listen != "127.0.0.1:2" || b.Token != "secret" || b.CommitEvery != 50*time.Millisecond || b.Book != "here.book" {
		t.Errorf("from the environment: %+v", b.Settings)
	}
	if err := flags.Set("listen", "127.0.0.1:3"); err != nil {
		t.Fatal(err)
	}
	if b := load(); b.Listen != "127.0.0.1:3" {
		t.Errorf("from the flag: %q", b.Listen)
	}
}

func TestDefaultsOfABench(t *testing.T) {
	b, err := Load(write(t, filepath.Join(t.TempDir(), "bench.yaml"), smallBench), nil)
	if err != nil || b.Listen != DefaultListen || b.CommitEvery != DefaultCommitEvery || b.Token != "" {
		t.Errorf("got %+v, %v", b.Settings, err)
	}
}

func TestMistakeInTheEnvironmentNamesTheVariable(t *testing.T) {
	file := write(t, filepath.Join(t.TempDir(), "bench.yaml"), smallBench)
	t.Setenv("SOAKLINE_COMMIT_EVERY", "5")
	t.Setenv("SOAKLINE_LISTEN", "0.0.0.0:80")
	_, err := Load(file, nil)
	want := `environment: SOAKLINE_COMMIT_EVERY: "5" has no unit: write for example 5s or 5ms
environment: SOAKLINE_LISTEN: 0.0.0.0:80 can be reached from outside this machine: give a token (token_file) or listen on 127.0.0.1`
	if err == nil || err.Error() != want {
		t.Errorf("got\n%v\nwant\n%s", err, want)
	}
}

func TestBenchFileThatCannotBeRead(t *testing.T) {
	dir := t.TempDir()
	for path, want := range map[string]string{
		filepath.Join(dir, "none.yaml"): "cannot be read: no such file",
		dir:                             "cannot be read: it is a folder",
	} {
		_, err := Load(path, nil)
		if err == nil || err.Error() != path+": "+want {
			t.Errorf("got %v, want %s: %s", err, path, want)
		}
	}
	if _, err := Load(filepath.Join(dir, "none.yaml"), nil); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%v is not os.ErrNotExist", err)
	}
}
