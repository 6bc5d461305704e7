package book

import (
	"context"
	"database/sql"
	"errors"
	"sync"
)

// statements are the queries of the reading connections by their text: they are
// constants, and to prepare one takes longer than to run it.
type statements struct {
	mu     sync.Mutex
	byText map[string]*sql.Stmt
}

// prepared returns the statement of a query, which stays open as long as the book.
func (b *Book) prepared(ctx context.Context, query string) (*sql.Stmt, error) {
	b.asked.mu.Lock()
	defer b.asked.mu.Unlock()
	if statement, ok := b.asked.byText[query]; ok {
		return statement, nil
	}
	statement, err := b.reading.PrepareContext(ctx, query)
	if err != nil {
		return nil, err
	}
	if b.asked.byText == nil {
		b.asked.byText = make(map[string]*sql.Stmt)
	}
	b.asked.byText[query] = statement
	return statement, nil
}

// query runs a constant query.
func (b *Book) query(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	statement, err := b.prepared(ctx, query)
	if err != nil {
		return nil, err
	}
	return statement.QueryContext(ctx, args...)
}

// queryOne runs a constant query that gives one row, and reads it.
func (b *Book) queryOne(ctx context.Context, query string, args, into []any) error {
	statement, err := b.prepared(ctx, query)
	if err != nil {
		return err
	}
	return statement.QueryRowContext(ctx, args...).Scan(into...)
}

func (s *statements) close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var errs []error
	for _, statement := range s.byText {
		errs = append(errs, statement.Close())
	}
	s.byText = nil
	return errors.Join(errs...)
}
