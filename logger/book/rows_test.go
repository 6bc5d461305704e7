package book

import (
	"bytes"
	"compress/gzip"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// unzipped reads a file of testdata.
func unzipped(t *testing.T, name string) []byte {
	t.Helper()
	file, err := os.Open(filepath.Join("testdata", name))
	must(t, err)
	defer file.Close()
	reader, err := gzip.NewReader(file)
	must(t, err)
	text, err := io.ReadAll(reader)
	must(t, err)
	return text
}

// formOne puts the golden book of form 1 into a folder.
func formOne(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.book")
	must(t, os.WriteFile(path, unzipped(t, "form-1.book.gz"), 0o600))
	return path
}

// TestRowsBecomeBlocks: a book of form 1 is migrated, and exports the same bytes
// as the program that wrote it did; the book as it was lies beside it.
func TestRowsBecomeBlocks(t *testing.T) {
	path := formOne(t)
	b := openAt(t, path, Options{Program: "soakline of now"})
	var lines, csv bytes.Buffer
	if _, err := b.ExportCSV(t.Context(), &csv, Filter{}); err != nil || !bytes.Equal(csv.Bytes(), unzipped(t, "form-1.csv.gz")) {
		t.Errorf("CSV differs (%v)", err)
	}
	if _, err := b.ExportLines(t.Context(), &lines, Filter{}); err != nil || !bytes.Equal(lines.Bytes(), unzipped(t, "form-1.lp.gz")) {
		t.Errorf("line protocol differs (%v)", err)
	}
	info, err := b.Info(t.Context())
	if err != nil || info.Version != len(shipped()) || info.Readings != 4011 || info.LostReadings != 1 || info.Soaks != 1 || info.Excursions != 1 {
		t.Errorf("%+v (%v)", info, err)
	}
	unit, err := b.Unit(t.Context(), "B8-0147")
	if err != nil || len(unit.Notes) != 1 {
		t.Errorf("%+v (%v)", unit, err)
	}
	copies, err := filepath.Glob(path + ".form-1-*Z")
	if err != nil || len(copies) != 1 {
		t.Fatalf("copies: %v (%v)", copies, err)
	}
	kept, err := openForm(t, copies[0], Options{ReadOnly: true}, shipped()[:1])
	must(t, err)
	defer kept.Close()
	if n := countRows(t, kept.reading, "reading"); n != 4011 {
		t.Errorf("%d readings in the copy, want 4011", n)
	}
	write(t, b, digits(t, rail, 0, "5.1")) // and it goes on
	if n, err := b.Count(t.Context(), Filter{}); n != 4012 || err != nil {
		t.Errorf("%d readings (%v)", n, err)
	}
}
