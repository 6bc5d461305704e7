package config

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Mistake is one thing wrong in one file, said so that a person can mend it.
type Mistake struct {
	File string
	// Line and Column count from 1; both are 0 where there is no line, as for a
	// file that cannot be read or a variable of the environment.
	Line, Column int
	// Key is the path of the key within the file: "places[0].name".
	Key string
	// Sentence says what is wrong; Suggestion is what was probably meant, in a
	// form that follows "did you mean", or empty.
	Sentence   string
	Suggestion string

	cause error
}

// Error is the mistake on one line.
func (m *Mistake) Error() string {
	var b strings.Builder
	b.WriteString(m.File)
	if m.Line > 0 {
		fmt.Fprintf(&b, ":%d", m.Line)
	}
	if m.Key != "" {
		b.WriteString(": " + m.Key)
	}
	b.WriteString(": " + m.Sentence)
	if m.Suggestion != "" {
		b.WriteString("; did you mean " + m.Suggestion + "?")
	}
	return b.String()
}

// Unwrap returns what lies behind the mistake, such as a file that is missing;
// nil where the file's text itself is wrong.
func (m *Mistake) Unwrap() error { return m.cause }

// Mistakes returns every Mistake that err holds, in the order of the files and
// lines; nil if there is none.
func Mistakes(err error) []*Mistake {
	if m, ok := err.(*Mistake); ok {
		return []*Mistake{m}
	}
	switch e := err.(type) {
	case interface{ Unwrap() []error }:
		var all []*Mistake
		for _, part := range e.Unwrap() {
			all = append(all, Mistakes(part)...)
		}
		return all
	case interface{ Unwrap() error }:
		return Mistakes(e.Unwrap())
	}
	return nil
}

// joined makes one error of the mistakes of several files: file after file, each
// in the order of its lines. It is nil if there are none.
func joined(docs ...*document) error {
	var all []error
	for _, d := range docs {
		slices.SortStableFunc(d.mistakes, func(a, b *Mistake) int { return a.Line - b.Line })
		for _, m := range d.mistakes {
			all = append(all, m)
		}
	}
	return errors.Join(all...)
}
