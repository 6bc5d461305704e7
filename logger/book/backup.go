package book

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
)

// Backup writes a copy of the book as it is at one moment to path, which must not
// exist, also while readings go in; it checks the copy and only then gives it its
// name. It returns the copy's size. Progress is that of Check.
func (b *Book) Backup(ctx context.Context, path string, progress func(done, total int64)) (int64, error) {
	doing := "back up to " + path
	if _, err := os.Lstat(path); err == nil {
		return 0, b.refuse(doing, ErrTaken, "%s", path)
	}
	unfinished := path + ".unfinished"
	if err := b.copyTo(ctx, unfinished); err != nil {
		return 0, b.fail(doing, errors.Join(err, removed(unfinished)))
	}
	size, err := b.checkCopy(ctx, unfinished, progress)
	if err != nil {
		return 0, b.fail(doing, errors.Join(err, removed(unfinished)))
	}
	return size, b.fail(doing, errors.Join(os.Rename(unfinished, path), syncFolder(filepath.Dir(path))))
}

// copyTo has the database write what is in use of it into another file.
func (b *Book) copyTo(ctx context.Context, path string) error {
	if err := removed(path); err != nil {
		return err
	}
	if err := create(path); err != nil {
		return err
	}
	source, err := connect(b.path, "mode=ro")
	if err != nil {
		return err
	}
	_, err = source.ExecContext(ctx, `VACUUM INTO ?`, path)
	return errors.Join(err, source.Close())
}

// checkCopy opens a copy, checks it, and forces it to the disk.
func (b *Book) checkCopy(ctx context.Context, path string, progress func(done, total int64)) (size int64, err error) {
	file, err := os.OpenFile(path, os.O_RDWR, 0) // #nosec G304 -- the user names it
	if err != nil {
		return 0, err
	}
	if err := errors.Join(file.Sync(), file.Close()); err != nil {
		return 0, err
	}
	options := b.options
	options.ReadOnly = true
	opened, err := Open(ctx, path, options)
	if err != nil {
		return 0, err
	}
	problems, err := opened.Check(ctx, progress)
	if err == nil && len(problems) > 0 {
		err = damage{fmt.Errorf("the copy has %d faults, the first: %v", len(problems), problems[0])}
	}
	return fileSize(path), errors.Join(err, opened.Close(), removed(path+"-wal"), removed(path+"-shm"))
}

// removed removes a file if it is there.
func removed(path string) error {
	if err := os.Remove(path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return nil
}

// Vacuum gives the room of the book that is not in use back to the disk. It may be
// called while a Writer runs, whose readings wait meanwhile, and while others read.
func (b *Book) Vacuum(ctx context.Context) error {
	const doing = "give room back"
	if b.writing == nil {
		return &Error{Path: b.path, Doing: doing, Kind: ErrReadOnly}
	}
	if _, err := b.writing.ExecContext(ctx, `VACUUM`); err != nil {
		return b.fail(doing, err)
	}
	if _, err := b.writing.ExecContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`); err != nil {
		return b.fail(doing, err)
	}
	return nil
}
