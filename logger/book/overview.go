package book

import (
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

// The data of a row of the table overview are the summaries of inOverview blocks in
// the order of time, then the CRC-32C of them. A summary is id, first and last
// time, count (int64), low, high and sum (float64), little endian.
const (
	inOverview   = 64
	summaryBytes = 7 * 8
)

// appendSummary adds a summary to the data of an overview.
func appendSummary(to []byte, s *blockSummary) []byte {
	for _, v := range [...]int64{s.id, s.first, s.last, s.count} {
		to = binary.LittleEndian.AppendUint64(to, uint64(v)) // #nosec G115 -- the same 64 bits
	}
	for _, v := range [...]float64{s.low, s.high, s.sum} {
		to = appendFloat(to, v)
	}
	return to
}

// readOverview gives the summaries of an overview.
func readOverview(data []byte, take func(blockSummary) error) error {
	body, err := cutSum(data)
	if err != nil {
		return damage{fmt.Errorf("overview of blocks: %w", err)}
	}
	return readSummaries(body, take)
}

// readSummaries gives summaries that stand one after the other.
func readSummaries(body []byte, take func(blockSummary) error) error {
	if len(body)%summaryBytes != 0 {
		return damage{errBlockCut}
	}
	for ; len(body) > 0; body = body[summaryBytes:] {
		whole := func(i int) int64 { return int64(binary.LittleEndian.Uint64(body[8*i:])) } // #nosec G115 -- the same 64 bits
		float := func(i int) float64 { return math.Float64frombits(binary.LittleEndian.Uint64(body[8*i:])) }
		s := blockSummary{whole(0), summary{first: whole(1), last: whole(2), count: whole(3), low: float(4), high: float(5), sum: float(6)}}
		if err := take(s); err != nil {
			return err
		}
	}
	return nil
}

// overviewed returns how many blocks of a series are in no overview, of those that
// are not late, and where the last one begins that is.
func overviewed(ctx context.Context, tx *sql.Tx, series int64) (left int, until int64, err error) {
	until = math.MinInt64
	err = tx.QueryRowContext(ctx, `SELECT until_us FROM overview WHERE series = ? ORDER BY first_us DESC LIMIT 1`, series).Scan(&until)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return 0, 0, err
	}
	err = tx.QueryRowContext(ctx, `SELECT count(*) FROM block WHERE series = ? AND late = 0 AND first_us > ?`, series, until).Scan(&left)
	return left, until, err
}

// overview makes as many rows of a series as its blocks suffice for, and returns how
// many blocks are left over.
func overview(ctx context.Context, tx *sql.Tx, series int64) (left int, err error) {
	const next = `SELECT id, first_us, last_us, count, low, high, sum FROM block
		WHERE series = ? AND late = 0 AND first_us > ? ORDER BY first_us LIMIT ?`
	const insert = `INSERT INTO overview (series, first_us, until_us, data) VALUES (?, ?, ?, ?)`
	left, until, err := overviewed(ctx, tx, series)
	for ; err == nil && left >= inOverview; left -= inOverview {
		var data []byte
		var first int64
		if data, first, until, err = gather(ctx, tx, next, series, until, inOverview); err == nil {
			_, err = tx.ExecContext(ctx, insert, series, first, until, appendSum(data))
		}
	}
	return left, err
}

// gather encodes the summaries that a query gives, and says where the first and the
// last of their blocks begin.
func gather(ctx context.Context, tx *sql.Tx, query string, args ...any) (data []byte, first, until int64, err error) {
	rows, err := tx.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, 0, 0, err
	}
	defer rows.Close()
	for rows.Next() {
		s, err := scanSummary(rows)
		if err != nil {
			return nil, 0, 0, err
		}
		if data == nil {
			first = s.first
		}
		until = s.first
		data = appendSummary(data, &s)
	}
	return data, first, until, rows.Err()
}

// overviewAll fills the table overview, or makes it anew.
func overviewAll(ctx context.Context, tx *sql.Tx) error {
	if _, err := tx.ExecContext(ctx, `DELETE FROM overview`); err != nil {
		return err
	}
	ids, err := seriesIDs(ctx, tx)
	for _, id := range ids {
		if _, err := overview(ctx, tx, id); err != nil {
			return fmt.Errorf("overview of series %d: %w", id, err)
		}
	}
	return err
}

// seriesIDs lists the numbers of all series.
func seriesIDs(ctx context.Context, tx *sql.Tx) ([]int64, error) {
	rows, err := tx.QueryContext(ctx, `SELECT id FROM series ORDER BY id`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var ids []int64
	for rows.Next() {
		id, err := scanInt(rows)
		if err != nil {
			return nil, err
		}
		ids = append(ids, id)
	}
	return ids, rows.Err()
}
