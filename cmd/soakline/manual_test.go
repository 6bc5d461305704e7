package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/spf13/cobra"
)

// TestManual: every command that is shown has a page that gives its name, its
// options and its example; what is hidden has none. Names and order of the sections
// are those of man-pages(7).
func TestManual(t *testing.T) {
	dir := t.TempDir()
	if code := run([]string{"manual", dir}); code != exitDone {
		t.Fatalf("exit code %d", code)
	}
	root := rootCommand()
	var visit func(*cobra.Command)
	visit = func(cmd *cobra.Command) {
		text, err := os.ReadFile(filepath.Join(dir, pageName(cmd)+".1"))
		if err != nil {
			t.Error(err)
			return
		}
		page := string(text)
		at := 0
		for _, section := range []string{".TH ", ".SH NAME", ".SH SYNOPSIS", ".SH DESCRIPTION", ".SH EXIT STATUS"} {
			i := strings.Index(page[at:], section)
			if i < 0 {
				t.Errorf("%s: no %q in its place", cmd.CommandPath(), section)
				return
			}
			at += i
		}
		if cmd.Example != "" && !strings.Contains(page, ".SH EXAMPLE") {
			t.Errorf("%s: no example", cmd.CommandPath())
		}
		for _, child := range documented(cmd) {
			visit(child)
		}
	}
	visit(root)
	if _, err := os.Stat(filepath.Join(dir, "soakline-manual.1")); err == nil {
		t.Error("a hidden command has a page")
	}
	for _, name := range []string{"soakline.bash", "_soakline", "soakline.fish"} {
		if text, err := os.ReadFile(filepath.Join(dir, name)); err != nil || !strings.Contains(string(text), "soakline") {
			t.Errorf("%s: %d bytes, %v", name, len(text), err)
		}
	}
}

// TestManualEscapes: what troff takes for a request or an escape comes out as it
// stands (groff_man(7), groff(7)).
func TestManualEscapes(t *testing.T) {
	cmd := &cobra.Command{Use: "x", Short: "a -b Ω", Long: ".dot begins\n'quote begins\nback\\slash\n\nsecond", Run: func(*cobra.Command, []string) {}}
	page := manPage(cmd)
	for _, want := range []string{`\&.dot begins`, `\&'quote begins`, `back\eslash`, "\n.PP\nsecond", `a \-b \[u03A9]`} {
		if !strings.Contains(page, want) {
			t.Errorf("no %q in:\n%s", want, page)
		}
	}
}
