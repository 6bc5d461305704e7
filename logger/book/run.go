package book

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"time"
)

// RunID numbers the runs of the daemon.
type RunID int64

// DaemonRun is one run of the daemon, from its start to its stop.
type DaemonRun struct {
	ID      RunID
	Bench   string
	Program string
	PID     int
	Begin   time.Time
	// End is zero while it runs, and for ever if it ended without saying so.
	End time.Time
}

// BeginRun notes that the daemon starts.
func (b *Book) BeginRun(ctx context.Context, bench string) (RunID, error) {
	const insert = `INSERT INTO daemon_run (bench, program, pid, begin_us) VALUES (?, ?, ?, ?)`
	var id int64
	err := b.write(ctx, "note the start", func(tx *sql.Tx) error {
		result, err := tx.ExecContext(ctx, insert, bench, b.options.Program, os.Getpid(), b.now().UnixMicro())
		if err == nil {
			id, err = result.LastInsertId()
		}
		return err
	})
	return RunID(id), err
}

// EndRun notes that the daemon stops as it should.
func (b *Book) EndRun(ctx context.Context, id RunID) error {
	const update = `UPDATE daemon_run SET end_us = ? WHERE id = ?`
	return b.write(ctx, fmt.Sprintf("note the stop of run %d", id), func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, update, b.now().UnixMicro(), int64(id))
		return err
	})
}

// Runs lists the runs of a bench's daemon (of all, if empty), oldest first. A run
// without an End that is followed by another was cut off.
func (b *Book) Runs(ctx context.Context, bench string) ([]DaemonRun, error) {
	const query = `SELECT id, bench, program, pid, begin_us, end_us FROM daemon_run WHERE ?1 = '' OR bench = ?1 ORDER BY id`
	return collect(ctx, b, "list runs", query, []any{bench}, func(rows *sql.Rows) (DaemonRun, error) {
		var r DaemonRun
		var begin int64
		var end sql.NullInt64
		err := rows.Scan(&r.ID, &r.Bench, &r.Program, &r.PID, &begin, &end)
		r.Begin, r.End = fromMicro(begin), fromNull(end)
		return r, err
	})
}
