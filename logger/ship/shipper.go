package ship

import (
	"context"
	"log/slog"
	"sync"

	"soakline/logger/book"
)

// Shipper ships a book to its targets. Run starts it.
type Shipper struct {
	carriers []*carrier
}

// New returns a shipper from a book, which must be open for writing, to targets
// that are valid.
func New(b *book.Book, targets []Target, log *slog.Logger) *Shipper {
	s := &Shipper{}
	for _, t := range targets {
		s.carriers = append(s.carriers, newCarrier(b, t, log))
	}
	return s
}

// Run ships until the context ends. Then it looks once more for what is new, so end
// it after the book's last commit; what the engines do not take within a few seconds
// is for the next start. It never fails: trouble is in Status.
func (s *Shipper) Run(ctx context.Context) error {
	var carrying sync.WaitGroup
	for _, c := range s.carriers {
		carrying.Go(func() { c.run(ctx) })
	}
	carrying.Wait()
	return nil
}

// Status says how each target fares, in the order in which they were given.
func (s *Shipper) Status() []Status {
	all := make([]Status, len(s.carriers))
	for i, c := range s.carriers {
		all[i] = c.current()
	}
	return all
}
