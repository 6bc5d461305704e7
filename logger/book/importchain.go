package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// importedLink is a record that was taken over, by its keys there and here.
type importedLink struct {
	kind, theirs, own string
	position          int64
	origin            string
}

type importedLinks []importedLink

// chain chains what was taken over anew, in the order of the other book's chain.
func (m *bookImport) chain(ctx context.Context, tx *sql.Tx, links importedLinks) error {
	for i := range links {
		l := &links[i]
		link, err := linkBy(ctx, m.from.reading, ` WHERE kind = ? AND record = ? AND position <= ? ORDER BY position DESC LIMIT 1`,
			l.kind, l.theirs, m.upTo.chain.Position)
		if err != nil {
			return m.from.fail("read the chain", err)
		}
		l.position, l.origin = link.Position, m.origin(link)
	}
	slices.SortFunc(links, func(a, b importedLink) int { return compareInt(a.position, b.position) })
	for _, l := range links {
		if err := chain(ctx, tx, m.into.now(), l.kind, l.own, l.origin); err != nil {
			return err
		}
	}
	return nil
}

// origin says where a record was chained first: the identity of that book, and
// position and hash of the link there.
func (m *bookImport) origin(link ChainLink) string {
	if strings.Contains(link.Origin, ":") {
		return link.Origin // it came to that book from another one
	}
	return fmt.Sprintf("%s %d:%s", m.done.Identity, link.Position, link.Hash)
}

// linksAtOnce is how many links are kept with one commit.
const linksAtOnce = 1000

// links keeps the other book's chain, and those of the books that it had taken over
// itself.
func (m *bookImport) links(ctx context.Context) error {
	const theirs = selectLink + ` WHERE position > ? AND position <= ? ORDER BY position LIMIT ?`
	before, err := m.into.newestOther(ctx, m.number)
	if err != nil {
		return err
	}
	for after := before.Position; after < m.upTo.chain.Position; {
		page, err := collect(ctx, m.from, "read the chain", theirs, []any{after, m.upTo.chain.Position, linksAtOnce}, scanLinkRow)
		if err != nil || len(page) == 0 {
			return err
		}
		if err := m.keepLinks(ctx, m.number, page); err != nil {
			return err
		}
		after = page[len(page)-1].Position
	}
	return m.othersOfTheirs(ctx)
}

func scanLinkRow(rows *sql.Rows) (ChainLink, error) { return scanLink(rows.Scan) }

func (m *bookImport) keepLinks(ctx context.Context, book int64, links []ChainLink) error {
	const insert = `INSERT INTO other_link (book, position, at_us, kind, record, origin, digest, hash) VALUES (?, ?, ?, ?, ?, ?, ?, ?)`
	return m.into.write(ctx, m.doing, func(tx *sql.Tx) error {
		statement, err := tx.PrepareContext(ctx, insert)
		if err != nil {
			return err
		}
		for _, l := range links {
			if _, err := statement.ExecContext(ctx, book, l.Position, l.At.UnixMicro(), l.Kind, l.Record, l.Origin, l.Digest, l.Hash); err != nil {
				return err
			}
		}
		m.done.Links += int64(len(links))
		return nil
	})
}

// othersOfTheirs takes over what the other book knows of books that it had taken over:
// this one goes without saying.
func (m *bookImport) othersOfTheirs(ctx context.Context) error {
	all, err := m.from.OtherBooks(ctx)
	if err != nil {
		return err
	}
	own, err := m.into.Identity(ctx)
	if err != nil {
		return err
	}
	for _, other := range all {
		if other.Identity == own {
			continue
		}
		if err := m.otherOfTheirs(ctx, other); err != nil {
			return fmt.Errorf("the %v in it: %w", other, err)
		}
	}
	return nil
}

func (m *bookImport) otherOfTheirs(ctx context.Context, other OtherBook) error {
	const links = selectOtherLink + ` AND position > ? ORDER BY position LIMIT ?`
	number, err := m.meetOther(ctx, other)
	if err != nil {
		return err
	}
	newest, err := m.into.newestOther(ctx, number)
	if err != nil {
		return err
	}
	if newest.Position > 0 {
		same, err := m.from.OtherChainAt(ctx, other, newest.Position)
		if err == nil && same.Hash != newest.Hash {
			return m.from.refuse("compare chains", ErrDamaged, "link %d is %s in it and %s here", newest.Position, same.ShortHash(), newest.ShortHash())
		}
		if err != nil && !errors.Is(err, ErrNotFound) { // it may have less of it than this one
			return err
		}
	}
	for after := newest.Position; ; {
		page, err := collect(ctx, m.from, "read the chain", links, []any{other.number, after, linksAtOnce}, scanLinkRow)
		if err != nil || len(page) == 0 {
			return err
		}
		if err := m.keepLinks(ctx, number, page); err != nil {
			return err
		}
		after = page[len(page)-1].Position
	}
}

// meetOther notes a book that the other book had taken over, with the numbers that its
// units and records have here.
func (m *bookImport) meetOther(ctx context.Context, other OtherBook) (number int64, err error) {
	const meet = `INSERT INTO other_book (identity, benches, at_us) VALUES (?, ?, ?)
		ON CONFLICT (identity) DO UPDATE SET identity = excluded.identity RETURNING id`
	const unit = `INSERT INTO other_unit (book, asset, own) SELECT ?, ?, own FROM other_unit WHERE book = ? AND asset = ? ON CONFLICT DO NOTHING`
	const record = `INSERT INTO other_record (book, kind, number, own, native) SELECT ?, kind, ?, own, ? FROM other_record WHERE book = ? AND kind = ? AND number = ? ON CONFLICT DO NOTHING`
	err = m.into.write(ctx, m.doing, func(tx *sql.Tx) error {
		if err := tx.QueryRowContext(ctx, meet, other.Identity, other.Benches, m.into.now().UnixMicro()).Scan(&number); err != nil {
			return err
		}
		err := m.eachRow(ctx, `SELECT asset, own FROM other_unit WHERE book = ?`, []any{other.number}, func(r row) error {
			_, err := tx.ExecContext(ctx, unit, number, r.values[0], m.number, r.values[1])
			return err
		})
		if err != nil {
			return err
		}
		return m.eachRow(ctx, `SELECT kind, number, own, native FROM other_record WHERE book = ?`, []any{other.number}, func(r row) error {
			_, err := tx.ExecContext(ctx, record, number, r.values[1], r.values[3], m.number, r.values[0], r.values[2])
			return err
		})
	})
	return number, err
}

// verify holds what is here against the chains that were taken over.
func (m *bookImport) verify(ctx context.Context) error {
	c := &checker{book: m.into}
	if err := c.otherChains(ctx); err != nil || len(c.problems) == 0 {
		return err
	}
	return &Error{Path: m.into.path, Doing: "verify what was imported", Kind: ErrDamaged, Detail: fmt.Sprintf("%v (%d problems in all)", c.problems[0], len(c.problems)),
		Hint: "a record of that book is in this one too, and differs; soakline book check names them all"}
}
