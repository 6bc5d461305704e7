package book

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"time"
)

// ChainLink is one link of the chain of verdicts and excursions.
//
// A link holds the SHA-256 of its record and that of the link before it, so that a
// record which is changed, taken out or put in later no longer fits. Nothing in a
// file keeps somebody from making the whole chain anew; a position and hash that
// were printed elsewhere, as on a certificate, tell that as well.
type ChainLink struct {
	// Position counts from 1 without a hole.
	Position int64
	At       time.Time
	// Kind and Record name the row that the link is about.
	Kind, Record string
	// Origin says where a record was first chained that came from another book:
	// its chain's position and hash there. A chain belongs to one book, and numbers
	// of soaks change on the way, so records that are taken over are chained anew;
	// Origin is part of what is hashed, and the two books can be compared by it.
	Origin string
	// Digest is the SHA-256 of the record's canonical text, Hash that of the link;
	// both in hex.
	Digest, Hash string
}

// ShortHash is as much of the hash as a person compares.
func (l ChainLink) ShortHash() string { return l.Hash[:min(16, len(l.Hash))] }

// sealed returns the hash of a link that follows one with the hash previous.
func (l ChainLink) sealed(previous string) (string, error) {
	text, err := encodePlain(struct {
		Position                                   int64
		At                                         time.Time
		Kind, Record, Origin, Digest, PreviousHash string
	}{l.Position, l.At, l.Kind, l.Record, l.Origin, l.Digest, previous})
	return hashHex(text), err
}

func hashHex(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:])
}

const selectLink = `SELECT position, at_us, kind, record, origin, digest, hash FROM chain`

func scanLink(scan func(...any) error) (ChainLink, error) {
	var l ChainLink
	var at int64
	err := scan(&l.Position, &at, &l.Kind, &l.Record, &l.Origin, &l.Digest, &l.Hash)
	l.At = fromMicro(at)
	return l, err
}

// asker is a transaction or a connection.
type asker interface {
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
}

// linkBy returns the first link that a query gives; the zero link if it gives none.
func linkBy(ctx context.Context, in asker, rest string, args ...any) (ChainLink, error) {
	link, err := scanLink(in.QueryRowContext(ctx, selectLink+rest, args...).Scan)
	if errors.Is(err, sql.ErrNoRows) {
		return ChainLink{}, nil
	}
	return link, err
}

// chain appends a link for a record as it is now, in the transaction that wrote it.
// A record that is as its latest link says gets none.
func chain(ctx context.Context, tx *sql.Tx, at time.Time, kind, record, origin string) error {
	const insert = `INSERT INTO chain (position, at_us, kind, record, origin, digest, hash) VALUES (?, ?, ?, ?, ?, ?, ?)`
	digest, err := recordDigest(ctx, tx, kind, record)
	if err != nil {
		return fmt.Errorf("chain %s %s: %w", kind, record, err)
	}
	latest, err := linkBy(ctx, tx, ` WHERE kind = ? AND record = ? ORDER BY position DESC LIMIT 1`, kind, record)
	if err != nil || latest.Digest == digest {
		return err
	}
	head, err := linkBy(ctx, tx, ` ORDER BY position DESC LIMIT 1`)
	if err != nil {
		return err
	}
	link := ChainLink{Position: head.Position + 1, At: micro(at), Kind: kind, Record: record, Origin: origin, Digest: digest}
	if link.Hash, err = link.sealed(head.Hash); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, insert, link.Position, link.At.UnixMicro(), kind, record, origin, digest, link.Hash)
	return err
}

// ChainHead returns the newest link; ErrNotFound while there is none.
func (b *Book) ChainHead(ctx context.Context) (ChainLink, error) {
	return b.link(ctx, "read the chain", "nothing is chained yet", ` ORDER BY position DESC LIMIT 1`)
}

// ChainAt returns the link at a position; ErrNotFound if the chain is not that long.
func (b *Book) ChainAt(ctx context.Context, position int64) (ChainLink, error) {
	return b.link(ctx, "read the chain", fmt.Sprintf("position %d of the chain", position), ` WHERE position = ?`, position)
}

// VerdictLink returns the link of the latest verdict on a soak.
func (b *Book) VerdictLink(ctx context.Context, id SoakID) (ChainLink, error) {
	return b.link(ctx, "read the chain", fmt.Sprintf("link of a verdict on soak %d", id),
		` WHERE kind = 'verdict' AND record = (SELECT '[' || max(id) || ']' FROM verdict WHERE soak = ?) ORDER BY position DESC LIMIT 1`, int64(id))
}

func (b *Book) link(ctx context.Context, doing, what, rest string, args ...any) (ChainLink, error) {
	link, err := linkBy(ctx, b.reading, rest, args...)
	if err == nil && link.Position == 0 {
		return link, b.refuse(doing, ErrNotFound, "%s", what)
	}
	return link, b.fail(doing, err)
}
