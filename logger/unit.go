package logger

import (
	"context"
	"fmt"
	"strings"

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
	if _, err := b.settings.SheetFor(unit.Console); err != nil {
		return fmt.Errorf("unit %s: %w", unit.ID, err)
	}
	return b.options.Book.AddUnit(ctx, unit)
}
