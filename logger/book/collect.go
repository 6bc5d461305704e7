package book

import (
	"context"
	"database/sql"
)

// collect runs a constant query that gives few rows and scans them all.
func collect[T any](ctx context.Context, b *Book, doing, query string, args []any, scan func(*sql.Rows) (T, error)) ([]T, error) {
	rows, err := b.query(ctx, query, args...)
	if err != nil {
		return nil, b.fail(doing, err)
	}
	defer rows.Close()
	var all []T
	for rows.Next() {
		one, err := scan(rows)
		if err != nil {
			return nil, b.fail(doing, err)
		}
		all = append(all, one)
	}
	return all, b.fail(doing, rows.Err())
}
