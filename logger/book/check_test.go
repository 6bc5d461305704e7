package book

import (
	"bytes"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"soakline/checks"
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
	final, err := b.BeginFinal(t.Context(), Final{Bench: "quay", Place: "left", Unit: "B8-0147", Sheet: aRound("").Sheet, Round: round, Begin: begin})
	must(t, err)
	must(t, errors.Join(b.AddStepResult(t.Context(), final, everyResult()), b.EndFinal(t.Context(), final, begin.Add(time.Hour), ""),
		b.PutFinalVerdict(t.Context(), final, begin.Add(time.Hour), checks.FinalVerdict{Outcome: checks.Fail, Unit: "B8-0147"})))
	importOthers(t, b)
	write(t, b, newWorkload(7).read(30000)...)
	return b
}

// importOthers puts the excursions and verdict of another bench's soak into a book.
func importOthers(t *testing.T, b *Book) {
	t.Helper()
	other, id := judgedSoak(t)
	var text bytes.Buffer
	_, err := other.ExportLines(t.Context(), &text, Filter{Soak: id, Since: begin.Add(time.Hour)})
	must(t, err)
	lines := strings.ReplaceAll(text.String(), "bench=quay", "bench=pier")
	if count, err := b.ImportLines(t.Context(), strings.NewReader(lines), nil); err != nil || count != (Imported{Others: 3}) {
		t.Fatalf("%+v (%v)", count, err)
	}
}

// TestRepairTakesEveryTable: a table is taken over as it is, or made anew, or is of
// shipping, which begins anew with a saved book.
func TestRepairTakesEveryTable(t *testing.T) {
	anew := []string{"about", "block", "block_data", "tail", "overview", "ship_target", "ship_place", "ship_refused"}
	names, err := collect(t.Context(), openNew(t), "list tables", `SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%'`, nil,
		func(rows *sql.Rows) (name string, err error) {
			err = rows.Scan(&name)
			return name, err
		})
	must(t, err)
	if len(names) != len(anew)+len(savedTables) {
		t.Errorf("%d tables in a book, %d in the lists", len(names), len(anew)+len(savedTables))
	}
	for _, name := range names {
		if !slices.Contains(savedTables, name) && !slices.Contains(anew, name) {
			t.Errorf("table %s is lost in a repair", name)
		}
	}
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
		{"a step of a final test", `UPDATE final_step SET whole = x'00'`, "step 1 of final test 1: from JSON", kept},
		{"a verdict on a final test", `UPDATE final_verdict SET whole = x'00'`, "verdict 1 on final test 1: from JSON", kept},
		{"a line of another book", `UPDATE other_line SET text = replace(text, 'bench', 'depth')`, "line of another book at 2026-03-14 10:26:53.589793 +0000 UTC: entry 1: tag", kept},
		{"the time of such a line", `UPDATE other_line SET at_ns = at_ns + 1`, "it is not what an import keeps", kept},
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
