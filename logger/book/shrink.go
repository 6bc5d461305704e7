package book

import "context"

// Shrink writes the book anew without the room in it that is free, and returns how
// many bytes shorter the file is. Others read it and commit to it meanwhile: a commit
// waits until it is done, and what a Writer could not commit it holds. The disk needs
// room for the book twice more while it lasts.
//
// Giving back page by page (PRAGMA auto_vacuum) would not make commits wait, but has
// each of them write 9 % more: an SD card lives longer without it.
func (b *Book) Shrink(ctx context.Context) (int64, error) {
	const doing = "shrink"
	if b.writing == nil {
		return 0, &Error{Path: b.path, Doing: doing, Kind: ErrReadOnly}
	}
	before := fileSize(b.path)
	for _, statement := range []string{`PRAGMA auto_vacuum = NONE`, `VACUUM`, `PRAGMA wal_checkpoint(TRUNCATE)`} {
		if _, err := b.writing.ExecContext(ctx, statement); err != nil {
			return 0, b.fail(doing, err)
		}
	}
	return before - fileSize(b.path), nil
}
