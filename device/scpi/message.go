package scpi

import (
	"errors"
	"fmt"
	"strings"
)

// ErrBadMessage says that a text cannot be sent as a program message.
var ErrBadMessage = errors.New("not a program message")

// longestMessage keeps a message within the input buffers of simple instruments
// (common practice, no source).
const longestMessage = 1024

// ValidMessage tells whether text can be sent as one program message: printable
// ASCII and tabs, since a control character would end it or disturb the line, not
// empty, at most 1024 characters, every quote closed. It fails with ErrBadMessage.
func ValidMessage(text string) error {
	if strings.Trim(text, " \t") == "" {
		return fmt.Errorf("empty: %w", ErrBadMessage)
	}
	if len(text) > longestMessage {
		return fmt.Errorf("%d characters, %d allowed: %w", len(text), longestMessage, ErrBadMessage)
	}
	quote := byte(0)
	for i := range len(text) {
		switch c := text[i]; {
		case (c < ' ' && c != '\t') || c > '~':
			return fmt.Errorf("character \\x%02x at position %d: %w", c, i, ErrBadMessage)
		case quote == 0 && (c == '"' || c == '\''):
			quote = c
		case c == quote:
			quote = 0 // a doubled quote closes and opens again
		}
	}
	if quote != 0 {
		return fmt.Errorf("quote %c not closed: %w", quote, ErrBadMessage)
	}
	return nil
}

// IsQuery tells whether a message has an answer: whether the header of any of its
// units ends in a question mark.
func IsQuery(message string) bool {
	for unit := range units(message) {
		header := strings.TrimLeft(unit, " \t")
		if end := strings.IndexAny(header, " \t"); end >= 0 {
			header = header[:end]
		}
		if strings.HasSuffix(header, "?") {
			return true
		}
	}
	return false
}

// JoinMessage joins messages into one with semicolons. Each starts again at the
// root, since after a plain semicolon a header continues at the level of the one
// before it (S-11).
func JoinMessage(messages ...string) string {
	var b strings.Builder
	for i, message := range messages {
		message = strings.Trim(message, " \t")
		if i > 0 {
			b.WriteByte(';')
			if !strings.HasPrefix(message, ":") && !strings.HasPrefix(message, "*") {
				b.WriteByte(':')
			}
		}
		b.WriteString(message)
	}
	return b.String()
}

// units gives the message units between semicolons outside quotes.
func units(message string) func(yield func(string) bool) {
	return func(yield func(string) bool) {
		start, quote := 0, byte(0)
		for i := range len(message) {
			switch c := message[i]; {
			case quote != 0:
				if c == quote {
					quote = 0
				}
			case c == '"' || c == '\'':
				quote = c
			case c == ';':
				if !yield(message[start:i]) {
					return
				}
				start = i + 1
			}
		}
		yield(message[start:])
	}
}
