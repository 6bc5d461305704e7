package main

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"

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

// bookPath is the path of the book; with --book no bench is needed.
func (f *benchFlags) bookPath(cmd *cobra.Command) (string, error) {
	if f.book != "" {
		return filepath.Abs(f.book)
	}
	bench, err := f.load(cmd)
	return bench.Book, err
}

// readBook opens the book for reading, beside whoever writes to it, and has work
// done on it.
func (f *benchFlags) readBook(cmd *cobra.Command, work func(context.Context, *book.Book) error) error {
	path, err := f.bookPath(cmd)
	if err != nil {
		return err
	}
	return withBook(cmd.Context(), path, book.Options{ReadOnly: true, Program: program()}, work)
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
