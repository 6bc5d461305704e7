package book

import (
	"bytes"
	"context"
	"crypto/rand"
	"database/sql"
	"errors"
	"fmt"
)

// batch is what goes into the book in one commit.
type batch struct {
	// mark tells this batch from all others, so that a commit whose outcome was
	// unclear is not repeated if it went through after all.
	mark     []byte
	tried    bool
	readings []TaggedReading
	notes    []note
	losses   map[lossKey]*Loss
}

// note is an event, excursion or gap on its way into the book.
type note struct {
	about string
	write func(context.Context, *sql.Tx) error
}

// lossKey gathers the losses of one commit.
type lossKey struct {
	tag   Tag
	cause string
}

func (b *batch) empty() bool { return len(b.readings) == 0 && len(b.notes) == 0 && len(b.losses) == 0 }

// lose adds one reading to what was lost.
func (b *batch) lose(r TaggedReading, cause string) {
	if b.losses == nil {
		b.losses = make(map[lossKey]*Loss)
	}
	key := lossKey{r.Tag, cause}
	l, ok := b.losses[key]
	if !ok {
		l = &Loss{Tag: r.Tag, From: r.At, To: r.At, Cause: cause}
		b.losses[key] = l
	}
	if r.At.Before(l.From) {
		l.From = r.At
	}
	if r.At.After(l.To) {
		l.To = r.At
	}
	l.Count++
}

// outcome is what became of a batch that was committed.
type outcome struct {
	backwards int
	// refused are the entries that the book cannot keep whatever the disk does.
	refused []error
	// lost are the readings among them.
	lost []TaggedReading
}

// store writes a batch in one transaction.
func (b *Book) store(ctx context.Context, bt *batch, tails map[Tag]*seriesTail) (outcome, error) {
	var out outcome
	if bt.mark == nil {
		bt.mark = make([]byte, 16)
		_, _ = rand.Read(bt.mark) // never fails, by its contract
	}
	doing := fmt.Sprintf("commit %d readings and %d notes", len(bt.readings), len(bt.notes))
	err := b.write(ctx, doing, func(tx *sql.Tx) error {
		if bt.tried {
			in, err := alreadyIn(ctx, tx, bt.mark)
			if in || err != nil {
				return err
			}
		}
		return bt.writeTo(ctx, tx, tails, &out)
	})
	bt.tried = true
	return out, err
}

func alreadyIn(ctx context.Context, tx *sql.Tx, mark []byte) (bool, error) {
	var last []byte
	err := tx.QueryRowContext(ctx, `SELECT batch FROM last_batch`).Scan(&last)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return bytes.Equal(last, mark), err
}

func (b *batch) writeTo(ctx context.Context, tx *sql.Tx, tails map[Tag]*seriesTail, out *outcome) error {
	// The transaction obeys ctx as a whole; watching it for every row costs a
	// goroutine each.
	ctx = context.WithoutCancel(ctx)
	inserter, err := newReadingInserter(ctx, tx, tails)
	if err != nil {
		return err
	}
	for i := range b.readings {
		if err := inserter.add(ctx, b.readings[i]); err != nil {
			if !hopeless(err) {
				return err
			}
			out.refused = append(out.refused, fmt.Errorf("reading of %v: %w", b.readings[i].Tag, err))
			out.lost = append(out.lost, b.readings[i])
		}
	}
	out.backwards = inserter.backwards
	for _, n := range b.notes {
		if err := n.write(ctx, tx); err != nil {
			if !hopeless(err) {
				return err
			}
			out.refused = append(out.refused, fmt.Errorf("%s: %w", n.about, err))
		}
	}
	for _, l := range b.losses {
		tail, err := inserter.tail(ctx, l.Tag)
		if err != nil {
			return err
		}
		if err := writeLoss(ctx, tx, tail.id, *l); err != nil {
			return err
		}
	}
	_, err = tx.ExecContext(ctx, `INSERT OR REPLACE INTO last_batch (id, batch) VALUES (1, ?)`, b.mark)
	return err
}

// hopeless tells whether an entry can never be written, so that it must not keep
// the others waiting.
func hopeless(err error) bool {
	if errors.Is(err, ErrInvalid) {
		return true
	}
	_, kind := kindOf(err)
	return errors.Is(kind, ErrInvalid)
}
