package book

import (
	"context"
	"database/sql"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
)

//go:embed schema/*.sql
var schema embed.FS

// applicationID marks an SQLite file as a book: "Soak" in ASCII.
const applicationID = 0x536f616b

// migration takes a book from the version before to the version after it.
type migration struct {
	version int
	sql     string
	// fill, if not nil, moves what was there into the new tables.
	fill func(context.Context, *sql.Tx) error
}

// fills are the migrations that need more than SQL, by version.
var fills = map[int]func(context.Context, *sql.Tx) error{2: rowsToBlocks, 3: chainWhatIsThere, 6: overviewAll}

// shipped returns the migrations of schema/, the first of which makes version 1.
func shipped() []migration {
	names, err := fs.Glob(schema, "schema/*.sql")
	if err != nil {
		panic(err) // the pattern is a constant
	}
	steps := make([]migration, 0, len(names))
	for _, name := range names {
		text, err := schema.ReadFile(name)
		if err != nil {
			panic(fmt.Sprintf("embedded %s: %v", path.Base(name), err))
		}
		version := len(steps) + 1
		steps = append(steps, migration{version: version, sql: string(text), fill: fills[version]})
	}
	return steps
}

// form reads what kind of file an open database is.
func form(ctx context.Context, db *sql.DB) (application, version, tables int, err error) {
	const query = `SELECT (SELECT application_id FROM pragma_application_id),
		(SELECT user_version FROM pragma_user_version), (SELECT count(*) FROM sqlite_schema)`
	err = db.QueryRowContext(ctx, query).Scan(&application, &version, &tables)
	return application, version, tables, err
}

// checkForm refuses what is no book of exactly the newest version.
func (b *Book) checkForm(ctx context.Context, db *sql.DB, steps []migration) error {
	version, err := b.version(ctx, db, steps)
	if err != nil {
		return err
	}
	if version < len(steps) {
		return &Error{
			Path: b.path, Doing: "open", Kind: ErrOlder,
			Detail: fmt.Sprintf("it has form %d, this program reads form %d", version, len(steps)),
			Hint:   "open it once for writing",
		}
	}
	return nil
}

// version returns the version of a book, 0 for a file that was never filled, and
// refuses files of others and books of a newer program.
func (b *Book) version(ctx context.Context, db *sql.DB, steps []migration) (int, error) {
	application, version, tables, err := form(ctx, db)
	switch {
	case err != nil:
		return 0, b.explain(err)
	case application == 0 && version == 0 && tables == 0:
		return 0, nil
	case application != applicationID:
		return 0, &Error{Path: b.path, Doing: "open", Kind: ErrNotBook, Detail: "it is an SQLite file of another program"}
	case version > len(steps):
		return 0, b.newer(ctx, db, version, len(steps))
	}
	return version, nil
}

// explain adds to a database's complaint what the file's size tells.
func (b *Book) explain(err error) error {
	hint, kind := kindOf(err)
	e := &Error{Path: b.path, Doing: "open", Kind: kind, Hint: hint, Err: err}
	if kind == ErrDamaged {
		e.Detail = fmt.Sprintf("the file of %d bytes is cut short or overwritten", fileSize(b.path))
	}
	return e
}

func (b *Book) newer(ctx context.Context, db *sql.DB, have, know int) error {
	program := "the program that wrote it"
	var text string
	if err := db.QueryRowContext(ctx, `SELECT value FROM about WHERE key = 'program'`).Scan(&text); err == nil && text != "" {
		program = text
	}
	return &Error{
		Path: b.path, Doing: "open", Kind: ErrNewer,
		Detail: fmt.Sprintf("it has form %d, this program knows forms up to %d", have, know),
		Hint:   "use " + program + " or later",
	}
}

// migrate brings an empty or older book to the newest version, one transaction
// per step; a book with something in it is copied first.
func (b *Book) migrate(ctx context.Context, steps []migration) error {
	version, err := b.version(ctx, b.writing, steps)
	if err != nil {
		return err
	}
	if _, err := b.writing.ExecContext(ctx, `PRAGMA journal_mode = WAL`); err != nil {
		return b.fail("open", err)
	}
	kept := ""
	if version > 0 && version < len(steps) {
		if kept, err = b.keepCopy(ctx, version); err != nil {
			return err
		}
	}
	for _, step := range steps[version:] {
		err := b.write(ctx, fmt.Sprintf("migrate to form %d", step.version), b.step(ctx, step))
		if err != nil && kept != "" {
			return errors.Join(err, os.Remove(kept)) // nothing has changed: no need for a copy at every try
		}
		if err != nil {
			return err
		}
		kept = ""
	}
	return nil
}

func (b *Book) step(ctx context.Context, step migration) func(*sql.Tx) error {
	return func(tx *sql.Tx) error {
		const about = `INSERT INTO about (key, value) VALUES ('program', ?)
			ON CONFLICT (key) DO UPDATE SET value = excluded.value`
		numbers := fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, step.version)
		if _, err := tx.ExecContext(ctx, step.sql); err != nil {
			return err
		}
		if step.fill != nil {
			if err := step.fill(ctx, tx); err != nil {
				return err
			}
		}
		if _, err := tx.ExecContext(ctx, about, b.options.Program); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, numbers)
		return err
	}
}

// keepCopy writes the book as it is beside it, before a migration, and returns the
// copy's name.
func (b *Book) keepCopy(ctx context.Context, version int) (string, error) {
	name := fmt.Sprintf("%s.form-%d-%s", b.path, version, b.options.Now().UTC().Format("20060102T150405Z"))
	doing := "copy to " + name + " before migrating"
	file, err := os.OpenFile(name, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600) // #nosec G304 -- beside the book
	if err != nil {
		return "", b.fail(doing, err)
	}
	if err := file.Close(); err != nil {
		return "", b.fail(doing, err)
	}
	if _, err := b.writing.ExecContext(ctx, `VACUUM INTO ?`, name); err != nil {
		return "", b.fail(doing, errors.Join(err, os.Remove(name)))
	}
	return name, nil
}
