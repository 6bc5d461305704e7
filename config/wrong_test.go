package config

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite the expected messages; a person reads the difference")

// goWord is what must never show in a message: a type or package of the program.
var goWord = regexp.MustCompile(`\b(yaml|map\[|interface|float64|int64|struct|time\.Duration|checks\.|device\.|logger\.|!!)`)

// TestWrongFiles reads every file of testdata/wrong. Its leading "# want: " lines
// are the exact messages, all of them and in this order, that it must give; each
// begins with the file's name and the line. The messages are our own wording, so
// there is no outside source for them.
func TestWrongFiles(t *testing.T) {
	files, err := filepath.Glob("testdata/wrong/*.yaml")
	if err != nil || len(files) < 30 {
		t.Fatalf("found %d files (%v), want at least 30", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".yaml"), func(t *testing.T) {
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			got := messages(t, readAs(t, file, text))
			if *update {
				rewrite(t, file, text, got)
				return
			}
			if diff := cmp.Diff(wanted(text), got); diff != "" {
				t.Errorf("messages (-want +got):\n%s", diff)
			}
		})
	}
}

// readAs reads a file as what its name says it is.
func readAs(t *testing.T, file string, text []byte) error {
	t.Helper()
	base := filepath.Base(file)
	kind, _, _ := strings.Cut(base, "-")
	switch kind {
	case "bench":
		_, err := Load(file, nil)
		return err
	case "sheet":
		_, err := ParseSheet(base, text)
		return err
	case "set":
		_, err := ParseCommandSet(base, text)
		return err
	}
	t.Fatalf("%s is neither bench-, sheet- nor set-", base)
	return nil
}

// messages returns the error's lines and checks that each is fit for a person.
func messages(t *testing.T, err error) []string {
	t.Helper()
	if err == nil {
		t.Fatal("no mistake was found")
	}
	if n := len(Mistakes(err)); n != strings.Count(err.Error(), "\n")+1 {
		t.Errorf("%d mistakes on %d lines", n, strings.Count(err.Error(), "\n")+1)
	}
	var all []string
	for line := range strings.Lines(err.Error()) {
		line = strings.TrimSpace(line)
		if word := goWord.FindString(strings.ReplaceAll(line, ".yaml", "")); word != "" {
			t.Errorf("%q speaks of the program's inside: %q", line, word)
		}
		all = append(all, strings.ReplaceAll(strings.ReplaceAll(line, "testdata/wrong/", ""), `testdata\wrong\`, ""))
	}
	return all
}

const wantMark = "# want: "

func wanted(text []byte) []string {
	var all []string
	for line := range strings.Lines(string(text)) {
		want, ok := strings.CutPrefix(line, wantMark)
		if !ok {
			break
		}
		all = append(all, strings.TrimSpace(want))
	}
	return all
}

// rewrite puts the messages at the head of the file. Line numbers move with the
// number of messages: run it twice.
func rewrite(t *testing.T, file string, text []byte, got []string) {
	t.Helper()
	for bytes.HasPrefix(text, []byte(wantMark)) {
		_, text, _ = bytes.Cut(text, []byte("\n"))
	}
	head := wantMark + strings.Join(got, "\n"+wantMark) + "\n"
	if err := os.WriteFile(file, append([]byte(head), text...), 0o644); err != nil {
		t.Fatal(err)
	}
}
