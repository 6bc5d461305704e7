package book

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"soakline/checks"
)

// strays looks for blocks that no row tells of.
func (c *checker) strays(ctx context.Context) error {
	const query = `SELECT id FROM block_data WHERE id NOT IN (SELECT id FROM block)`
	found, err := collect(ctx, c.book, "check", query, nil, scanInt)
	for _, id := range found {
		c.add(true, fmt.Sprintf("block %d", id), "no row of the table of blocks tells of it")
	}
	if err != nil {
		return err
	}
	found, err = collect(ctx, c.book, "check", `SELECT id FROM block GROUP BY id HAVING count(*) > 1`, nil, scanInt)
	for _, id := range found {
		c.add(true, fmt.Sprintf("block %d", id), "more than one row of the table of blocks tells of it")
	}
	return err
}

func scanInt(rows *sql.Rows) (n int64, err error) {
	err = rows.Scan(&n)
	return n, err
}

// tail reads the readings that are in no block.
func (c *checker) tail(ctx context.Context) error {
	all, err := c.book.series(ctx, Filter{})
	if err != nil {
		return err
	}
	known := make(map[int64]bool)
	for _, s := range all {
		known[s.id] = true
	}
	var reader blockReader
	_, err = collect(ctx, c.book, "check", `SELECT id, data FROM tail ORDER BY id`, nil, func(rows *sql.Rows) (none struct{}, err error) {
		var id int64
		var data []byte
		if err := rows.Scan(&id, &data); err != nil {
			return none, err
		}
		place := fmt.Sprintf("tail row %d", id)
		err = reader.readTail(data, nil, func(s section) {
			if !known[s.series] {
				c.add(true, place, "%d readings of a series %d that is not there", len(s.figures), s.series)
			}
		})
		if err != nil {
			c.add(false, place, "%v; its readings are lost", err)
		}
		return none, nil
	})
	return err
}

// captures unpacks every capture.
func (c *checker) captures(ctx context.Context) error {
	found, err := collect(ctx, c.book, "check", `SELECT id FROM capture ORDER BY id`, nil, scanInt)
	for _, id := range found {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		if _, err := c.book.Capture(ctx, CaptureID(id)); err != nil {
			c.add(false, fmt.Sprintf("capture %d", id), "%v", err)
		}
	}
	return err
}

// sheets compares the texts of sheets with their hashes.
func (c *checker) sheets(ctx context.Context) error {
	_, err := collect(ctx, c.book, "check", `SELECT hash, name, text FROM sheet`, nil, func(rows *sql.Rows) (none struct{}, err error) {
		var hash, name string
		var text []byte
		if err := rows.Scan(&hash, &name, &text); err != nil {
			return none, err
		}
		if is := HashSheet(text); is != hash {
			c.add(false, "sheet "+name, "its text has the hash %s, not %s: verdicts by it cannot be given again", is, hash)
		}
		return none, nil
	})
	return err
}

// verdicts decodes every verdict.
func (c *checker) verdicts(ctx context.Context) error {
	_, err := collect(ctx, c.book, "check", `SELECT id, soak, whole FROM verdict`, nil, func(rows *sql.Rows) (none struct{}, err error) {
		var id, soak int64
		var whole []byte
		if err := rows.Scan(&id, &soak, &whole); err != nil {
			return none, err
		}
		if _, err := DecodeVerdict(whole); err != nil {
			c.add(false, fmt.Sprintf("verdict %d on soak %d", id, soak), "%v", err)
		}
		return none, nil
	})
	return err
}

// finals decodes every result and verdict of final tests.
func (c *checker) finals(ctx context.Context) error {
	for _, part := range []struct {
		what, query string
		decode      func([]byte) error
	}{
		{"step %[2]d of final test %[1]d", `SELECT final, n, whole FROM final_step`, func(text []byte) error { return decodePlain(text, &checks.StepResult{}) }},
		{"verdict %[2]d on final test %[1]d", `SELECT final, id, whole FROM final_verdict`, func(text []byte) error { return decodePlain(text, &checks.FinalVerdict{}) }},
	} {
		_, err := collect(ctx, c.book, "check", part.query, nil, func(rows *sql.Rows) (none struct{}, err error) {
			var final, number int64
			var whole []byte
			if err := rows.Scan(&final, &number, &whole); err != nil {
				return none, err
			}
			if err := part.decode(whole); err != nil {
				c.add(false, fmt.Sprintf(part.what, final, number), "from JSON: %v", err)
			}
			return none, nil
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// otherLines reads the lines of other books as an import does.
func (c *checker) otherLines(ctx context.Context) error {
	_, err := collect(ctx, c.book, "check", `SELECT at_ns, text FROM other_line`, nil, func(rows *sql.Rows) (none struct{}, err error) {
		var at int64
		var text string
		if err := rows.Scan(&at, &text); err != nil {
			return none, err
		}
		one, err := newLineSource(strings.NewReader(text)).next()
		if err == nil && (one.other == nil || one.other.at != at || one.other.text != text) {
			err = errors.New("it is not what an import keeps")
		}
		if err != nil {
			c.add(false, fmt.Sprintf("line of another book at %v", time.Unix(0, at).UTC()), "%v", err)
		}
		return none, nil
	})
	return err
}

// overviews compares what overviews say of blocks with the table of blocks.
func (c *checker) overviews(ctx context.Context) error {
	const query = `SELECT series, first_us, data FROM overview ORDER BY series, first_us`
	const told = `SELECT id, first_us, last_us, count, low, high, sum FROM block
		WHERE series = ? AND late = 0 AND first_us >= ? ORDER BY first_us LIMIT ?`
	type row struct {
		series, first int64
		data          []byte
	}
	found, err := collect(ctx, c.book, "check", query, nil, func(rows *sql.Rows) (r row, err error) {
		err = rows.Scan(&r.series, &r.first, &r.data)
		return r, err
	})
	if err != nil {
		return err
	}
	for _, r := range found {
		var says []blockSummary
		place := fmt.Sprintf("overview of series %d from %v", r.series, fromMicro(r.first))
		err := readOverview(r.data, func(s blockSummary) error { says = append(says, s); return nil })
		if err != nil {
			c.add(true, place, "%v", err)
			continue
		}
		are, err := collect(ctx, c.book, "check", told, []any{r.series, r.first, len(says)}, scanSummary)
		if err != nil {
			return err
		}
		if !slices.Equal(says, are) {
			c.add(true, place, "it does not say what the table of blocks says")
		}
	}
	return nil
}
