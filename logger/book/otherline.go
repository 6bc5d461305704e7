package book

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// Kinds of lines that are no readings.
const (
	excursionLine = "excursion"
	verdictLine   = "verdict"
)

// otherLine is an excursion or a verdict as a line of another book tells of it.
type otherLine struct {
	kind string
	tag  Tag
	// at is nanoseconds since 1970.
	at   int64
	text string
	// state and lasting are of excursions.
	state   string
	lasting bool
}

// ownRecord tells whether a line l is about an excursion or a verdict of this book,
// which knows more of it than the line.
const ownRecord = `(l.kind = 'excursion' AND EXISTS (SELECT 1 FROM soak JOIN excursion AS e ON e.soak = soak.id
		WHERE soak.unit = l.unit AND soak.bench = l.bench AND e.test_point = l.test_point AND e.measure = l.measure
		AND e.from_us = l.at_ns / 1000 AND e.state = l.state)
	OR l.kind = 'verdict' AND EXISTS (SELECT 1 FROM soak JOIN verdict AS v ON v.soak = soak.id
		WHERE soak.unit = l.unit AND soak.bench = l.bench AND v.at_us = l.at_ns / 1000)
	OR l.kind = 'verdict' AND EXISTS (SELECT 1 FROM final_test JOIN final_verdict AS v ON v.final = final_test.id
		WHERE final_test.unit = l.unit AND final_test.bench = l.bench AND v.at_us = l.at_ns / 1000))`

// write puts a line into the book, unless it is there, is about a record of this book,
// or is of an excursion of which the book has the end; kept counts it if it is new.
func (l *otherLine) write(ctx context.Context, tx *sql.Tx, kept *int64) error {
	const insert = `INSERT INTO other_line (at_ns, text, kind, bench, console, unit, test_point, measure, state, lasting)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?) ON CONFLICT DO NOTHING`
	const same = `DELETE FROM other_line AS l WHERE at_ns = ?1 AND kind = 'excursion' AND lasting = 1 AND state = ?2
		AND bench = ?3 AND console = ?4 AND unit = ?5 AND test_point = ?6 AND measure = ?7`
	const older = same + ` AND text <> ?8`
	const needless = `DELETE FROM other_line AS l WHERE at_ns = ?1 AND text = ?2 AND (` + ownRecord + ` OR lasting = 1 AND EXISTS
		(SELECT 1 FROM other_line AS o WHERE o.at_ns = l.at_ns AND o.kind = l.kind AND o.lasting = 0 AND o.state = l.state AND o.bench = l.bench
		AND o.console = l.console AND o.unit = l.unit AND o.test_point = l.test_point AND o.measure = l.measure))`
	t := l.tag
	added, err := changed(tx.ExecContext(ctx, insert, l.at, l.text, l.kind, t.Bench, string(t.Console), string(t.Unit),
		string(t.TestPoint), string(t.Measure), l.state, l.lasting))
	if err != nil || added == 0 {
		return err
	}
	gone, err := changed(tx.ExecContext(ctx, needless, l.at, l.text))
	if err != nil || gone > 0 {
		return err
	}
	*kept++
	if l.kind != excursionLine {
		return nil
	}
	_, err = tx.ExecContext(ctx, older, l.at, l.state, t.Bench, string(t.Console), string(t.Unit), string(t.TestPoint), string(t.Measure), l.text)
	return err
}

// changed is how many rows a statement changed.
func changed(result sql.Result, err error) (int64, error) {
	if err != nil {
		return 0, err
	}
	return result.RowsAffected()
}

// other reads the rest of a line that is no reading, and writes it anew: what it says
// is checked on the way, and lines of equal content have one text.
func (s *lineSource) other(kind string) (*otherLine, error) {
	l := &otherLine{kind: kind, lasting: kind == excursionLine}
	if err := s.readTags(&l.tag); err != nil {
		return nil, err
	}
	var err error
	l.text, err = oneLine(func(w *lineWriter) error {
		w.start(kind, l.tag)
		if err := s.fields(l, w); err != nil {
			return err
		}
		at, err := s.time(kind)
		l.at = at.UnixNano()
		return errors.Join(err, w.end(at))
	})
	return l, err
}

// fields hands the fields of a line on.
func (s *lineSource) fields(l *otherLine, to *lineWriter) error {
	for {
		key, value, err := s.decoder.NextField()
		if key == nil || err != nil {
			return err
		}
		switch string(key) {
		case "state":
			l.state, _ = value.Interface().(string)
		case "seconds":
			l.lasting = false
		}
		to.encoder.AddField(string(key), value)
	}
}

// time reads the time of a line.
func (s *lineSource) time(kind string) (time.Time, error) {
	at, err := s.decoder.Time(lineprotocol.Nanosecond, time.Time{})
	if err == nil && at.IsZero() {
		err = errors.New("a " + kind + " needs a time")
	}
	return at, err
}

// otherLines lists the lines that came in from other books and match a filter, with
// times after and up to a moment, in microseconds. What this book has a record of by
// now is not among them.
func (b *Book) otherLines(ctx context.Context, f Filter, after, upTo int64) ([]recordLine, error) {
	const query = `SELECT at_ns, text, kind FROM other_line AS l WHERE at_ns > ? AND at_ns <= ? AND NOT ` + ownRecord + `
		AND (?3 = '' OR bench = ?3) AND (?4 = '' OR console = ?4) AND (?5 = '' OR unit = ?5)
		AND (?6 = '' OR test_point = ?6) AND (?7 = '' OR measure = ?7)`
	if f.Soak != 0 {
		return nil, nil
	}
	args := []any{nanoseconds(after), nanoseconds(upTo), f.Bench, string(f.Console), string(f.Unit), string(f.TestPoint), string(f.Measure)}
	return collect(ctx, b, "list lines of other books", query, args, func(rows *sql.Rows) (recordLine, error) {
		var l recordLine
		err := rows.Scan(&l.at, &l.text, &l.kind)
		return l, err
	})
}

// nanoseconds is the last nanosecond of a microsecond, bounded.
func nanoseconds(us int64) int64 {
	if us >= math.MaxInt64/1000 {
		return math.MaxInt64
	}
	return max(us, math.MinInt64/1000)*1000 + 999
}
