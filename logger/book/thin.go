package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// Thin says which readings are replaced by envelopes.
type Thin struct {
	// OlderThan is how long ago a soak must have ended.
	OlderThan time.Duration
	// KeepAround is how far around excursions, rounds and final tests every reading
	// is kept; 0 means 10 minutes.
	KeepAround time.Duration
	// Step is the interval of which low, high, mean and count stay; 0 means a minute.
	Step time.Duration
}

// Thinning is what was done to a soak.
type Thinning struct {
	Soak                        SoakID
	At                          time.Time
	OlderThan, KeepAround, Step time.Duration
	Readings                    int64
}

const (
	defaultKeepAround = 10 * time.Minute
	defaultThinStep   = time.Minute
)

// Thin replaces readings of soaks that ended long ago and have their verdict by
// envelopes, block by block, and notes that in the book; it returns what it did. A
// block stays if any of its readings is not of the soak, or near an excursion, a
// round or a final test of the unit, or has not gone to every target of shipping.
// A soak is thinned once. The verdict stays as it was given.
func (b *Book) Thin(ctx context.Context, how Thin) ([]Thinning, error) {
	const old = `SELECT id FROM soak WHERE state <> 'running' AND end_us <= ? AND id NOT IN (SELECT soak FROM thinning)
		AND EXISTS (SELECT 1 FROM verdict WHERE verdict.soak = soak.id) ORDER BY id`
	if how.OlderThan < 0 || how.KeepAround < 0 || how.Step < 0 {
		return nil, b.refuse("thin", ErrInvalid, "no length of time may be below 0")
	}
	if how.KeepAround == 0 {
		how.KeepAround = defaultKeepAround
	}
	if how.Step == 0 {
		how.Step = defaultThinStep
	}
	ids, err := collect(ctx, b, "list old soaks", old, []any{b.now().Add(-how.OlderThan).UnixMicro()}, scanInt)
	var all []Thinning
	for _, id := range ids {
		done, err := b.thinSoak(ctx, SoakID(id), how)
		if err != nil {
			return all, err
		}
		all = append(all, done)
	}
	return all, err
}

// thinSoak thins one soak, a transaction for each series so that whoever writes
// readings meanwhile does not wait long, and notes it with the last of them.
func (b *Book) thinSoak(ctx context.Context, id SoakID, how Thin) (Thinning, error) {
	done := Thinning{Soak: id, At: b.now(), OlderThan: how.OlderThan, KeepAround: how.KeepAround, Step: how.Step}
	doing := fmt.Sprintf("thin soak %d", id)
	soak, err := b.Soak(ctx, id)
	if err != nil {
		return done, err
	}
	found, within, err := b.scope(ctx, Filter{Soak: id})
	if err != nil {
		return done, err
	}
	kept, err := b.keptSpans(ctx, soak, how.KeepAround.Microseconds())
	if err != nil {
		return done, b.fail(doing, err)
	}
	// The note is there before the first block goes: a soak of which some readings are
	// gone always says so. What a break leaves over stays as it is.
	if err := b.noteThinning(ctx, doing, done); err != nil {
		return done, err
	}
	for _, s := range found {
		t := thinner{series: s, within: within, kept: kept, step: how.Step.Microseconds()}
		err := b.write(ctx, doing, func(tx *sql.Tx) error { return t.run(ctx, tx, id) })
		if err != nil {
			return done, err
		}
		done.Readings += t.readings
	}
	return done, nil
}

func (b *Book) noteThinning(ctx context.Context, doing string, t Thinning) error {
	const insert = `INSERT INTO thinning (soak, at_us, older_us, kept_us, step_us, readings) VALUES (?, ?, ?, ?, ?, 0)`
	return b.write(ctx, doing, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, insert, int64(t.Soak), t.At.UnixMicro(), t.OlderThan.Microseconds(), t.KeepAround.Microseconds(), t.Step.Microseconds())
		return err
	})
}

