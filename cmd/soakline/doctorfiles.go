package main

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"time"

	"soakline/config"
	"soakline/logger/book"
)

// lookAtConfiguration tells every mistake with its place.
func (d *doctor) lookAtConfiguration(loading error) {
	const about = "configuration"
	mistakes := config.Mistakes(loading)
	for _, mistake := range mistakes {
		d.add(about, wrong, "mend it; soakline check "+d.path+" looks again", "%v", mistake)
	}
	if loading != nil && len(mistakes) == 0 {
		d.add(about, wrong, "name the bench's file with --bench or SOAKLINE_BENCH, and see that this user can read it", "%v", loading)
	}
	if loading != nil {
		d.misconfigured = true
		return
	}
	d.add(about, inOrder, "", "%s: bench %s, %d instruments, %d places, %d test sheets",
		d.path, d.bench.Bench, len(d.bench.Instruments), len(d.bench.Places), len(d.bench.Sheets))
}

// lookAtSecrets looks whether others on this machine can read what holds a secret,
// and what is in the book. Windows keeps its rights elsewhere.
func (d *doctor) lookAtSecrets() {
	if runtime.GOOS == "windows" {
		return
	}
	open := openToAll(secretFiles(d.bench, d.path))
	for _, path := range open {
		d.add("secrets", mind, "chmod o-rwx "+path, "everybody on this machine can read %s", path)
	}
	if len(open) == 0 {
		d.add("secrets", inOrder, "", "nobody but owner and group can read configuration and book")
	}
}

// openToAll are those of some files that everybody on this machine can read or write.
func openToAll(files []string) []string {
	var open []string
	for _, path := range files {
		if info, err := os.Stat(path); err == nil && info.Mode().Perm()&0o007 != 0 && runtime.GOOS != "windows" {
			open = append(open, path)
		}
	}
	return open
}

// secretFiles are the files that others have no business in.
func secretFiles(bench config.Bench, path string) []string {
	files := append([]string{path}, bench.SecretFiles...)
	if bench.Book != "" {
		files = append(files, bench.Book, bench.Book+"-wal", noticePath(bench.Book))
	}
	return files
}

// roomToMind and roomTooLittle are how much room a disk should have for the book: a
// day of 16 test points at 10 readings/s takes some 30 MB.
const (
	roomToMind    = 1 << 30
	roomTooLittle = 100 << 20
)

// lookAtDisk looks whether the book's folder is there, can be written and has room.
func (d *doctor) lookAtDisk() {
	const about = "disk"
	folder := filepath.Dir(d.bench.Book)
	if err := canWrite(folder); err != nil {
		advice := "make the folder, or name another in bench.yaml (book:)"
		if errors.Is(err, fs.ErrPermission) {
			advice = "give the user that runs the bench the right to write there, or name another folder in bench.yaml (book:)"
		}
		d.add(about, wrong, advice, "the book's folder: %v", err)
		return
	}
	room, err := freeBytes(folder)
	switch {
	case errors.Is(err, errors.ErrUnsupported):
		d.add(about, inOrder, "", "%s can be written; how much room there is cannot be told on this system", folder)
	case err != nil:
		d.add(about, mind, "look with df "+folder+" before a long soak", "how much room %s has: %v", folder, err)
	case room < roomTooLittle:
		d.add(about, wrong, "make room: readings wait in memory when the disk is full, and are lost after some minutes", "%s has %s left", folder, bytesInWords(room))
	case room < roomToMind:
		d.add(about, mind, "make room before a long soak: 16 test points at 10 readings/s take some 30 MB a day", "%s has %s left", folder, bytesInWords(room))
	default:
		d.add(about, inOrder, "", "%s has %s left", folder, bytesInWords(room))
	}
}

// canWrite tries a file of its own: rights alone do not show a read-only disk.
func canWrite(folder string) error {
	file, err := os.CreateTemp(folder, ".soakline-doctor-")
	if err != nil {
		return err
	}
	return errors.Join(file.Close(), os.Remove(file.Name()))
}

// lookAtBook looks into the book and returns the time of its newest reading.
func (d *doctor) lookAtBook(ctx context.Context) time.Time {
	const about = "book"
	b, err := book.Open(ctx, d.bench.Book, book.Options{ReadOnly: true, Program: program()})
	switch {
	case errors.Is(err, book.ErrAbsent):
		d.add(about, inOrder, "", "%s is not there yet; the first start makes it", d.bench.Book)
		return time.Time{}
	case errors.Is(err, book.ErrOlder):
		d.add(about, mind, "", "%v; the next start brings it up to date and keeps a copy", err)
		return time.Time{}
	case err != nil:
		d.add(about, wrong, adviceOnBook(err, d.bench.Book), "%v", err)
		return time.Time{}
	}
	defer b.Close() // nothing was written
	info, err := b.Info(ctx)
	if err != nil {
		d.add(about, wrong, adviceOnBook(err, d.bench.Book), "%v", err)
		return time.Time{}
	}
	if !d.quick {
		problems, err := b.Check(ctx, nil)
		if err != nil || len(problems) > 0 {
			d.add(about, wrong, adviceOnBook(book.ErrDamaged, d.bench.Book), "%d things are wrong with it%s", len(problems), firstProblem(problems, err))
			return info.Last
		}
	}
	d.add(about, inOrder, "", "%s: %d readings, %d units, %d soaks, %s%s", d.bench.Book, info.Readings, info.Units, info.Soaks,
		bytesInWords(info.FileBytes), map[bool]string{true: "; not read through", false: "; read through, nothing is wrong with it"}[d.quick])
	if info.LostReadings > 0 {
		d.add(about, mind, "soakline soak show says of which soak; its evidence is without them", "%d readings were lost in its time", info.LostReadings)
	}
	return info.Last
}

func firstProblem(problems []book.Problem, err error) string {
	if err != nil {
		return ": " + err.Error()
	}
	return ", the first: " + problems[0].String()
}

// adviceOnBook says what to do about a book that does not open.
func adviceOnBook(err error, path string) string {
	switch {
	case errors.Is(err, book.ErrDamaged):
		return "soakline book check --book " + path + " --save-to NEW keeps what can be read; or go back to a copy"
	case errors.Is(err, book.ErrDenied):
		return "give the user that runs the bench the right to read and write it (it belongs to whoever started the bench first)"
	case errors.Is(err, book.ErrNewer):
		return "install the version that wrote it, or a later one"
	case errors.Is(err, book.ErrNotBook), errors.Is(err, book.ErrFolder):
		return "name another file in bench.yaml (book:)"
	case errors.Is(err, book.ErrBusy), errors.Is(err, book.ErrHeld):
		return "let the program that has it end, or ask again in a minute"
	}
	return "look at the disk and the system's log (dmesg), and keep a copy of the book before anything else"
}
