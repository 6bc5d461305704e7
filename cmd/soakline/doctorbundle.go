package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"time"

	"soakline/device/port"
	"soakline/logger/book"
)

const (
	// bundledDays is how far back events and journal go.
	bundledDays = 7
	// journalPatience is how long the journal may take to answer.
	journalPatience = 20 * time.Second
	// journalLines bounds what is taken of it, the latest.
	journalLines = "20000"
)

// part is one file of a bundle.
type part struct {
	name string
	text []byte
}

// writeBundle writes everything that somebody who helps needs to see into one file,
// without secrets. The file is the owner's alone until he passes it on.
func (d *doctor) writeBundle(ctx context.Context, name string) (err error) {
	parts := d.parts(ctx)
	hide := newRedactor(d.bench)
	file, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("write the bundle: %w", err)
	}
	defer func() { err = errors.Join(err, file.Close()) }()
	archive := zip.NewWriter(file)
	for _, one := range parts {
		w, err := archive.CreateHeader(&zip.FileHeader{Name: one.name, Method: zip.Deflate, Modified: time.Now()})
		if err != nil {
			return fmt.Errorf("write the bundle: %w", err)
		}
		if _, err := w.Write(hide.redact(one.text)); err != nil {
			return fmt.Errorf("write the bundle: %w", err)
		}
	}
	return archive.Close()
}

// parts gathers the files; what cannot be had is said in its place.
func (d *doctor) parts(ctx context.Context) []part {
	var findings, asJSON bytes.Buffer
	d.print(&findings)
	parts := []part{{"findings.txt", findings.Bytes()}, {"system.txt", systemText(ctx)}}
	if err := printJSON(&asJSON, d.found); err == nil {
		parts = append(parts, part{"findings.json", asJSON.Bytes()})
	}
	files := d.bench.Files
	if len(files) == 0 {
		files = []string{d.path}
	}
	for i, path := range files {
		text, err := os.ReadFile(path)
		if err != nil {
			text = fmt.Appendf(nil, "%s: %v\n", path, err)
		}
		parts = append(parts, part{fmt.Sprintf("configuration/%02d-%s", i, filepath.Base(path)), text})
	}
	return append(parts, part{"events.csv", orSay(d.events(ctx))}, part{"journal.txt", orSay(journal(ctx))})
}

// orSay is a text, with why it ends early.
func orSay(text []byte, err error) []byte {
	if err != nil {
		text = fmt.Appendf(text, "%v\n", err)
	}
	return text
}

// systemText says what the program runs on.
func systemText(ctx context.Context) []byte {
	var text bytes.Buffer
	fmt.Fprintf(&text, "%s, %s, %s/%s, %d cores, %s\n", program(), runtime.Version(), runtime.GOOS, runtime.GOARCH,
		runtime.NumCPU(), time.Now().Format(time.RFC3339))
	if groups, err := os.Getgroups(); err == nil {
		fmt.Fprintf(&text, "user %d, groups %v\n", os.Getuid(), groups)
	}
	ports, err := port.List(ctx)
	if err == nil {
		err = printPorts(&text, ports)
	}
	return orSay(text.Bytes(), err)
}

// events are those of the last days, from the book.
func (d *doctor) events(ctx context.Context) ([]byte, error) {
	if d.bench.Book == "" {
		return nil, errors.New("no book is named")
	}
	var text bytes.Buffer
	err := withBook(ctx, d.bench.Book, book.Options{ReadOnly: true, Program: program()}, func(ctx context.Context, b *book.Book) error {
		events, err := b.Events(ctx, "", time.Now().AddDate(0, 0, -bundledDays), time.Time{})
		if err != nil {
			return err
		}
		return writeEvents(&text, events)
	})
	return text.Bytes(), err
}

func writeEvents(w io.Writer, events []book.Event) error {
	table := csv.NewWriter(w)
	rows := [][]string{{"at", "bench", "instrument", "kind", "text"}}
	for _, e := range events {
		rows = append(rows, []string{e.At.UTC().Format(time.RFC3339Nano), e.Bench, e.Instrument, string(e.Kind), e.Text})
	}
	return table.WriteAll(rows)
}

// journal is what the system's journal has of the service, where there is one.
func journal(ctx context.Context) ([]byte, error) {
	path, err := exec.LookPath("journalctl")
	if err != nil {
		return nil, errors.New("this system keeps no journal; add the output of soakline serve by hand")
	}
	ctx, cancel := context.WithTimeout(ctx, journalPatience)
	defer cancel()
	cmd := exec.CommandContext(ctx, path, "--unit=soakline", "--since=-"+fmt.Sprint(bundledDays)+"days",
		"--lines="+journalLines, "--no-pager", "--output=short-iso")
	text, err := cmd.CombinedOutput()
	if err != nil {
		return text, fmt.Errorf("ask the journal: %w", err)
	}
	return text, nil
}
