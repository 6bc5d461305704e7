package book

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// earlier is a form of the book before the shipped ones, as migrations see it:
// the shipped ones come after it.
func earlier() (first []migration, then []migration) {
	first = []migration{{version: 1, sql: `
		CREATE TABLE about (key TEXT PRIMARY KEY, value TEXT NOT NULL) STRICT, WITHOUT ROWID;
		CREATE TABLE old_reading (at_us INTEGER, volts REAL) STRICT;
		INSERT INTO old_reading VALUES (1, 5.0), (2, 5.1)`}}
	then = append(then, first...)
	then = append(then, migration{version: 2, sql: `CREATE TABLE new_reading (at_us INTEGER PRIMARY KEY, volts REAL NOT NULL) STRICT;
		INSERT INTO new_reading SELECT at_us, volts FROM old_reading; DROP TABLE old_reading`})
	return first, then
}

func openForm(t *testing.T, path string, options Options, steps []migration) (*Book, error) {
	t.Helper()
	if options.Program == "" {
		options.Program = "soakline of then"
	}
	options.Now = func() time.Time { return begin }
	return open(t.Context(), path, options, steps)
}

func makeForm(t *testing.T, path string, program string, steps []migration) {
	t.Helper()
	b, err := openForm(t, path, Options{Program: program}, steps)
	must(t, err)
	must(t, b.Close())
}

func countRows(t *testing.T, db *sql.DB, table string) (n int) {
	t.Helper()
	must(t, db.QueryRowContext(t.Context(), `SELECT count(*) FROM `+table).Scan(&n))
	return n
}

// TestMigrationKeepsACopy: what was in it is in the new form, and the book as it
// was lies beside it.
func TestMigrationKeepsACopy(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	first, then := earlier()
	makeForm(t, path, "soakline of then", first)
	b, err := openForm(t, path, Options{Program: "soakline of now"}, then)
	must(t, err)
	if n := countRows(t, b.reading, "new_reading"); n != 2 {
		t.Errorf("%d readings after the migration, want 2", n)
	}
	must(t, b.Close())
	copies, err := filepath.Glob(path + ".form-1-*Z")
	if err != nil || len(copies) != 1 {
		t.Fatalf("copies: %v (%v)", copies, err)
	}
	info, err := os.Stat(copies[0])
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the copy has mode %v (%v)", info.Mode(), err)
	}
	kept, err := openForm(t, copies[0], Options{}, first)
	must(t, err)
	if n := countRows(t, kept.reading, "old_reading"); n != 2 {
		t.Errorf("%d readings in the copy, want 2", n)
	}
	must(t, kept.Close())
	makeForm(t, path, "soakline of now", then) // opening again migrates nothing and copies nothing
	if copies, _ := filepath.Glob(path + ".form-*Z"); len(copies) != 1 {
		t.Errorf("copies after opening again: %v", copies)
	}
}

// TestFailedMigrationChangesNothing: the step that fails is taken back as a whole.
func TestFailedMigrationChangesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	first, then := earlier()
	makeForm(t, path, "", first)
	broken := append(then[:1:1], migration{version: 2, sql: `DROP TABLE old_reading; CREATE TABLE nonsense`})
	if b, err := openForm(t, path, Options{}, broken); b != nil || err == nil || !strings.Contains(err.Error(), "migrate to form 2") {
		t.Fatalf("a broken migration: %v", err)
	}
	if copies, _ := filepath.Glob(path + ".form-*"); len(copies) != 0 {
		t.Errorf("a copy of what did not change is left: %v", copies)
	}
	b, err := openForm(t, path, Options{}, first)
	must(t, err)
	if n := countRows(t, b.reading, "old_reading"); n != 2 {
		t.Errorf("%d readings are left, want 2", n)
	}
	must(t, b.Close())
}

func TestNewerBookIsRefused(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	first, then := earlier()
	makeForm(t, path, "soakline 9.1.0", then)
	for _, readOnly := range []bool{false, true} {
		_, err := openForm(t, path, Options{ReadOnly: readOnly}, first)
		checkRefusal(t, err, ErrNewer, path, "it has form 2, this program knows forms up to 1; use soakline 9.1.0 or later")
	}
}

func TestOlderBookIsNotReadAsItIs(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	first, then := earlier()
	makeForm(t, path, "", first)
	_, err := openForm(t, path, Options{ReadOnly: true}, then)
	checkRefusal(t, err, ErrOlder, path, "it has form 1, this program reads form 2; open it once for writing")
	if copies, _ := filepath.Glob(path + ".form-*"); len(copies) != 0 {
		t.Errorf("reading made a copy: %v", copies)
	}
}

// TestShippedForms: the migrations are numbered without a gap and mark the file.
func TestShippedForms(t *testing.T) {
	names, err := schema.ReadDir("schema")
	must(t, err)
	for i, name := range names {
		if want := shipped()[i].version; name.Name() != fmt.Sprintf("%04d.sql", want) {
			t.Errorf("%s is applied as form %d", name.Name(), want)
		}
	}
	b := openNew(t)
	application, version, _, err := form(t.Context(), b.reading)
	if err != nil || application != applicationID || version != len(names) {
		t.Errorf("application %x, form %d (%v)", application, version, err)
	}
	var mode string
	must(t, b.writing.QueryRowContext(t.Context(), `PRAGMA journal_mode`).Scan(&mode))
	var level int
	must(t, b.writing.QueryRowContext(t.Context(), `PRAGMA synchronous`).Scan(&level))
	if mode != "wal" || level != 2 { // 2 is FULL
		t.Errorf("journal_mode %s, synchronous %d", mode, level)
	}
}

// TestHalfMadeBookIsFinished: a program that died between making the file and
// filling it leaves an empty file, which is a new book.
func TestHalfMadeBookIsFinished(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	must(t, create(path))
	b := openAt(t, path, Options{})
	write(t, b, digits(t, rail, 0, "5"))
	if n := len(readAll(t, b, Filter{})); n != 1 {
		t.Errorf("%d readings, want 1", n)
	}
}
