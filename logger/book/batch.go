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
func (b *Book) store(ctx context.Context, bt *batch, j *journal) (outcome, error) {
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
		return bt.writeTo(ctx, tx, j, &out)
	})
	if err != nil {
		j.forget() // it holds what was not committed
	}
	bt.tried = true
	return out, err
}

func alreadyIn(ctx context.Context, tx *sql.Tx, mark []byte) (bool, error) {
	var last []byte
	err := tx.QueryRowContext(ctx, `SELECT batch FROM tail ORDER BY id DESC LIMIT 1`).Scan(&last)
	if errors.Is(err, sql.ErrNoRows) {
		return false, nil
	}
	return bytes.Equal(last, mark), err
}

func (b *batch) writeTo(ctx context.Context, tx *sql.Tx, j *journal, out *outcome) error {
	// The transaction obeys ctx as a whole; watching it for every row costs a
	// goroutine each.
	ctx = context.WithoutCancel(ctx)
	if err := j.load(ctx, tx); err != nil {
		return err
	}
	if err := b.addReadings(ctx, tx, j, out); err != nil {
		return err
	}
	for _, n := range b.notes {
		if err := n.write(ctx, tx); err != nil {
			if !hopeless(err) {
				return err
			}
			out.refused = append(out.refused, fmt.Errorf("%s: %w", n.about, err))
		}
	}
	for _, l := range b.losses {
		open, err := j.open(ctx, tx, &l.Tag)
		if err != nil {
			return err
		}
		if err := writeLoss(ctx, tx, open.id, *l); err != nil {
			return err
		}
	}
	return j.write(ctx, tx, b.mark)
}

// addReadings puts readings into the journal, those aside that cannot be kept.
func (b *batch) addReadings(ctx context.Context, tx *sql.Tx, j *journal, out *outcome) error {
	for i := range b.readings {
		r := &b.readings[i]
		f, err := toFigure(&r.Reading)
		if err != nil {
			out.refused = append(out.refused, fmt.Errorf("reading of %v: %w", r.Tag, err))
			out.lost = append(out.lost, *r)
			continue
		}
		open, err := j.open(ctx, tx, &r.Tag)
		if err != nil {
			return err
		}
		if open.add(f) {
			out.backwards++
		}
	}
	return nil
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
