package simbench

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Control obeys lines from r until its end, one answer line each on w:
//
//	fault TARGET NAME [ARGS…]   as Bench.Fault        done, or error: …
//	clear TARGET                ends every fault      done, or error: …
//	ports                       {"meter":"…"} as JSON
//	time                        seconds since the start
//
// An argument with spaces stands in double quotes. Empty lines are skipped. When
// ctx ends and r can be closed, it is closed; else Control returns with the next
// line or the end of r.
func (b *Bench) Control(ctx context.Context, r io.Reader, w io.Writer) error {
	if c, ok := r.(io.Closer); ok {
		stop := context.AfterFunc(ctx, func() { _ = c.Close() })
		defer stop()
	}
	lines := bufio.NewScanner(r)
	for lines.Scan() {
		if ctx.Err() != nil {
			return nil
		}
		if strings.TrimSpace(lines.Text()) == "" {
			continue
		}
		answer, err := b.obey(lines.Text())
		if err != nil {
			answer = "error: " + strings.Join(strings.Fields(err.Error()), " ")
		}
		if _, err := fmt.Fprintln(w, answer); err != nil {
			return fmt.Errorf("answering a control line: %w", err)
		}
	}
	if err := lines.Err(); err != nil && ctx.Err() == nil {
		return fmt.Errorf("reading control lines: %w", err)
	}
	return nil
}

// obey carries out one control line.
func (b *Bench) obey(line string) (string, error) {
	words, err := splitWords(line)
	if err != nil {
		return "", err
	}
	switch {
	case words[0] == "fault" && len(words) >= 3:
		return "done", b.Fault(words[1], words[2], words[3:]...)
	case words[0] == "clear" && len(words) == 2:
		return "done", b.Fault(words[1], "clear")
	case words[0] == "ports" && len(words) == 1:
		ports, err := json.Marshal(b.Ports())
		return string(ports), err
	case words[0] == "time" && len(words) == 1:
		return fmt.Sprintf("%.3f", b.now()), nil
	}
	return "", errors.New("wants fault TARGET NAME [ARGS], clear TARGET, ports or time")
}

// splitWords cuts a line at white space; double quotes keep it within a word.
// There is at least one word unless it is an error.
func splitWords(line string) ([]string, error) {
	var words []string
	var word strings.Builder
	quoted, begun := false, false
	for _, r := range line + " " {
		switch {
		case r == '"':
			quoted, begun = !quoted, true
		case !quoted && (r == ' ' || r == '\t' || r == '\r'):
			if begun {
				words = append(words, word.String())
			}
			word.Reset()
			begun = false
		default:
			word.WriteRune(r)
			begun = true
		}
	}
	if quoted {
		return nil, errors.New("a quote is not closed")
	}
	if len(words) == 0 {
		return nil, errors.New("an empty line")
	}
	return words, nil
}
