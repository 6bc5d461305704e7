package ship

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"soakline/logger/book"
)

// deliver sends the parcel in hand; false when it has to be sent again later. Lines
// that the engine will never take are set aside.
func (c *carrier) deliver(ctx context.Context) bool {
	d := &delivery{carrier: c}
	a := d.offer(ctx, linesOf(c.parcel))
	switch {
	case a.verdict == taken:
	case ctx.Err() != nil:
		return false
	default:
		c.fail(time.Now(), a.err, a.after)
		if errors.Is(a.err, errNothingTaken) { // with what comes later some line may do
			c.parcel, c.underway = book.Parcel{}, nil
			c.out.Rewind()
		}
		return false
	}
	if len(d.aside) > 0 {
		if err := c.book.PutRefused(ctx, c.target.Name, d.aside); err != nil {
			c.fail(time.Now(), err, 0)
			return false
		}
		c.log.Warn("lines were refused and set aside", "lines", len(d.aside), "reason", d.aside[0].Reason)
		c.note(func(s *Status) { s.Refused += int64(len(d.aside)) })
	}
	return true
}

// delivery is one attempt to deliver a parcel.
type delivery struct {
	*carrier
	aside  []book.RefusedLine
	sorted bool
}

// offer sends lines; where some are refused, the halves by themselves, down to the
// single line, so that one that is wrong does not keep the others.
func (d *delivery) offer(ctx context.Context, lines [][]byte) answer {
	a := d.poster.post(ctx, bytes.Join(lines, nil))
	switch a.verdict {
	case taken:
		d.everTaken = true
		d.connected(a)
		return a
	case refused:
		return d.refused(ctx, lines, a)
	case tooLarge:
		if len(lines) > 1 {
			d.shrink(len(lines) / 2)
			return d.halves(ctx, lines)
		}
		d.setAside(lines[0], a.err)
		return answer{verdict: taken}
	}
	return a
}

// refused finds the lines that are wrong. Those of one series are put together
// first: mostly all of them are, or none.
func (d *delivery) refused(ctx context.Context, lines [][]byte, a answer) answer {
	if !d.everTaken {
		if b := d.probe(ctx, lines, a); b.verdict != taken {
			return b
		}
	}
	if len(lines) == 1 {
		d.setAside(lines[0], a.err)
		return answer{verdict: taken}
	}
	if !d.sorted {
		d.sorted = true
		slices.SortStableFunc(lines, func(a, b []byte) int { return bytes.Compare(seriesOf(a), seriesOf(b)) })
	}
	return d.halves(ctx, lines)
}

func (d *delivery) halves(ctx context.Context, lines [][]byte) answer {
	if a := d.offer(ctx, lines[:len(lines)/2]); a.verdict != taken {
		return a
	}
	return d.offer(ctx, lines[len(lines)/2:])
}

// errNothingTaken says that nothing ever was taken: then the address is wrong rather
// than the lines.
var errNothingTaken = errors.New("it has taken no line yet, and refuses one of every series: is this the address where it takes lines?")

// probe offers a line of each series to an engine that has taken none yet.
func (d *delivery) probe(ctx context.Context, lines [][]byte, first answer) answer {
	tried := map[string]bool{}
	for _, line := range lines {
		if of := string(seriesOf(line)); !tried[of] {
			tried[of] = true
			a := d.poster.post(ctx, line)
			switch a.verdict {
			case taken:
				d.everTaken = true
				d.connected(a)
				return a
			case trouble:
				return a
			}
		}
	}
	return answer{verdict: trouble, err: fmt.Errorf("%w (%w)", errNothingTaken, first.err)}
}

func (d *delivery) setAside(line []byte, why error) {
	d.aside = append(d.aside, book.RefusedLine{Target: d.target.Name, At: time.Now(), Reason: why.Error(), Line: string(bytes.TrimSuffix(line, []byte("\n")))})
}

// shrink makes what goes out at once smaller.
func (c *carrier) shrink(lines int) {
	c.lines = max(1, min(c.lines, lines))
	c.log.Info("the engine wants smaller batches", "lines", c.lines)
	c.note(func(s *Status) { s.BatchLines = c.lines })
}

// linesOf takes a parcel apart.
func linesOf(p book.Parcel) [][]byte {
	lines := make([][]byte, len(p.Ends))
	begin := 0
	for i, end := range p.Ends {
		lines[i], begin = p.Text[begin:end], end
	}
	return lines
}

// seriesOf is a line up to its first space that is not escaped: measurement and
// tags.
func seriesOf(line []byte) []byte {
	for i := 0; i < len(line); i++ {
		switch line[i] {
		case '\\':
			i++
		case ' ':
			return line[:i]
		}
	}
	return line
}
