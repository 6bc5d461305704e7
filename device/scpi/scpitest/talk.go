package scpitest

import (
	"bufio"
	"encoding/hex"
	"fmt"
	"io"
	"strings"
	"time"
)

// stepKind is the sign that a step begins with.
type stepKind byte

const (
	sent     stepKind = '>'
	received stepKind = '<'
	raw      stepKind = 'x'
	pause    stepKind = '~'
	fault    stepKind = '!'
	endings  stepKind = '='
	comment  stepKind = '#'
)

// step is one line of a talk.
type step struct {
	kind  stepKind
	line  int    // in its file, from 1
	bytes []byte // sent, received and raw: with the ending
	wait  time.Duration
}

// bytesOf are the endings by name.
var bytesOf = map[string]string{"lf": "\n", "cr": "\r", "crlf": "\r\n"}

// Talk is a golden conversation.
type Talk struct {
	name  string
	steps []step
}

// ParseTalk reads a talk; name is for its errors.
func ParseTalk(name string, r io.Reader) (*Talk, error) {
	talk := &Talk{name: name}
	p := parser{sendEnding: "\n", receiveEnding: "\n"}
	lines := bufio.NewScanner(r)
	for number := 1; lines.Scan(); number++ {
		s, err := p.step(lines.Text())
		if err != nil {
			return nil, fmt.Errorf("%s:%d: %w", name, number, err)
		}
		if s.kind != comment {
			s.line = number
			talk.steps = append(talk.steps, s)
		}
	}
	if err := lines.Err(); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	return talk, nil
}

// parser knows the endings that hold from here on.
type parser struct{ sendEnding, receiveEnding string }

// step reads one line; what makes no step is a comment.
func (p *parser) step(line string) (step, error) {
	if strings.TrimSpace(line) == "" {
		return step{kind: comment}, nil
	}
	kind, text := stepKind(line[0]), strings.TrimPrefix(line[1:], " ")
	switch kind {
	case comment:
		return step{kind: comment}, nil
	case endings:
		return step{kind: comment}, p.setEndings(text)
	case sent:
		return step{kind: kind, bytes: []byte(text + p.sendEnding)}, nil
	case received:
		if half, cut := strings.CutSuffix(text, `\`); cut {
			return step{kind: kind, bytes: []byte(half)}, nil
		}
		return step{kind: kind, bytes: []byte(text + p.receiveEnding)}, nil
	case raw:
		bytes, err := hex.DecodeString(strings.ReplaceAll(text, " ", ""))
		return step{kind: kind, bytes: bytes}, err
	case pause:
		wait, err := time.ParseDuration(text)
		return step{kind: kind, wait: wait}, err
	case fault:
		if text != "hang-up" {
			return step{}, fmt.Errorf("fault %q: only hang-up is known", text)
		}
		return step{kind: kind}, nil
	default:
		return step{}, fmt.Errorf("%q begins no step", line)
	}
}

func (p *parser) setEndings(text string) error {
	send, receive, _ := strings.Cut(text, " ")
	if bytesOf[send] == "" || bytesOf[receive] == "" {
		return fmt.Errorf("endings %q: want two of lf, cr, crlf", text)
	}
	p.sendEnding, p.receiveEnding = bytesOf[send], bytesOf[receive]
	return nil
}
