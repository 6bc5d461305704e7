package book

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// chainWhatIsThere fills form 3: every excursion and verdict of form 2 gets a link,
// soak by soak. That they were not changed before, no link can tell.
func chainWhatIsThere(ctx context.Context, tx *sql.Tx) error {
	const excursions = `SELECT soak, test_point, measure, from_us, state FROM excursion
		ORDER BY soak, from_us, test_point, measure, state`
	const verdicts = `SELECT id FROM verdict ORDER BY id`
	const before = "before form 3"
	at := time.Now()
	for _, part := range []struct {
		kind, query string
		columns     int
	}{{"excursion", excursions, 5}, {"verdict", verdicts, 1}} {
		records, err := keysOf(ctx, tx, part.query, part.columns)
		if err != nil {
			return err
		}
		for _, record := range records {
			if err := chain(ctx, tx, at, part.kind, record, before); err != nil {
				return err
			}
		}
	}
	return nil
}

// keysOf lists the keys that a query of key columns gives.
func keysOf(ctx context.Context, in asker, query string, columns int) ([]string, error) {
	rows, err := in.QueryContext(ctx, query)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var records []string
	values, targets := make([]any, columns), make([]any, columns)
	for i := range values {
		targets[i] = &values[i]
	}
	for rows.Next() {
		if err := rows.Scan(targets...); err != nil {
			return nil, fmt.Errorf("list keys: %w", err)
		}
		records = append(records, recordKey(values...))
	}
	return records, rows.Err()
}
