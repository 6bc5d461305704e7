package book

import (
	"cmp"
	"context"
	"database/sql"

	"soakline/checks"
	"soakline/device"
)

// Tag says where a reading comes from and what it is. Each distinct tag is one
// series. Tags are comparable.
type Tag struct {
	Bench      string
	Console    checks.ConsoleName
	Unit       checks.UnitID
	TestPoint  checks.TestPointName
	Instrument string
	Measure    device.Measure
}

// Compare orders tags by unit, test point, measure, instrument, bench, console.
// It breaks the tie between readings of the same microsecond, so their order does
// not depend on the order in which series came into the book.
func (t Tag) Compare(other Tag) int {
	return cmp.Or(
		cmp.Compare(t.Unit, other.Unit), cmp.Compare(t.TestPoint, other.TestPoint),
		cmp.Compare(t.Measure, other.Measure), cmp.Compare(t.Instrument, other.Instrument),
		cmp.Compare(t.Bench, other.Bench), cmp.Compare(t.Console, other.Console),
	)
}

// series is a tag with its number in the book.
type series struct {
	id  int64
	tag Tag
}

// seriesID returns the number of a tag's series, making one if there is none.
func seriesID(ctx context.Context, tx *sql.Tx, t Tag) (int64, error) {
	const insert = `INSERT INTO series (bench, console, unit, test_point, instrument, measure)
		VALUES (?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`
	const find = `SELECT id FROM series WHERE bench = ? AND console = ? AND unit = ?
		AND test_point = ? AND instrument = ? AND measure = ?`
	values := []any{t.Bench, string(t.Console), string(t.Unit), string(t.TestPoint), t.Instrument, string(t.Measure)}
	if _, err := tx.ExecContext(ctx, insert, values...); err != nil {
		return 0, err
	}
	var id int64
	err := tx.QueryRowContext(ctx, find, values...).Scan(&id)
	return id, err
}

// Tags lists the tags of the series that match a filter (its times and soak's
// interval aside), in the order of Compare.
func (b *Book) Tags(ctx context.Context, filter Filter) ([]Tag, error) {
	found, err := b.series(ctx, filter)
	if err != nil {
		return nil, err
	}
	tags := make([]Tag, len(found))
	for i, s := range found {
		tags[i] = s.tag
	}
	return tags, nil
}
