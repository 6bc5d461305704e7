package main

import (
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestAnOlderBookCanBeRead: whoever looks into a book of an older program, months
// later, gets it read; it is brought up to date, once, and a copy as it was kept.
func TestAnOlderBookCanBeRead(t *testing.T) {
	packed, err := os.ReadFile(filepath.Join("..", "..", "logger", "book", "testdata", "form-1.book.gz"))
	if err != nil {
		t.Fatal(err)
	}
	unpack, err := gzip.NewReader(bytes.NewReader(packed))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(unpack)
	if err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), "old.book")
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	first := runHere(t.Context(), "book", "info", "--book", path)
	if first.code != exitDone || !strings.Contains(first.stdout, path+", form ") || !strings.Contains(first.stderr, "was an older program's") {
		t.Errorf("%+v", first)
	}
	if again := runHere(t.Context(), "book", "check", "--book", path); again.code != exitDone || again.stderr != "" {
		t.Errorf("the second time: %+v", again)
	}
	if copies, err := filepath.Glob(path + ".form-1-*"); err != nil || len(copies) != 1 {
		t.Errorf("copies %q (%v)", copies, err)
	}
}
