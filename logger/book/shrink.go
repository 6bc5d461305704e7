package book

import (
	"context"
	"fmt"
)

// shrinkStep is how many pages are given back in one transaction: whoever writes
// readings meanwhile waits no longer than for a commit.
const shrinkStep = 512

var giveBackStep = fmt.Sprintf("PRAGMA incremental_vacuum(%d)", shrinkStep)

// Shrink gives the pages of the file that are free back to the disk, also while
// another process writes to the book, and returns how many bytes shorter the file is.
// A book of an early version is rewritten once in one piece; commits wait that long,
// and what waits is held. Progress, if not nil, is told how many pages of how many
// are done.
func (b *Book) Shrink(ctx context.Context, progress func(done, total int64)) (int64, error) {
	const doing = "shrink"
	if b.writing == nil {
		return 0, &Error{Path: b.path, Doing: doing, Kind: ErrReadOnly}
	}
	before := fileSize(b.path)
	var automatic, total int64
	const query = `SELECT (SELECT auto_vacuum FROM pragma_auto_vacuum), (SELECT freelist_count FROM pragma_freelist_count)`
	if err := b.writing.QueryRowContext(ctx, query).Scan(&automatic, &total); err != nil {
		return 0, b.fail(doing, err)
	}
	const incremental = 2 // SQLite, PRAGMA auto_vacuum
	if automatic != incremental {
		if _, err := b.writing.ExecContext(ctx, `PRAGMA auto_vacuum = INCREMENTAL; VACUUM`); err != nil {
			return 0, b.fail(doing, err)
		}
	}
	if err := b.giveBack(ctx, total, progress); err != nil {
		return 0, b.fail(doing, err)
	}
	if _, err := b.writing.ExecContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		return 0, b.fail(doing, err)
	}
	return before - fileSize(b.path), nil
}

// giveBack gives free pages back step by step until there are none.
func (b *Book) giveBack(ctx context.Context, total int64, progress func(done, total int64)) error {
	for left := total; left > 0; {
		// Every row that the pragma gives is a page.
		if _, err := b.writing.ExecContext(ctx, giveBackStep); err != nil {
			return err
		}
		was := left
		if err := b.writing.QueryRowContext(ctx, `PRAGMA freelist_count`).Scan(&left); err != nil {
			return err
		}
		if progress != nil {
			progress(max(total-left, 0), total)
		}
		if left >= was { // others free as much meanwhile
			return nil
		}
	}
	return nil
}
