package scpi

import (
	"fmt"
	"strings"
)

// ElementKind says how a piece of an answer was sent.
type ElementKind uint8

// The kinds of elements (IEEE 488.2, 8.7).
const (
	Bare   ElementKind = iota // number, character data or expression
	Quoted                    // string in quotes
	Block                     // definite or indefinite block
)

// Element is one piece of an answer, between commas.
type Element struct {
	Kind ElementKind
	// Text is a bare element without white space around it, a string's contents
	// without its quotes, or a block's data.
	Text string
	// Offset is where the element begins in the message, in bytes from 0.
	Offset int
}

// SyntaxError says where a response message is not one.
type SyntaxError struct {
	Offset int // in bytes from 0
	What   string
}

// Error names the place and the fault.
func (e *SyntaxError) Error() string {
	return fmt.Sprintf("response message at byte %d: %s", e.Offset, e.What)
}

// SplitResponse takes a response message without its ending apart: answers between
// semicolons, and each answer's elements between commas (IEEE 488.2, 8.4; S-21).
// Strings may have either quote, doubled inside; commas in parentheses belong to
// an expression. Empty elements are kept. It fails with a *SyntaxError.
func SplitResponse(message string) ([][]Element, error) {
	s := splitter{text: message}
	answers := [][]Element{nil}
	for {
		element, err := s.element()
		if err != nil {
			return nil, err
		}
		last := len(answers) - 1
		answers[last] = append(answers[last], element)
		s.skipSpace()
		if s.at == len(s.text) {
			return answers, nil
		}
		switch s.text[s.at] {
		case ',':
		case ';':
			answers = append(answers, nil)
		default:
			return nil, s.wrong(s.at, fmt.Sprintf("%q where a separator belongs", s.text[s.at]))
		}
		s.at++
	}
}

// Field is the text of one element of a message, counted from 0 through all its
// answers. It fails with a *SyntaxError.
func Field(message string, index int) (string, error) {
	if index == 0 && !strings.ContainsAny(message, `,;"'#(`) {
		return strings.Trim(message, " \t"), nil
	}
	answers, err := SplitResponse(message)
	if err != nil {
		return "", err
	}
	count := 0
	for _, answer := range answers {
		if index >= count && index < count+len(answer) {
			return answer[index-count].Text, nil
		}
		count += len(answer)
	}
	return "", &SyntaxError{Offset: len(message), What: fmt.Sprintf("no field %d, the answer has fields 0 to %d", index, count-1)}
}

// splitter walks over a response message.
type splitter struct {
	text string
	at   int
}

func (s *splitter) wrong(at int, what string) error { return &SyntaxError{Offset: at, What: what} }

func (s *splitter) skipSpace() {
	for s.at < len(s.text) && (s.text[s.at] == ' ' || s.text[s.at] == '\t') {
		s.at++
	}
}

// element reads one element and stops behind it.
func (s *splitter) element() (Element, error) {
	s.skipSpace()
	start, rest := s.at, s.text[s.at:]
	switch {
	case rest != "" && (rest[0] == '"' || rest[0] == '\''):
		text, err := s.quoted(rest[0])
		return Element{Kind: Quoted, Text: text, Offset: start}, err
	case len(rest) > 1 && rest[0] == '#' && rest[1] >= '0' && rest[1] <= '9':
		from, to, err := blockExtent(rest)
		if err != nil {
			return Element{}, s.wrong(start, err.Error())
		}
		s.at += to
		return Element{Kind: Block, Text: rest[from:to], Offset: start}, nil
	default:
		text, err := s.bare()
		return Element{Kind: Bare, Text: text, Offset: start}, err
	}
}

// quoted reads a string whose opening quote comes next.
func (s *splitter) quoted(quote byte) (string, error) {
	start := s.at
	var contents strings.Builder
	for s.at++; s.at < len(s.text); s.at++ {
		if s.text[s.at] == quote {
			if s.at++; s.at == len(s.text) || s.text[s.at] != quote {
				return contents.String(), nil
			}
		}
		contents.WriteByte(s.text[s.at])
	}
	return "", s.wrong(start, "quote not closed")
}

// bare reads up to a separator outside parentheses.
func (s *splitter) bare() (string, error) {
	start, depth := s.at, 0
	for ; s.at < len(s.text); s.at++ {
		switch c := s.text[s.at]; {
		case c == '(':
			depth++
		case c == ')':
			depth--
		case depth <= 0 && (c == ',' || c == ';'):
			return strings.TrimRight(s.text[start:s.at], " \t"), nil
		case c == '"' || c == '\'':
			return "", s.wrong(s.at, "quote inside an element")
		case (c < ' ' && c != '\t') || c > '~':
			return "", s.wrong(s.at, fmt.Sprintf("byte \\x%02x", c))
		}
	}
	if depth > 0 {
		return "", s.wrong(start, "parenthesis not closed")
	}
	return strings.TrimRight(s.text[start:], " \t"), nil
}
