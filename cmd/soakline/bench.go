package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"soakline/config"
	"soakline/logger/book"
)

// benchFlags are where a command finds its bench and book.
type benchFlags struct {
	bench, book string
}

// addTo gives a command the flags.
func (f *benchFlags) addTo(cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.bench, "bench", "", "the bench's file (default: SOAKLINE_BENCH, ./bench.yaml, the user's and the system's configuration)")
	cmd.Flags().StringVar(&f.book, "book", "", "the book's file (default: as the bench's file says)")
}

// load reads the bench's file; a mistake in it is wrong usage.
func (f *benchFlags) load(cmd *cobra.Command) (config.Bench, error) {
	path, err := config.FindBench(f.bench)
	if err != nil {
		return config.Bench{}, wrongUsage(err)
	}
	bench, err := config.Load(path, cmd.Flags())
	if err != nil {
		return config.Bench{}, wrongUsage(err)
	}
	return bench, nil
}

// loadAt is load for work at one of the bench's places; empty is any.
func (f *benchFlags) loadAt(cmd *cobra.Command, place string) (config.Bench, error) {
	bench, err := f.load(cmd)
	if err != nil || place == "" {
		return bench, err
	}
	var names []string
	for _, known := range bench.Settings.Places {
		names = append(names, known.Name)
	}
	if !slices.Contains(names, place) {
		err = wrongUsage(fmt.Errorf("--place: there is no place named %q (there are %s)", place, strings.Join(names, ", ")))
	}
	return bench, err
}

// bookPath is the path of the book; with --book no bench is needed.
func (f *benchFlags) bookPath(cmd *cobra.Command) (string, error) {
	if f.book != "" {
		return filepath.Abs(f.book)
	}
	bench, err := f.load(cmd)
	return bench.Book, err
}

// readBook opens the book for reading, beside whoever writes to it, and has work
// done on it. A book of an older program is brought up to date first.
func (f *benchFlags) readBook(cmd *cobra.Command, work func(context.Context, *book.Book) error) error {
	path, err := f.bookPath(cmd)
	if err != nil {
		return err
	}
	reading := book.Options{ReadOnly: true, Program: program()}
	err = withBook(cmd.Context(), path, reading, work)
	if !errors.Is(err, book.ErrOlder) {
		return err
	}
	if err := renew(cmd, path); err != nil {
		return err
	}
	return withBook(cmd.Context(), path, reading, work)
}

// renew brings a book of an older program up to date, which keeps a copy of it as it
// was.
func renew(cmd *cobra.Command, path string) error {
	err := withBook(cmd.Context(), path, book.Options{Program: program()}, func(context.Context, *book.Book) error { return nil })
	if err == nil {
		fmt.Fprintf(cmd.ErrOrStderr(), "book %s was an older program's: it is up to date now, a copy as it was lies beside it\n", path)
	}
	return err
}

// withBook opens a book, has work done on it and closes it.
func withBook(ctx context.Context, path string, options book.Options, work func(context.Context, *book.Book) error) (err error) {
	b, err := book.Open(ctx, path, options)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, b.Close()) }()
	return work(ctx, b)
}

// program names this program and its version, as the book keeps it.
func program() string { return fmt.Sprintf("soakline %s", version) }