// keptSpans lists the times of a soak of which every reading stays.
func (b *Book) keptSpans(ctx context.Context, soak Soak, around int64) ([]span, error) {
	const query = `SELECT from_us, coalesce(to_us, ?3) FROM excursion WHERE soak = ?1
		UNION ALL SELECT begin_us, coalesce(end_us, ?3) FROM round WHERE unit = ?2 AND begin_us <= ?3
		UNION ALL SELECT begin_us, coalesce(end_us, ?3) FROM final_test WHERE unit = ?2 AND begin_us <= ?3`
	args := []any{int64(soak.ID), string(soak.Unit), soak.End.UnixMicro() + around}
	return collect(ctx, b, "list what is kept", query, args, func(rows *sql.Rows) (span, error) {
		var s span
		err := rows.Scan(&s.from, &s.until)
		return span{s.from - around, s.until + around}, err
	})
}

// thinner thins one series of a soak.
type thinner struct {
	series   series
	within   span
	kept     []span
	step     int64
	readings int64
}

func (t *thinner) run(ctx context.Context, tx *sql.Tx, id SoakID) error {
	refs, err := t.refs(ctx, tx)
	if err != nil || len(refs) == 0 {
		return err
	}
	var reader blockReader
	for _, ref := range refs {
		if err := t.block(ctx, tx, &reader, ref); err != nil {
			return err
		}
	}
	// Overviews are a row of blocks without a hole: from the first that is gone on they
	// are made anew.
	if _, err := tx.ExecContext(ctx, `DELETE FROM overview WHERE series = ? AND until_us >= ?`, t.series.id, refs[0].first); err != nil {
		return err
	}
	if _, err := overview(ctx, tx, t.series.id); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `UPDATE thinning SET readings = readings + ? WHERE soak = ?`, t.readings, int64(id))
	return err
}

// refs lists the blocks that may go. The newest of the book stays, so that no other
// block gets its number.
func (t *thinner) refs(ctx context.Context, tx *sql.Tx) ([]blockRef, error) {
	const query = `SELECT id, first_us, last_us FROM block WHERE series = ?1 AND first_us >= ?2 AND last_us < ?3 AND first_us < ?3
		AND id < (SELECT max(id) FROM block_data)
		AND NOT EXISTS (SELECT 1 FROM ship_target LEFT JOIN ship_place ON target = name AND ship_place.series = ?1
			WHERE ship_place.block IS NULL OR ship_place.block < block.id)
		ORDER BY first_us`
	rows, err := tx.QueryContext(ctx, query, t.series.id, t.within.from, t.within.until)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	var refs []blockRef
	for rows.Next() {
		ref, err := scanRef(rows)
		if err != nil {
			return nil, err
		}
		if !t.isKept(ref) {
			refs = append(refs, ref)
		}
	}
	return refs, rows.Err()
}

func (t *thinner) isKept(ref blockRef) bool {
	for _, s := range t.kept {
		if ref.last >= s.from && ref.first <= s.until {
			return true
		}
	}
	return false
}

// block puts envelopes in the place of a block.
func (t *thinner) block(ctx context.Context, tx *sql.Tx, reader *blockReader, ref blockRef) error {
	const insert = `INSERT INTO thinned (series, first_us, id, last_us, count, data) VALUES (?, ?, ?, ?, ?, ?)`
	var data []byte
	if err := tx.QueryRowContext(ctx, `SELECT data FROM block_data WHERE id = ?`, ref.id).Scan(&data); err != nil {
		return missingBlock(ref.id, err)
	}
	figures, err := reader.readBlock(nil, t.series.id, data)
	if err != nil {
		return damagedBlock(t.series.tag, ref.id, err)
	}
	_, err = tx.ExecContext(ctx, insert, t.series.id, ref.first, ref.id, ref.last, len(figures), packThinned(figures, t.step))
	if err != nil {
		return err
	}
	t.readings += int64(len(figures))
	_, errRow := tx.ExecContext(ctx, `DELETE FROM block WHERE series = ? AND first_us = ? AND id = ?`, t.series.id, ref.first, ref.id)
	_, errData := tx.ExecContext(ctx, `DELETE FROM block_data WHERE id = ?`, ref.id)
	return errors.Join(errRow, errData)
}
