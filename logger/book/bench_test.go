package book

import (
	"context"
	"database/sql"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// day is how many readings the workload has in 24 hours.
const day = perSecond * 24 * 60 * 60

// rows is what the figures of this package are measured against: the same driver
// and settings, a row per reading in a clustered table.
type rows struct {
	db   *sql.DB
	path string
	ids  map[Tag]int64
	last map[int64]int64
}

func openRows(b *testing.B) *rows {
	b.Helper()
	path := filepath.Join(b.TempDir(), "rows.db")
	db, err := connect(path, "_txlock=immediate")
	must(b, err)
	db.SetMaxOpenConns(1)
	b.Cleanup(func() { _ = db.Close() })
	_, err = db.Exec(`PRAGMA journal_mode = WAL; CREATE TABLE reading (series INTEGER NOT NULL, at_us INTEGER NOT NULL,
		value REAL NOT NULL, u REAL NOT NULL, PRIMARY KEY (series, at_us)) STRICT, WITHOUT ROWID`)
	must(b, err)
	return &rows{db: db, path: path, ids: map[Tag]int64{}, last: map[int64]int64{}}
}

func (r *rows) store(b *testing.B, readings []TaggedReading) {
	b.Helper()
	tx, err := r.db.BeginTx(b.Context(), nil)
	must(b, err)
	insert, err := tx.Prepare(`INSERT INTO reading VALUES (?, ?, ?, ?)`)
	must(b, err)
	ctx := context.WithoutCancel(b.Context())
	for i := range readings {
		id, ok := r.ids[readings[i].Tag]
		if !ok {
			id = int64(len(r.ids) + 1)
			r.ids[readings[i].Tag] = id
		}
		at := max(readings[i].At.UnixMicro(), r.last[id]+1)
		r.last[id] = at
		_, err := insert.ExecContext(ctx, id, at, readings[i].Value, readings[i].StandardUncertainty)
		must(b, err)
	}
	must(b, tx.Commit())
}

// batchSize is how many readings a commit has at full speed.
const batchSize = 10000

// BenchmarkAppend commits batches of 10,000 readings, in this book and as rows.
func BenchmarkAppend(b *testing.B) {
	var perRow, perBlock time.Duration
	b.Run("rows", func(b *testing.B) {
		w, table := newWorkload(1), openRows(b)
		b.ResetTimer()
		for range b.N {
			b.StopTimer()
			readings := w.read(batchSize)
			b.StartTimer()
			table.store(b, readings)
		}
		perRow = b.Elapsed() / time.Duration(b.N)
		b.ReportMetric(float64(b.N)*batchSize/b.Elapsed().Seconds(), "readings/s")
		b.ReportMetric(float64(fileSize(table.path))/float64(b.N)/batchSize, "B/reading")
	})
	b.Run("book", func(b *testing.B) {
		w, book, j := newWorkload(1), openNew(b), newJournal()
		b.ResetTimer()
		for range b.N {
			b.StopTimer()
			readings := w.read(batchSize)
			b.StartTimer()
			_, err := book.store(b.Context(), &batch{readings: readings}, j)
			must(b, err)
		}
		perBlock = b.Elapsed() / time.Duration(b.N)
		b.ReportMetric(float64(b.N)*batchSize/b.Elapsed().Seconds(), "readings/s")
		b.ReportMetric(float64(perRow)/float64(perBlock), "times_rows")
	})
}

// fillWith writes n readings of the workload, their times to a step.
func fillWith(b testing.TB, book *Book, n int, step time.Duration) {
	b.Helper()
	w, j := newWorkload(1), newJournal()
	for n > 0 {
		readings := w.read(min(n, batchSize))
		for i := range readings {
			readings[i].At = readings[i].At.Truncate(step)
		}
		_, err := book.store(b.Context(), &batch{readings: readings}, j)
		must(b, err)
		n -= len(readings)
	}
}

// BenchmarkSize writes a day of the workload and tells the size of the file.
func BenchmarkSize(b *testing.B) {
	for _, step := range []time.Duration{time.Microsecond, time.Millisecond} {
		b.Run(step.String(), func(b *testing.B) {
			for range b.N {
				book := openNew(b)
				fillWith(b, book, day, step)
				_, err := book.writing.ExecContext(b.Context(), `PRAGMA wal_checkpoint(TRUNCATE)`)
				must(b, err)
				b.ReportMetric(float64(fileSize(book.path))/day, "B/reading")
			}
		})
	}
}

// kernelWritten is how many bytes the kernel has been given to write to disks by
// this process (proc(5), /proc/pid/io, write_bytes).
func kernelWritten(b *testing.B) int64 {
	b.Helper()
	text, err := os.ReadFile("/proc/self/io")
	if err != nil {
		b.Skip("the kernel counts no bytes here: ", err)
	}
	_, rest, _ := strings.Cut(string(text), "\nwrite_bytes: ")
	var n int64
	_, err = fmt.Sscan(rest, &n)
	must(b, err)
	return n
}

// BenchmarkLive commits what a bench reads within a commit interval, for an hour,
// and tells what the kernel was given to write for it.
func BenchmarkLive(b *testing.B) {
	for _, every := range []time.Duration{time.Second, 250 * time.Millisecond} {
		b.Run(every.String(), func(b *testing.B) {
			perCommit := int(perSecond * every / time.Second)
			book, w, j := openNew(b), newWorkload(1), newJournal()
			commits := int(time.Hour / every)
			b.ResetTimer()
			for range b.N {
				before := kernelWritten(b)
				for range commits {
					_, err := book.store(b.Context(), &batch{readings: w.read(perCommit)}, j)
					must(b, err)
				}
				b.ReportMetric(float64(kernelWritten(b)-before)/float64(commits*perCommit), "B_written/reading")
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N*commits)*1e3, "ms/commit")
		})
	}
}

// scanned is a book with 160,000 readings in 16 series.
func scanned(b *testing.B) *Book {
	b.Helper()
	book := openNew(b)
	fillWith(b, book, 160_000, time.Microsecond)
	return book
}

// BenchmarkScan streams readings in time order, as judging does.
func BenchmarkScan(b *testing.B) {
	book := scanned(b)
	n := 0
	for b.Loop() {
		for _, err := range book.Readings(b.Context(), Filter{}) {
			if err != nil {
				b.Fatal(err)
			}
			n++
		}
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkExportLines writes line protocol to nowhere.
func BenchmarkExportLines(b *testing.B) {
	book := scanned(b)
	n := 0
	for b.Loop() {
		count, err := book.ExportLines(b.Context(), io.Discard, Filter{})
		if err != nil {
			b.Fatal(err)
		}
		n += int(count.Readings)
	}
	b.ReportMetric(float64(n)/b.Elapsed().Seconds(), "readings/s")
}

// BenchmarkWriterAppend is what the bench waits for when it hands a reading over.
func BenchmarkWriterAppend(b *testing.B) {
	w := NewWriter(openNew(b), WriterOptions{})
	readings := newWorkload(3).read(1600)
	i := 0
	for b.Loop() {
		if err := w.Append(readings[i%len(readings)]); err != nil {
			b.Fatal(err)
		}
		if i++; i%len(readings) == 0 {
			w.held = nil // as if it were committed
			w.take()
		}
	}
}
