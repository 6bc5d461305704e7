package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"golang.org/x/term"
)

// onTerminal tells whether w is a terminal that a person looks at.
func onTerminal(w io.Writer) bool {
	file, ok := w.(*os.File)
	return ok && term.IsTerminal(int(file.Fd()))
}

// widthOf is how many columns a terminal has.
func widthOf(w io.Writer) int {
	if file, ok := w.(*os.File); ok {
		if width, _, err := term.GetSize(int(file.Fd())); err == nil && width > 0 {
			return width
		}
	}
	return narrowest
}

// printJSON writes v as indented JSON.
func printJSON(w io.Writer, v any) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	encoder.SetEscapeHTML(false)
	return encoder.Encode(v)
}

// inWords writes a duration as it is said at the bench: 3 h 12 min, 45 s.
func inWords(d time.Duration) string {
	d = d.Round(time.Second)
	hours, minutes, seconds := int(d/time.Hour), int(d/time.Minute)%60, int(d/time.Second)%60
	switch {
	case hours > 0:
		return fmt.Sprintf("%d h %02d min", hours, minutes)
	case minutes > 0:
		return fmt.Sprintf("%d min %02d s", minutes, seconds)
	default:
		return fmt.Sprintf("%d s", seconds)
	}
}

// showsUnicode tells whether the user's locale has more than ASCII.
func showsUnicode() bool {
	for _, name := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if value := os.Getenv(name); value != "" {
			return strings.Contains(strings.ToUpper(value), "UTF-8") || strings.Contains(strings.ToUpper(value), "UTF8")
		}
	}
	return false
}
