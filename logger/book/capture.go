package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"soakline/checks"
	"soakline/device"
)

// CaptureID numbers captures within a book, from 1.
type CaptureID int64

// CaptureKind says why a capture was kept.
type CaptureKind string

// The kinds of kept captures.
const (
	CaptureRound  CaptureKind = "round"        // part of a round
	CaptureBegin  CaptureKind = "begin"        // at the begin of a soak
	CaptureEnd    CaptureKind = "end"          // at the end of a soak
	CaptureChange CaptureKind = "state-change" // a check changed its state
	CaptureTimed  CaptureKind = "timed"        // every so often, as the sheet says
)

// KeptCapture is a scope record that belongs to a soak or to a round.
type KeptCapture struct {
	ID CaptureID
	// Exactly one of Soak and Round is not 0.
	Soak       SoakID
	Round      RoundID
	TestPoint  checks.TestPointName
	Instrument string
	Kind       CaptureKind
	At         time.Time
	Samples    int
}

// AddCapture keeps a capture, compressed without loss, and returns its number. The
// ID, At and Samples of about are taken from the record.
func (b *Book) AddCapture(ctx context.Context, about KeptCapture, record device.Capture) (CaptureID, error) {
	doing := about.doing()
	if !about.owned() {
		return 0, b.refuse(doing, ErrInvalid, "a capture belongs to a soak or to a round")
	}
	var id int64
	err := b.write(ctx, doing, func(tx *sql.Tx) (err error) {
		id, err = writeCapture(ctx, tx, about, record)
		if isForeign(err) {
			return b.refuse(doing, ErrNotFound, "soak %d or round %d", about.Soak, about.Round)
		}
		return err
	})
	return CaptureID(id), err
}

// PutCapture takes a capture for the next commit; it is compressed there. The
// samples must not be changed afterwards.
func (w *Writer) PutCapture(about KeptCapture, record device.Capture) error {
	if !about.owned() {
		return fmt.Errorf("%s: %w: it belongs to a soak or to a round", about.doing(), ErrInvalid)
	}
	return w.put(about.doing(), func(ctx context.Context, tx *sql.Tx) error {
		_, err := writeCapture(ctx, tx, about, record)
		return err
	})
}

func (c KeptCapture) doing() string { return fmt.Sprintf("keep a capture of %s", c.TestPoint) }

// owned tells whether it belongs to exactly one of a soak and a round.
func (c KeptCapture) owned() bool { return (c.Soak == 0) != (c.Round == 0) }

// writeCapture writes a capture and returns its number.
func writeCapture(ctx context.Context, tx *sql.Tx, about KeptCapture, record device.Capture) (int64, error) {
	const insert = `INSERT INTO capture (soak, round, test_point, instrument, kind, at_us, samples, record)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?)`
	soak := sql.NullInt64{Int64: int64(about.Soak), Valid: about.Soak != 0}
	round := sql.NullInt64{Int64: int64(about.Round), Valid: about.Round != 0}
	result, err := tx.ExecContext(ctx, insert, soak, round, string(about.TestPoint), about.Instrument, string(about.Kind),
		record.At.UnixMicro(), len(record.Volts), packCapture(record))
	if err != nil {
		return 0, err
	}
	return result.LastInsertId()
}

const selectCapture = `SELECT id, soak, round, test_point, instrument, kind, at_us, samples FROM capture`

// SoakCaptures lists the captures of a soak in time order, without their samples.
func (b *Book) SoakCaptures(ctx context.Context, id SoakID) ([]KeptCapture, error) {
	return collect(ctx, b, "list captures", selectCapture+` WHERE soak = ? ORDER BY at_us, id`, []any{int64(id)}, scanCapture)
}

// RoundCaptures lists the captures of a round in time order, without their samples.
func (b *Book) RoundCaptures(ctx context.Context, id RoundID) ([]KeptCapture, error) {
	return collect(ctx, b, "list captures", selectCapture+` WHERE round = ? ORDER BY at_us, id`, []any{int64(id)}, scanCapture)
}

func scanCapture(rows *sql.Rows) (KeptCapture, error) {
	var c KeptCapture
	var soak, round sql.NullInt64
	var at int64
	err := rows.Scan(&c.ID, &soak, &round, &c.TestPoint, &c.Instrument, &c.Kind, &at, &c.Samples)
	c.Soak, c.Round, c.At = SoakID(soak.Int64), RoundID(round.Int64), fromMicro(at)
	return c, err
}

// Capture returns the record of a capture; ErrNotFound if there is none of that
// number, ErrDamaged if it cannot be unpacked.
func (b *Book) Capture(ctx context.Context, id CaptureID) (device.Capture, error) {
	const query = `SELECT at_us, record FROM capture WHERE id = ?`
	doing := fmt.Sprintf("show capture %d", id)
	var at int64
	var packed []byte
	err := b.reading.QueryRowContext(ctx, query, int64(id)).Scan(&at, &packed)
	if errors.Is(err, sql.ErrNoRows) {
		return device.Capture{}, b.refuse(doing, ErrNotFound, "capture %d", id)
	}
	if err != nil {
		return device.Capture{}, b.fail(doing, err)
	}
	record, err := unpackCapture(packed)
	if err != nil {
		return device.Capture{}, b.refuse(doing, ErrDamaged, "%v", err)
	}
	record.At = fromMicro(at)
	return record, nil
}
