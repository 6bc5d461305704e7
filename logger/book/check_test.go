package book

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// fullBook is a book with all kinds of entries, blocks and a tail among them.
func fullBook(t *testing.T) *Book {
	t.Helper()
	b, id := judgedSoak(t)
	must(t, b.PutEvent(t.Context(), Event{Bench: "quay"}))
	_, err := b.AddCapture(t.Context(), KeptCapture{Soak: id, TestPoint: "composite", Kind: CaptureBegin}, scopeRecord(500))
	must(t, err)
	round, err := b.BeginRound(t.Context(), aRound("as received"))
	must(t, err)
	r := digits(t, rail, 0, "5.0121")
	must(t, b.AddRoundReadings(t.Context(), round, RoundReading{TestPoint: "rail-5v", Reading: r.Reading}))
	write(t, b, newWorkload(7).read(30000)...)
	return b
}

func checked(t *testing.T, b *Book) []Problem {
	t.Helper()
	problems, err := b.Check(t.Context(), nil)
	must(t, err)
	return problems
}

// exported is all that an export gives.
func exported(t *testing.T, b *Book) string {
	t.Helper()
	var text bytes.Buffer
	_, err := b.ExportCSV(t.Context(), &text, Filter{})
	must(t, err)
	_, err = b.ExportLines(t.Context(), &text, Filter{})
	must(t, err)
	return text.String()
}

// TestCheckNamesWhatIsWrong damages one thing at a time. What can be mended is
// right after a repair, byte by byte of the export; what cannot is named, and the
// rest is there.
func TestCheckNamesWhatIsWrong(t *testing.T) {
	const flip = `UPDATE block_data SET data = CAST(substr(data, 1, 700) || x'0102' || substr(data, 703) AS BLOB) WHERE id = 3`
	const mendable, lost, kept = "mendable", "lost", "kept as it is"
	for _, test := range []struct{ name, damage, want, then string }{
		{"nothing", `SELECT 1`, "", mendable},
		{"a bit of a block", flip, "block 3 of tp-c dc-voltage of B8-0147: its checksum does not fit; its ", lost},
		{"a block is gone", `DELETE FROM block_data WHERE id = 2`, "block 2 is missing", lost},
		{"the row of a block is gone", `DELETE FROM block WHERE id = 2`, "block 2: no row of the table of blocks tells of it", mendable},
		{"two rows for a block", `INSERT INTO block SELECT series, first_us + 1, id, last_us, count, low, high, sum, late FROM block WHERE id = 2`, "more than one row", mendable},
		{"a count", `UPDATE block SET count = count + 1 WHERE id = 2`, "its summary says", mendable},
		{"a sum", `UPDATE block SET sum = sum + 1 WHERE id = 2`, "its summary says", mendable},
		{"a time", `UPDATE block SET last_us = last_us - 1 WHERE id = 2`, "its summary says", mendable},
		{"another series", `UPDATE block SET series = 5 WHERE id = 2`, "it is of series 3", mendable},
		{"a tail row", `UPDATE tail SET data = x'28b52ffd' WHERE id = (SELECT max(id) FROM tail)`, "its readings are lost", lost},
		{"a capture", `UPDATE capture SET record = x'28b52ffd'`, "capture 1: ", kept},
		{"a sheet", `UPDATE sheet SET text = x'00'`, "its text has the hash", kept},
		{"a verdict", `UPDATE verdict SET whole = x'00'`, "verdict 1 on soak 1: ", kept},
		{"a unit", `PRAGMA foreign_keys = 0; DELETE FROM unit`, "refers to a unit that is not there", lost},
	} {
		t.Run(test.name, func(t *testing.T) {
			b := fullBook(t)
			before := exported(t, b)
			_, err := b.writing.ExecContext(t.Context(), test.damage)
			must(t, err)
			problems := checked(t, b)
			if test.want == "" && len(problems) > 0 {
				t.Fatalf("a whole book: %v", problems)
			}
			if !strings.Contains(fmt.Sprint(problems), test.want) {
				t.Fatalf("problems %v, want %q", problems, test.want)
			}
			if test.then != kept {
				mended(t, b, before, test.then == mendable)
			}
		})
	}
}

// mended repairs a book and looks at what comes of it.
func mended(t *testing.T, b *Book, before string, whole bool) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "mended.book")
	saved, err := b.Repair(t.Context(), path, nil)
	must(t, err)
	again := openAt(t, path, Options{})
	after := exported(t, again)
	if whole && (after != before || len(saved.Problems) > 0) {
		t.Errorf("the repaired book differs: %v", saved.Problems)
	}
	if !whole && (len(saved.Problems) == 0 && after == before || len(after) < len(before)/2) {
		t.Errorf("%+v, %d of %d bytes", saved, len(after), len(before))
	}
	for _, p := range checked(t, again) {
		// What is lost stays known: the chain names the records that it had.
		if whole || !strings.HasPrefix(p.Place, "chain position") || p.Text != errNoRecord.Error() {
			t.Errorf("in the repaired book: %v", p)
		}
	}
}

// TestCheckOfOverwrittenPages: damage below the tables is named too, and what can
// be read is saved.
func TestCheckOfOverwrittenPages(t *testing.T) {
	path := filepath.Join(t.TempDir(), "bench.book")
	b, err := Open(t.Context(), path, Options{})
	must(t, err)
	write(t, b, newWorkload(5).read(200_000)...)
	must(t, b.Close())
	file, err := os.OpenFile(path, os.O_RDWR, 0)
	must(t, err)
	_, err = file.WriteAt(make([]byte, 20<<10), fileSize(path)/4096/2*4096)
	must(t, errors.Join(err, file.Close()))
	b = openAt(t, path, Options{})
	if problems := checked(t, b); len(problems) < 2 || !strings.HasPrefix(problems[0].String(), "file: ") {
		t.Fatalf("problems: %v", problems)
	}
	saved, err := b.Repair(t.Context(), path+".saved", nil)
	if err != nil || saved.Readings < 170_000 || saved.Readings >= 200_000 || len(saved.Problems) == 0 {
		t.Errorf("saved %d readings (%v): %v", saved.Readings, err, saved.Problems)
	}
	again := openAt(t, path+".saved", Options{})
	if n, err := again.Count(t.Context(), Filter{}); n != saved.Readings || err != nil {
		t.Errorf("%d readings in the new book (%v), want %d", n, err, saved.Readings)
	}
	if problems := checked(t, again); len(problems) > 0 {
		t.Errorf("the new book: %v", problems)
	}
	if _, err := b.Repair(t.Context(), path+".saved", nil); !errors.Is(err, ErrTaken) {
		t.Errorf("onto an existing file: %v", err)
	}
}

func TestCheckTellsHowFarItIs(t *testing.T) {
	b := fullBook(t)
	var last, total int64
	_, err := b.Check(t.Context(), func(done, of int64) {
		if done != last+1 || done > of {
			t.Errorf("%d of %d after %d", done, of, last)
		}
		last, total = done, of
	})
	if err != nil || last == 0 || last != total {
		t.Errorf("%d of %d (%v)", last, total, err)
	}
}
