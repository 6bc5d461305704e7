package book

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// chain verifies the chain from its first link to its last, and that the records
// are as their latest links say. The first of its problems is the first broken
// record of the chain.
func (c *checker) chain(ctx context.Context) error { return verifyChain(ctx, c, c.book.reading) }

// verifyChain does so through a connection or within a transaction.
func verifyChain(ctx context.Context, c *checker, in asker) error {
	v := chainVerifier{checker: c, in: in, latest: map[recordName]ChainLink{}}
	if err := v.links(ctx); err != nil {
		return err
	}
	if err := v.records(ctx); err != nil {
		return err
	}
	return v.unchained(ctx)
}

// recordName tells a record from all others.
type recordName struct{ kind, record string }

// String names a record for a person.
func (n recordName) String() string {
	k, err := kindNamed(n.kind)
	if err != nil {
		return n.kind + " " + n.record
	}
	key, err := keyValues(n.record)
	if err != nil || len(key) != len(k.key) {
		return n.kind + " " + n.record
	}
	return fmt.Sprintf(k.place, key...)
}

type chainVerifier struct {
	*checker
	in     asker
	latest map[recordName]ChainLink
}

func (l ChainLink) name() recordName { return recordName{l.Kind, l.Record} }

func (l ChainLink) place() string { return fmt.Sprintf("chain position %d (%s)", l.Position, l.name()) }

// links walks the chain. After a link that does not fit, the walk goes on from what
// that link says of itself, so that one change is one problem.
func (v *chainVerifier) links(ctx context.Context) error {
	rows, err := v.in.QueryContext(ctx, selectLink+` ORDER BY position`)
	if err != nil {
		return err
	}
	defer rows.Close()
	var before ChainLink
	for rows.Next() {
		link, err := scanLink(rows.Scan)
		if err != nil {
			return err
		}
		if err := v.fits(link, before, link.place()); err != nil {
			return err
		}
		v.latest[link.name()] = link
		before = link
	}
	return rows.Err()
}

// fits compares a link with the one before it.
func (c *checker) fits(link, before ChainLink, place string) error {
	hash, err := link.sealed(before.Hash)
	switch {
	case err != nil:
		return err
	case link.Position != before.Position+1:
		c.add(false, place, "the chain breaks here: the link before it is number %d", before.Position)
	case hash != link.Hash:
		c.add(false, place, "the chain breaks here: this link, or the one before it, was changed after it was written")
	}
	return nil
}

// records compares every record with its latest link, in the chain's order.
func (v *chainVerifier) records(ctx context.Context) error {
	links := slices.SortedFunc(maps.Values(v.latest), func(a, b ChainLink) int { return compareInt(a.Position, b.Position) })
	for _, link := range links {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		digest, err := recordDigest(ctx, v.in, link.Kind, link.Record)
		switch {
		case err != nil:
			v.add(false, link.place(), "%v", err)
		case digest != link.Digest:
			v.add(false, link.place(), "the record was changed after it was chained on %s", link.At.Format("2006-01-02 15:04:05Z"))
		}
	}
	return nil
}

// unchained looks for records without a link.
func (v *chainVerifier) unchained(ctx context.Context) error {
	for _, k := range chainedKinds {
		query := "SELECT " + strings.Join(k.key, ", ") + " FROM " + k.from + " ORDER BY " + strings.Join(k.key, ", ") // #nosec G202 -- constants
		records, err := keysOf(ctx, v.in, query, len(k.key))
		if err != nil {
			return err
		}
		for _, record := range records {
			name := recordName{k.name, record}
			if _, known := v.latest[name]; !known {
				v.add(false, name.String(), "it is not in the chain: something else than this program put it here")
			}
		}
	}
	return nil
}
