package book

import (
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
	"time"
)

// sourceBeside is where the program that is killed in the middle of an import finds
// the other book.
func sourceBeside(path string) string { return filepath.Join(filepath.Dir(path), "source.book") }

// importSource is that program.
func importSource(path string, _ int) error {
	ctx := context.Background()
	from, err := Open(ctx, sourceBeside(path), Options{ReadOnly: true, Program: "soakline test"})
	if err != nil {
		return err
	}
	into, err := Open(ctx, path, Options{Program: "soakline test"})
	if err != nil {
		return err
	}
	_, err = into.ImportBook(ctx, from, BookImport{}, nil)
	return err
}

// TestImportBookKilled: an import that is killed at random moments leaves a whole book
// each time, and begun again it gives the same as one that was not disturbed.
// BOOK_KILLS sets how often.
func TestImportBookKilled(t *testing.T) {
	from := drawBench(t, 4, "pier-end", 100)
	for i := range uint64(3) {
		write(t, from.book, newWorkload(i).read(50_000)...)
	}
	undisturbed := filepath.Join(t.TempDir(), "whole.book")
	path := filepath.Join(t.TempDir(), "bench.book")
	for _, beside := range []string{undisturbed, path} {
		_, err := from.book.Backup(t.Context(), sourceBeside(beside), nil)
		must(t, err)
	}
	started := time.Now()
	must(t, child(t, "import", undisturbed, 0).Run())
	took := time.Since(started)
	seed := uint64(started.UnixNano())
	t.Logf("seed %d; undisturbed it takes %v", seed, took)
	random := rand.New(rand.NewPCG(seed, 0))
	cut := 0
	for range many(t, "BOOK_KILLS", 8) {
		cmd := child(t, "import", path, 0)
		cmd.Stderr = nil
		must(t, cmd.Start())
		kill := time.AfterFunc(time.Duration(random.Int64N(int64(took))), func() { _ = cmd.Process.Kill() })
		if cmd.Wait() != nil {
			cut++
		}
		kill.Stop()
		if info, err := os.Stat(path); err != nil || info.Size() == 0 {
			continue // it was killed before it began
		}
		b := openAt(t, path, Options{})
		nothingWrong(t, b)
		must(t, b.Close())
	}
	if cut == 0 {
		t.Error("none was cut off")
	}
	must(t, child(t, "import", path, 0).Run())
	want, got := openAt(t, undisturbed, Options{}), openAt(t, path, Options{})
	for _, bench := range []string{"pier-end", "quay"} {
		if whole(t, got, bench) != whole(t, want, bench) {
			t.Errorf("%s came over otherwise than undisturbed", bench)
		}
	}
	nothingWrong(t, got)
}
