package logger

import (
	"context"
	"fmt"

	"soakline/logger/book"
)

// AddUnit books a unit in. Its console must be one that this bench has a test
// sheet for, so that a slip of the pen is found now and not at the soak.
func (b *Bench) AddUnit(ctx context.Context, unit book.Unit) error {
	if _, err := b.sheetFor(unit.Console); err != nil {
		return fmt.Errorf("unit %s: %w", unit.ID, err)
	}
	return b.options.Book.AddUnit(ctx, unit)
}
