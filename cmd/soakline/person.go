package main

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"

	"golang.org/x/term"
)

// person is whoever sits at the terminal.
type person struct {
	out   io.Writer
	there bool
	in    io.Reader
	lines chan string
	// tabEnds makes a tab end a line too, while a scanner is waited for.
	tabEnds atomic.Bool
}

// newPerson looks who is there; prompts go to out. Nothing is read yet.
func newPerson(in io.Reader, out io.Writer) *person {
	file, ok := in.(*os.File)
	return &person{out: out, in: in, there: ok && term.IsTerminal(int(file.Fd()))}
}

// errNobody says that a person is needed and there is no terminal.
var errNobody = errors.New("a person is needed at a terminal")

// answer writes a prompt and waits for a line. A read of a terminal cannot be cut
// short, so the goroutine that waits in one is left to the end of the process.
func (p *person) answer(ctx context.Context, prompt string) (string, error) {
	if !p.there {
		return "", errNobody
	}
	fmt.Fprint(p.out, prompt)
	p.listen()
	select {
	case line, ok := <-p.lines:
		if !ok {
			return "", errors.New("the terminal was closed")
		}
		return strings.TrimSpace(line), nil
	case <-ctx.Done():
		fmt.Fprintln(p.out)
		return "", ctx.Err()
	}
}

// listen begins to read lines, once.
func (p *person) listen() {
	if p.lines != nil {
		return
	}
	p.lines = make(chan string)
	go func() {
		defer close(p.lines)
		scanner := bufio.NewScanner(p.in)
		scanner.Split(p.split)
		for scanner.Scan() {
			p.lines <- scanner.Text()
		}
	}()
}

// split cuts what is typed into lines.
func (p *person) split(data []byte, atEOF bool) (advance int, token []byte, err error) {
	if p.tabEnds.Load() {
		if i := bytes.IndexAny(data, "\t\n"); i >= 0 {
			if data[i] == '\t' {
				fmt.Fprintln(p.out) // the terminal has not moved on
			}
			return i + 1, data[:i], nil
		}
	}
	return bufio.ScanLines(data, atEOF)
}

// enter waits for Enter.
func (p *person) enter(ctx context.Context, prompt string) error {
	_, err := p.answer(ctx, prompt)
	return err
}

// paragraph breaks a text into lines of no more than the usual terminal's width,
// each with an indent.
func paragraph(indent, text string) string {
	const width = 79
	var out, line strings.Builder
	for _, word := range strings.Fields(text) {
		if line.Len() > 0 && len([]rune(indent+line.String()))+1+len([]rune(word)) > width {
			fmt.Fprintf(&out, "%s%s\n", indent, &line)
			line.Reset()
		}
		if line.Len() > 0 {
			line.WriteByte(' ')
		}
		line.WriteString(word)
	}
	if line.Len() > 0 {
		fmt.Fprintf(&out, "%s%s\n", indent, &line)
	}
	return out.String()
}
