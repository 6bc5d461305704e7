package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// OtherBook is a book that was taken over, see ImportBook.
type OtherBook struct {
	Identity string
	// Benches are the names of its benches.
	Benches string
	// At is when it was taken over first.
	At time.Time
	// Links is how many links of its chain are here.
	Links int64

	number int64
}

// OtherBooks lists the books that were taken over, in the order in which they came.
func (b *Book) OtherBooks(ctx context.Context) ([]OtherBook, error) {
	const query = `SELECT id, identity, benches, at_us, (SELECT count(*) FROM other_link WHERE book = id) FROM other_book ORDER BY id`
	return collect(ctx, b, "list books that were imported", query, nil, func(rows *sql.Rows) (o OtherBook, err error) {
		var at int64
		err = rows.Scan(&o.number, &o.Identity, &o.Benches, &at, &o.Links)
		o.At = fromMicro(at)
		return o, err
	})
}

// String names it for a person.
func (o OtherBook) String() string { return "book of " + o.Benches }

const (
	selectOtherLink = `SELECT position, at_us, kind, record, origin, digest, hash FROM other_link WHERE book = ?`
	newestOtherLink = selectOtherLink + ` ORDER BY position DESC LIMIT 1`
)

// newestOther returns the newest link that is here of another book's chain; the zero
// link if there is none.
func (b *Book) newestOther(ctx context.Context, number int64) (ChainLink, error) {
	return otherLinkBy(ctx, b.reading, newestOtherLink, number)
}

func otherLinkBy(ctx context.Context, in asker, query string, args ...any) (ChainLink, error) {
	link, err := scanLink(in.QueryRowContext(ctx, query, args...).Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return ChainLink{}, nil
	}
	return link, err
}

// OtherChainAt returns the link at a position of the chain of a book that was taken
// over; ErrNotFound if that is not so long.
func (b *Book) OtherChainAt(ctx context.Context, other OtherBook, position int64) (ChainLink, error) {
	const doing = "read the chain of an imported book"
	link, err := otherLinkBy(ctx, b.reading, selectOtherLink+` AND position = ?`, other.number, position)
	if err == nil && link.Position == 0 {
		return link, b.refuse(doing, ErrNotFound, "position %d of the chain of the %v", position, other)
	}
	return link, b.fail(doing, err)
}

// otherChains verifies the chains of the books that were taken over.
func (c *checker) otherChains(ctx context.Context) error {
	all, err := c.book.OtherBooks(ctx)
	for _, other := range all {
		if err := c.otherChain(ctx, other); err != nil {
			return err
		}
	}
	return err
}

// otherChain verifies one of them from its first link to its last, and that its
// records, with the numbers that they had there, are what was chained.
func (c *checker) otherChain(ctx context.Context, other OtherBook) error {
	var before ChainLink
	for {
		page, err := collect(ctx, c.book, "check", selectOtherLink+` AND position > ? ORDER BY position LIMIT 256`,
			[]any{other.number, before.Position}, func(rows *sql.Rows) (ChainLink, error) { return scanLink(rows.Scan) })
		if err != nil || len(page) == 0 {
			return err
		}
		for _, link := range page {
			place := fmt.Sprintf("%v, %s", other, link.place())
			if err := c.fits(link, before, place); err != nil {
				return err
			}
			if err := c.otherRecord(ctx, other, link, place); err != nil {
				return err
			}
			before = link
		}
	}
}

// otherRecord compares a record with its latest link.
func (c *checker) otherRecord(ctx context.Context, other OtherBook, link ChainLink, place string) error {
	var newer bool
	err := c.book.queryOne(ctx, `SELECT EXISTS (SELECT 1 FROM other_link WHERE book = ? AND kind = ? AND record = ? AND position > ?)`,
		[]any{other.number, link.Kind, link.Record, link.Position}, []any{&newer})
	if err != nil || newer {
		return err
	}
	there := backward{book: other.number, link: link}
	digest, err := there.digest(ctx, c.book.reading)
	switch {
	case errors.Is(err, errNotYet):
	case err != nil:
		c.add(false, place, "%v", err)
	case digest != link.Digest:
		c.add(false, place, "the record was changed after it was chained there on %s", link.At.Format("2006-01-02 15:04:05Z"))
	}
	return nil
}

// errNotYet says that a soak had not ended there when its book was taken over.
var errNotYet = errors.New("it has not been taken over yet")

// backward tells what a record was in the book that it came from.
type backward struct {
	book int64
	link ChainLink
}

// digest is that of the record as it was there.
func (w backward) digest(ctx context.Context, in asker) (string, error) {
	key, err := keyValues(w.link.Record)
	if err != nil {
		return "", err
	}
	own, err := w.ownRecord(ctx, in, key)
	if err != nil {
		return "", err
	}
	columns, values, err := chainedRow(ctx, in, w.link.Kind, own)
	if err != nil {
		return "", err
	}
	for i, column := range columns {
		if values[i], err = w.value(ctx, in, column, values[i], key); err != nil {
			return "", fmt.Errorf("%s: %w", column, err)
		}
	}
	text, err := canonicalText(w.link.Kind, columns, values)
	return hashHex(text), err
}

// ownRecord is the record's key here.
func (w backward) ownRecord(ctx context.Context, in asker, key []any) (string, error) {
	const find = `SELECT own FROM other_record WHERE book = ? AND kind = ? AND number = ?`
	kind := w.link.Kind
	if kind == "excursion" {
		kind = kindSoak
	}
	if len(key) == 0 {
		return "", fmt.Errorf("key %q has no parts", w.link.Record)
	}
	var own int64
	err := in.QueryRowContext(ctx, find, w.book, kind, key[0]).Scan(&own)
	if errors.Is(err, sql.ErrNoRows) {
		if kind == kindSoak {
			return "", errNotYet
		}
		return "", errNoRecord
	}
	return recordKey(append([]any{own}, key[1:]...)...), err
}

// value gives a column the value that it had there.
func (w backward) value(ctx context.Context, in asker, column string, value any, key []any) (any, error) {
	const number = `SELECT number FROM other_record WHERE book = ? AND kind = ? AND own = ?`
	const asset = `SELECT asset FROM other_unit WHERE book = ? AND own = ?`
	var there int64
	switch column {
	case "id":
		return key[0], nil
	case "soak", "final":
		if w.link.Kind == "excursion" {
			return key[0], nil
		}
		err := in.QueryRowContext(ctx, number, w.book, column, value).Scan(&there)
		return there, err
	case "unit":
		var name string
		err := in.QueryRowContext(ctx, asset, w.book, value).Scan(&name)
		return name, err
	}
	return value, nil
}
