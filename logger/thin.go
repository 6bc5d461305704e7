package logger

import (
	"context"
	"time"

	"soakline/logger/book"
)

// thinEvery is how often old soaks are looked for.
const thinEvery = 24 * time.Hour

// thinOld thins soaks that have become old, at once and then every day, if the bench
// wants that. What goes wrong with it is told and tried again the next day.
func (b *Bench) thinOld(ctx context.Context) error {
	if b.settings.ThinAfter <= 0 {
		return nil
	}
	again := time.NewTicker(thinEvery)
	defer again.Stop()
	for {
		done, err := b.options.Book.Thin(ctx, book.Thin{OlderThan: b.settings.ThinAfter})
		for _, t := range done {
			b.options.Log.Info("a soak was thinned", "soak", t.Soak, "readings", t.Readings)
		}
		if err != nil && ctx.Err() == nil {
			b.options.Log.Error("old soaks could not be thinned", "error", err)
		}
		select {
		case <-ctx.Done():
			return nil
		case <-again.C:
		}
	}
}
