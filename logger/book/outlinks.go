package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"soakline/checks"
)

// nextLinks gives the excursions and verdicts of the chain's next links. An
// excursion goes out once, when it is over, or with its soak's verdict when it
// lasted to the end: a store that keeps only one value at a time keeps the right
// one.
func (o *Outgoing) nextLinks(ctx context.Context, p *Parcel, lines int) error {
	for len(p.Ends) < lines {
		links, err := o.book.linksAfter(ctx, o.chain)
		if err != nil {
			return err
		}
		if len(links) == 0 {
			return nil
		}
		for _, link := range links {
			if len(p.Ends) >= lines {
				break
			}
			if err := o.link(ctx, p, link); err != nil {
				return o.book.fail("ship "+link.Kind+" "+link.Record, err)
			}
			o.chain, p.Reached.chain = link.Position, link.Position
		}
	}
	return nil
}

func (b *Book) linksAfter(ctx context.Context, position int64) ([]ChainLink, error) {
	return collect(ctx, b, "ship", selectLink+` WHERE position > ? ORDER BY position LIMIT 64`, []any{position},
		func(rows *sql.Rows) (ChainLink, error) { return scanLink(rows.Scan) })
}

// link gives what one link is about; nothing if it is not there any more.
func (o *Outgoing) link(ctx context.Context, p *Parcel, link ChainLink) error {
	key, err := keyValues(link.Record)
	if err != nil {
		return damage{err}
	}
	switch link.Kind {
	case "excursion":
		found, err := collect(ctx, o.book, "ship", selectExcursion+
			` WHERE soak = ? AND test_point = ? AND measure = ? AND from_us = ? AND state = ?`, key,
			func(rows *sql.Rows) (SoakExcursion, error) { return scanExcursion(rows) })
		if err != nil || len(found) == 0 || found[0].To.IsZero() {
			return err
		}
		return o.excursions(ctx, p, found[0].Soak, []checks.Excursion{found[0].Excursion})
	case "verdict":
		found, err := collect(ctx, o.book, "ship", selectVerdict+` WHERE id = ?`, key, scanVerdict)
		if err != nil || len(found) == 0 {
			return err
		}
		return o.verdict(ctx, p, found[0])
	case finalVerdictKind:
		return o.finalVerdict(ctx, p, key)
	}
	return nil
}

// verdict gives a verdict and before it the excursions that its soak ended in.
func (o *Outgoing) verdict(ctx context.Context, p *Parcel, v SoakVerdict) error {
	all, err := o.book.Excursions(ctx, v.Soak)
	if err != nil {
		return err
	}
	var lasting []checks.Excursion
	for _, e := range all {
		if e.To.IsZero() {
			lasting = append(lasting, e)
		}
	}
	if err := o.excursions(ctx, p, v.Soak, lasting); err != nil {
		return err
	}
	tag, err := o.soakTag(ctx, v.Soak)
	if err != nil {
		return err
	}
	err = o.lines.verdict(tag, v)
	p.end(o)
	return err
}

func (o *Outgoing) excursions(ctx context.Context, p *Parcel, id SoakID, all []checks.Excursion) error {
	tag, err := o.soakTag(ctx, id)
	if err != nil {
		return err
	}
	for _, e := range all {
		if err := o.lines.excursion(tag, e); err != nil {
			return err
		}
		p.end(o)
	}
	return nil
}

func (o *Outgoing) soakTag(ctx context.Context, id SoakID) (Tag, error) {
	soak, err := o.book.Soak(ctx, id)
	if errors.Is(err, ErrNotFound) {
		return Tag{}, damage{fmt.Errorf("soak %d is missing", id)}
	}
	return Tag{Bench: soak.Bench, Console: soak.Console, Unit: soak.Unit}, err
}
