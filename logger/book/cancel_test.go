package book

import (
	"context"
	"errors"
	"io"
	"math/rand/v2"
	"testing"
	"time"

	"go.uber.org/goleak"
)

// longQueries are all queries that can take long.
var longQueries = map[string]func(context.Context, *Book) error{
	"readings": func(ctx context.Context, b *Book) error {
		for _, err := range b.Readings(ctx, Filter{}) {
			if err != nil {
				return err
			}
		}
		return nil
	},
	"envelopes": func(ctx context.Context, b *Book) error { _, err := b.Envelopes(ctx, Filter{}, 5000); return err },
	"overviews": func(ctx context.Context, b *Book) error { _, err := b.Overviews(ctx, Filter{}, 500); return err },
	"charts":    func(ctx context.Context, b *Book) error { _, err := b.Charts(ctx, Filter{}, 500); return err },
	"gaps":      func(ctx context.Context, b *Book) error { _, err := b.FindGaps(ctx, Filter{}, time.Second); return err },
	"last":      func(ctx context.Context, b *Book) error { _, err := b.Last(ctx, Filter{}); return err },
	"count":     func(ctx context.Context, b *Book) error { _, err := b.Count(ctx, Filter{}); return err },
	"lines": func(ctx context.Context, b *Book) error {
		_, err := b.ExportLines(ctx, io.Discard, Filter{})
		return err
	},
	"csv": func(ctx context.Context, b *Book) error { _, err := b.ExportCSV(ctx, io.Discard, Filter{}); return err },
	"parquet": func(ctx context.Context, b *Book) error {
		_, err := b.ExportParquet(ctx, io.Discard, Filter{}, func(int64) {})
		return err
	},
	"check": func(ctx context.Context, b *Book) error { _, err := b.Check(ctx, nil); return err },
}

// TestQueriesStopWhenAsked: a query that is called off, before it begins or at any
// moment of it, says so; no goroutine and no connection stays behind, and the same
// query serves again afterwards.
func TestQueriesStopWhenAsked(t *testing.T) {
	b := openNew(t)
	write(t, b, newWorkload(1).read(16*6_000)...)
	seed := uint64(time.Now().UnixNano())
	t.Logf("seed %d", seed)
	random := rand.New(rand.NewPCG(seed, 0))
	for name, query := range longQueries {
		t.Run(name, func(t *testing.T) {
			must(t, query(t.Context(), b))
			defer goleak.VerifyNone(t, goleak.IgnoreCurrent())
			begun := time.Now()
			must(t, query(t.Context(), b))
			took := time.Since(begun)
			stopped := 0
			for try := range 5 {
				ctx, cancel := context.WithTimeout(t.Context(), time.Duration(random.Int64N(int64(took)+1)))
				if try == 0 {
					cancel()
				}
				err := query(ctx, b)
				if err != nil && !errors.Is(err, context.DeadlineExceeded) && !errors.Is(err, context.Canceled) {
					t.Errorf("called off after a part of %v: %v", took, err)
				}
				if err != nil {
					stopped++
				} else if try == 0 {
					t.Error("called off before it began, it goes through")
				}
				cancel()
			}
			allConnections(t, b)
			must(t, query(t.Context(), b))
			t.Logf("stopped %d of 5 times", stopped)
		})
	}
}

// allConnections waits until the reading connections are free, all at once.
func allConnections(t *testing.T, b *Book) {
	t.Helper()
	for range maxReaders {
		c, err := b.reading.Conn(t.Context())
		must(t, err)
		defer c.Close()
	}
}

// untilWriter calls a query off with the first that comes out of it.
type untilWriter struct {
	cancel context.CancelFunc
	after  int // bytes since
}

func (w *untilWriter) Write(text []byte) (int, error) {
	w.cancel()
	w.after += len(text)
	return len(text), nil
}

// TestStreamsStopSoon: what still comes after a stream was called off is what was in
// memory, of each series a block at most.
func TestStreamsStopSoon(t *testing.T) {
	b := openNew(t)
	write(t, b, newWorkload(1).read(16*12_000)...)
	const most = 16 * mostInBlock
	ctx, cancel := context.WithCancel(t.Context())
	defer cancel()
	n, failed := 0, error(nil)
	for _, err := range b.Readings(ctx, Filter{}) {
		cancel()
		n, failed = n+1, err
	}
	if n > most || !errors.Is(failed, context.Canceled) {
		t.Errorf("%d readings after it was called off, then %v", n, failed)
	}
	for name, export := range map[string]func(context.Context, io.Writer) error{
		"lines": func(ctx context.Context, w io.Writer) error { _, err := b.ExportLines(ctx, w, Filter{}); return err },
		"csv":   func(ctx context.Context, w io.Writer) error { _, err := b.ExportCSV(ctx, w, Filter{}); return err },
	} {
		ctx, cancel := context.WithCancel(t.Context())
		w := &untilWriter{cancel: cancel}
		if err := export(ctx, w); !errors.Is(err, context.Canceled) || w.after > most*200 {
			t.Errorf("%s: %d bytes after it was called off, then %v", name, w.after, err)
		}
		cancel()
	}
}
