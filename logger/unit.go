package logger

import (
	"context"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"soakline/checks"
	"soakline/logger/book"
)

// SheetFor returns the bench's test sheet for a console.
func (s Settings) SheetFor(console checks.ConsoleName) (checks.Sheet, error) {
	var known []string
	for _, sheet := range s.Sheets {
		if sheet.Console == console {
			return sheet, nil
		}
		known = append(known, fmt.Sprintf("%q", sheet.Console))
	}
	return checks.Sheet{}, fmt.Errorf("%w for console %q (there are sheets for %s)", ErrNoSheet, console, strings.Join(known, ", "))
}

// AddUnit books a unit in. Its console must be one that this bench has a test
// sheet for, so that a slip of the pen is found now and not at the soak.
func (b *Bench) AddUnit(ctx context.Context, unit book.Unit) error {
	if err := b.settings.CheckUnit(unit); err != nil {
		return err
	}
	return b.options.Book.AddUnit(ctx, unit)
}

// CheckUnit refuses a unit that this bench has no test sheet for, and an asset
// number that no screen could show as it is.
func (s Settings) CheckUnit(unit book.Unit) error {
	if !utf8.ValidString(string(unit.ID)) || strings.ContainsFunc(string(unit.ID), unicode.IsControl) {
		return fmt.Errorf("unit %q: %w: an asset number is plain text on one line", unit.ID, book.ErrInvalid)
	}
	if _, err := s.SheetFor(unit.Console); err != nil {
		return fmt.Errorf("unit %s: %w", unit.ID, err)
	}
	return nil
}
