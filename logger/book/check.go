package book

import (
	"context"
	"database/sql"
	"fmt"
	"math"
)

// Problem is one thing that is wrong with a book.
type Problem struct {
	// Place is where: "block 17 of rail-5v dc-voltage of B8-0147", "file".
	Place string
	// Text says what is wrong.
	Text string
	// Mendable tells whether Repair makes it right without losing anything.
	Mendable bool
}

// String writes the place and what is wrong there.
func (p Problem) String() string { return p.Place + ": " + p.Text }

// checker gathers what is wrong.
type checker struct {
	book     *Book
	problems []Problem
	progress func(done, total int64)
	done     int64
	total    int64
}

func (c *checker) add(mendable bool, place, format string, args ...any) {
	c.problems = append(c.problems, Problem{Place: place, Text: fmt.Sprintf(format, args...), Mendable: mendable})
}

func (c *checker) step() {
	c.done++
	if c.progress != nil {
		c.progress(c.done, max(c.total, c.done))
	}
}

// Check reads the whole book and names all that is wrong with it: pages of the
// file, references between tables, checksums of blocks, their order, counts and
// summaries, the tail, captures, sheets, verdicts, results of final tests, lines of
// other books and the chain. Progress, if not nil, is told how many blocks of how many
// are done. The error is that of a check that could not
// go on. Readings may be added meanwhile.
func (b *Book) Check(ctx context.Context, progress func(done, total int64)) ([]Problem, error) {
	c := &checker{book: b, progress: progress}
	for _, part := range []func(context.Context) error{c.file, c.references, c.blocks, c.overviews, c.thinnings, c.strays, c.tail, c.captures, c.sheets, c.verdicts, c.finals, c.otherLines, c.chain, c.otherChains} {
		err := part(ctx)
		if ctx.Err() != nil {
			return c.problems, b.fail("check", ctx.Err())
		}
		if err != nil {
			c.add(false, "file", "%v", err)
		}
	}
	return c.problems, nil
}

// file has the database look at its pages.
func (c *checker) file(ctx context.Context) error {
	found, err := collect(ctx, c.book, "check", `PRAGMA integrity_check`, nil, func(rows *sql.Rows) (string, error) {
		var text string
		err := rows.Scan(&text)
		return text, err
	})
	for _, text := range found {
		if text != "ok" {
			c.add(false, "file", "%s", text)
		}
	}
	return err
}

// references looks for what refers to something that is not there.
func (c *checker) references(ctx context.Context) error {
	type broken struct {
		table, parent string
		row           sql.NullInt64
	}
	found, err := collect(ctx, c.book, "check", `SELECT "table", rowid, parent FROM pragma_foreign_key_check`, nil, func(rows *sql.Rows) (broken, error) {
		var one broken
		err := rows.Scan(&one.table, &one.row, &one.parent)
		return one, err
	})
	for _, one := range found {
		c.add(false, "table "+one.table, "row %d refers to a %s that is not there", one.row.Int64, one.parent)
	}
	return err
}

// blocks reads every block.
func (c *checker) blocks(ctx context.Context) error {
	all, err := c.book.series(ctx, Filter{})
	if err != nil {
		return err
	}
	if err := c.book.reading.QueryRowContext(ctx, `SELECT count(*) FROM block`).Scan(&c.total); err != nil {
		return err
	}
	var reader blockReader
	for _, s := range all {
		if err := c.series(ctx, s, &reader); err != nil {
			return err
		}
	}
	return nil
}

// checkedBlock is a row of the table block.
type checkedBlock struct {
	blockSummary
	late bool
}

// series reads the blocks of a series in the order in which they were written.
func (c *checker) series(ctx context.Context, s series, reader *blockReader) error {
	const query = `SELECT id, first_us, last_us, count, low, high, sum, late FROM block WHERE series = ? ORDER BY id`
	found, err := collect(ctx, c.book, "check", query, []any{s.id}, func(rows *sql.Rows) (checkedBlock, error) {
		var b checkedBlock
		err := rows.Scan(&b.id, &b.first, &b.last, &b.count, &b.low, &b.high, &b.sum, &b.late)
		return b, err
	})
	reach := int64(math.MinInt64)
	for _, row := range found {
		if err := ctx.Err(); err != nil {
			return err
		}
		place := fmt.Sprintf("block %d of %s %s of %s", row.id, s.tag.TestPoint, s.tag.Measure, s.tag.Unit)
		c.step()
		data, err := c.book.blockData(ctx, row.id)
		if err != nil {
			c.add(false, place, "%v; its %d readings are lost", err, row.count)
			continue
		}
		figures, err := reader.readBlock(nil, s.id, data)
		if err != nil {
			c.add(false, place, "%v; its %d readings are lost", err, row.count)
			continue
		}
		c.block(place, row, figures, reach)
		reach = max(reach, row.last)
	}
	return err
}

// block compares a block with what its row says.
func (c *checker) block(place string, row checkedBlock, figures []figure, reach int64) {
	if !inOrder(figures) {
		c.add(true, place, "its readings are not in time order")
		figures = ordered(figures)
	}
	is := summarize(figures)
	if is != row.summary {
		c.add(true, place, "its summary says %s, its readings are %s", row.summary, is)
	}
	if late := row.first <= reach; late && !row.late {
		c.add(true, place, "it begins at %v, before the end of one written earlier, and is not marked so", fromMicro(row.first))
	}
}

// String writes a summary for a person.
func (s summary) String() string {
	return fmt.Sprintf("%d readings from %v to %v, %v to %v, sum %v", s.count, fromMicro(s.first), fromMicro(s.last), s.low, s.high, s.sum)
}

func inOrder(figures []figure) bool {
	for i := 1; i < len(figures); i++ {
		if figures[i].at < figures[i-1].at {
			return false
		}
	}
	return true
}
